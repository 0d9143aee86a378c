"""The generated table of units against the library it comes from and against the exact definitions."""

from __future__ import annotations

import importlib.util
import math
import subprocess
import sys
from pathlib import Path

import pint
import pytest

from calmday.metrology import unit_table
from calmday.metrology.unit_table import UNITS
from calmday.metrology.units import parse_quantity

SCRIPT = Path(__file__).parents[2] / "scripts/make_unit_table.py"


def _script():  # type: ignore[no-untyped-def]
    spec = importlib.util.spec_from_file_location("make_unit_table", SCRIPT)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_entry_equals_the_units_library() -> None:
    registry = pint.UnitRegistry()
    checked = 0
    for dimension, (si, expressions) in _script().NAMES.items():
        for expression, names in expressions.items():
            one, zero = (registry.Quantity(x, expression).to(si).magnitude for x in (1.0, 0.0))
            for name in names.split("|"):
                factor, offset = UNITS[dimension][name]
                assert offset == pytest.approx(zero, abs=1e-9)
                assert factor == pytest.approx(one - zero, rel=1e-9 if zero == 0 else 1e-12, abs=0)
                checked += 1
    assert checked == sum(len(units) for units in UNITS.values())


def test_table_is_what_the_script_writes() -> None:
    text = Path(unit_table.__file__).read_text(encoding="utf-8")
    written = _script().table_text()
    # The library's own version stands in the heading only.
    assert text.split("UNITS", 1)[1] == written.split("UNITS", 1)[1]


# The exact definitions: NIST Handbook 44 App. C and SP 811 App. B (M); reference sheet 2.5.
INCH, POUND, G = 0.0254, 0.45359237, 9.80665
FOOT = 12 * INCH
EXACT = [
    ("1 in", "length", INCH),
    ("1 ft", "length", FOOT),
    ("1 mi", "length", 1609.344),
    ("1 nmi", "length", 1852.0),
    ("1 kn", "speed", 1852 / 3600),
    ("1 mph", "speed", 0.44704),
    ("1 lb", "mass", POUND),
    ("1 US gal", "volume", 231 * INCH**3),
    ("1 imp gal", "volume", 4.54609e-3),
    ("1 lbf*ft", "torque", POUND * G * FOOT),
    ("1 kgf*m", "torque", G),
    ("1 hp", "power", 550 * FOOT * POUND * G),
    ("1 PS", "power", 75 * G),
    ("1 psi", "pressure", POUND * G / INCH**2),
    ("1 atm", "pressure", 101_325.0),
    ("1 mbar", "pressure", 100.0),
    ("0 degC", "temperature", 273.15),
    ("32 degF", "temperature", 273.15),
    ("212 degF", "temperature", 373.15),
]


@pytest.mark.parametrize(("text", "dimension", "si"), EXACT)
def test_exact_definitions(text: str, dimension: str, si: float) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=4e-16, abs=0)


def test_published_conversions() -> None:
    us, imp = parse_quantity("1 US gal", "volume"), parse_quantity("1 imp gal", "volume")
    mile = parse_quantity("1 mi", "length")
    # CV-43, CV-44, CV-45: recomputed from the definitions (R).
    assert us / mile * 1e8 == pytest.approx(235.214583, abs=1e-6)
    assert imp / mile * 1e8 == pytest.approx(282.480936, abs=1e-6)
    assert imp / us == pytest.approx(1.2009499, abs=1e-7)
    # CV-46: mechanical and metric horsepower in W (R).
    assert parse_quantity("1 hp", "power") == pytest.approx(745.699872, abs=1e-6)
    assert parse_quantity("1 PS", "power") == pytest.approx(735.49875, abs=1e-6)
    # CV-47: lbf ft in N m, psi in Pa (R).
    assert parse_quantity("1 lbf*ft", "torque") == pytest.approx(1.355817948, rel=1e-9)
    assert parse_quantity("1 psi", "pressure") == pytest.approx(6894.757293, rel=1e-9)
    # CV-48: hp = lbf ft x rpm / 5252.1131, kW = N m x rpm / 9549.2966 (R, 33000/2 pi and 60000/2 pi).
    rpm = parse_quantity("1 rpm", "engine speed") * 2 * math.pi
    hp = parse_quantity("1 lbf*ft", "torque") * rpm / parse_quantity("1 hp", "power")
    assert 1 / hp == pytest.approx(5252.1131, abs=1e-4)
    assert 1 / (rpm / parse_quantity("1 kW", "power")) == pytest.approx(9549.2966, abs=1e-4)
    # CV-49: 1 lb/(hp h) in g/kWh; 608.277 (S, an encyclopedia page on specific consumption; R).
    per_kwh = parse_quantity("1 lb", "mass") * 1e3 / (parse_quantity("1 hp", "power") / 1e3)
    assert per_kwh == pytest.approx(608.2774, abs=1e-3)
    # Reference sheet 2.5: inHg in Pa, about 3386.389 (M; R).
    assert parse_quantity("1 inHg", "pressure") == pytest.approx(3386.389, abs=1e-3)


def test_mean_of_economies() -> None:
    # CV-50: 20 and 30 mpg over equal distances make 24.0 mpg, not 25 (arithmetic, R).
    gallon, mile = parse_quantity("1 US gal", "volume"), parse_quantity("1 mi", "length")
    fuel = sum(100 * mile / (economy * mile / gallon) for economy in (20, 30))
    assert 200 * mile / fuel * gallon / mile == pytest.approx(24.0, rel=1e-12)


def test_a_unit_outside_the_table_comes_from_the_library() -> None:
    assert parse_quantity("5 yd^2", "area") == pytest.approx(5 * (3 * FOOT) ** 2, rel=1e-12)
    assert parse_quantity("5 kg*m/s^2", "force") == pytest.approx(5.0, rel=1e-12)


def test_the_table_serves_without_the_units_library() -> None:
    code = (
        "import sys; from calmday.metrology.units import parse_quantity\n"
        "parse_quantity('38 psi', 'pressure')\n"
        "assert 'pint' not in sys.modules and 'numpy' not in sys.modules"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, capture_output=True).returncode == 0
