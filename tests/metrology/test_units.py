"""Quantities at the door: what is read, what is refused, and that nothing else ever happens."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.metrology.unit_table import UNITS
from calmday.metrology.units import (
    DIMENSIONS,
    QuantityError,
    parse_consumption,
    parse_quantity,
    shown,
)

READ = [
    ("38 psi", "pressure", 38 * 6894.757293168361),
    ("14.2km", "length", 14_200.0),
    ("1 1/2 mi", "length", 1.5 * 1609.344),
    ("1/2 mi", "length", 0.5 * 1609.344),
    ("-1 1/2 in", "length", -1.5 * 0.0254),
    ("5 ft 3 in", "length", 63 * 0.0254),
    ("1e3 kg", "mass", 1000.0),
    ("+.5kg", "mass", 0.5),
    ("11 lb 14.0 oz", "mass", (11 + 14 / 16) * 0.45359237),
    ("2 st 3 lb", "mass", 31 * 0.45359237),
    ("38 min 20 s", "time", 2300.0),
    ("1 h 20 s", "time", 3620.0),
    ("62 degF", "temperature", (62 - 32) * 5 / 9 + 273.15),
    ("-5 °C", "temperature", 268.15),
    ("9 degF", "temperature difference", 5.0),
    ("3 imp gal", "volume", 3 * 4.54609e-3),
    ("3 US gal", "volume", 3 * 3.785411784e-3),
    ("2.25 lbf·ft", "torque", 2.25 * 1.3558179483314004),
    ("836 kg/m³", "density", 836.0),
    ("100 PS", "power", 73_549.875),
    ("4600 1/min", "engine speed", 4600 / 60),
    ("4600 rpm", "engine speed", 4600 / 60),
    ("12 kn", "speed", 12 * 1852 / 3600),
    ("90 deg", "angle", math.pi / 2),
    ("0.1 %", "fraction", 0.001),
    ("2\u00a0kg", "mass", 2.0),
]


@pytest.mark.parametrize(("text", "dimension", "si"), READ)
def test_reads(text: str, dimension: str, si: float) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=1e-12)


REFUSED = [
    ("3 gal", "volume", "which gallon?", "US gal or imp gal"),
    ("1 qt", "volume", "which quart?", "US qt or imp qt"),
    ("2 ton", "mass", "which ton?", "long ton"),
    ("1,5 km", "length", "comma", "1.5 not 1,5"),
    ("1,480 kg", "mass", "comma", "no thousands separator"),
    ("1 480 kg", "mass", "two numbers", "without thousands separator"),
    ("1480", "mass", "no unit", '"16.605 kg"'),
    (1480, "mass", "no unit", '"16.605 kg"'),
    (True, "mass", "not a quantity", "mass"),
    (None, "mass", "not a quantity", "mass"),
    ("", "mass", "nothing", "mass"),
    ("kg", "mass", "does not start with a number", "mass"),
    ("nan kg", "mass", "does not start with a number", "mass"),
    ("inf kg", "mass", "does not start with a number", "mass"),
    ("1e999 kg", "mass", "too large|not a finite|known", "mass"),
    ("11 lb 16 oz", "mass", "16 oz after lb", "less than 16 oz"),
    ("11 lb 14 g", "mass", "more than one number", "mass"),
    ("11.5 lb 3 oz", "mass", "mixes decimals", "whole numbers"),
    ("3 oz 2 lb", "mass", "more than one number", "11 lb 14.0 oz"),
    ("38 psi", "length", "is a pressure, not a length", "14.2 km"),
    ("5 lb", "force", "is a mass, not a force", "650 N"),
    ("5 J", "torque", "not a unit of torque", "N*m"),
    ("12.5 L/100km", "volume", "not a unit of volume", "2.1 L"),
    ("1 3/2 mi", "length", "fraction", '"1 1/2 mi"'),
    ("1/0 mi", "length", "fraction", '"1 1/2 mi"'),
    ("1 acre", "area", "not a unit of area", "m^2"),
    ("½ mi", "length", "characters", "14.2 km"),
    ("5 kg**9999", "mass", "not a unit", "mass"),
    ("5 kg^9*m^-9999", "mass", "not a unit", "mass"),
    ("0.5", "fraction", "no unit", "3 %"),
    ("1 kg" + " " * 100 + "x", "mass", "too long", "mass"),
]


@pytest.mark.parametrize(("text", "dimension", "wrong", "right"), REFUSED)
def test_refuses_and_says_what_would_be_right(text: object, dimension: str, wrong: str, right: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, dimension)
    assert any(part in caught.value.wrong for part in wrong.split("|"))
    assert right in caught.value.right


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("34 mpg US", (34.0, "mpg_us")),
        ("34 mpg imp", (34.0, "mpg_imp")),
        ("6.6 L/100km", (6.6, "L_per_100km")),
        ("6.6 l/100 km", (6.6, "L_per_100km")),
        ("15 km/L", (15.0, "km_per_L")),
        ("66 g/km", (66.0, "g_per_km")),
        ("34 mpg_us", (34.0, "mpg_us")),
    ],
)
def test_reads_consumption(text: str, expected: tuple[float, str]) -> None:
    assert parse_consumption(text) == expected


@pytest.mark.parametrize("text", ["34 mpg", "34", "6,6 L/100km", "-3 g/km", "0 g/km", "1 1/2 g/km", "34 kg", 34, None])
def test_refuses_consumption(text: object) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_consumption(text)
    if text == "34 mpg":
        assert caught.value.right == "mpg US or mpg imp"


@given(st.data(), st.sampled_from(DIMENSIONS), st.floats(-1e9, 1e9, allow_subnormal=False))
def test_what_is_written_is_read_back(data: st.DataObject, dimension: str, value: float) -> None:
    unit = data.draw(st.sampled_from(sorted(UNITS[dimension])))
    factor, offset = UNITS[dimension][unit]
    si = parse_quantity(f"{value!r} {unit}", dimension)
    assert (si - offset) / factor == pytest.approx(value, rel=1e-9, abs=1e-9 * max(1.0, offset / factor))
    if not (unit[0].isdigit() or unit[0] in "eE"):  # "1/min" and the like cannot follow a digit directly
        assert parse_quantity(f"{value!r}{unit}", dimension) == si


@given(st.integers(0, 5000), st.integers(0, 15), st.integers(0, 9))
def test_pounds_and_ounces_add_up(pounds: int, ounces: int, tenths: int) -> None:
    mass = parse_quantity(f"{pounds} lb {ounces}.{tenths} oz", "mass")
    assert mass == pytest.approx((pounds * 16 + ounces + tenths / 10) * 0.028349523125, rel=1e-12)


_PIECES = st.sampled_from(
    [
        "1",
        "2.5",
        "-",
        "+",
        "/",
        "e5",
        ".",
        ",",
        " ",
        "kg",
        "lb",
        "oz",
        "m",
        "^",
        "2",
        "*",
        "gal",
        "mpg",
        "US",
        "km",
        "°C",
        "%",
        "(",
        "__",
        "PS",
    ]
)


@settings(deadline=None)  # the first unit that is not in the table loads the library
@given(st.one_of(st.text(max_size=90), st.lists(_PIECES, max_size=9).map("".join)), st.sampled_from(DIMENSIONS))
def test_garbage_raises_nothing_else(text: str, dimension: str) -> None:
    for parse in (
        lambda: parse_quantity(text, dimension),
        lambda: parse_consumption(text),
    ):
        try:
            parse()
        except QuantityError as e:
            assert e.wrong and e.right and "\n" not in str(e)


@given(st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.binary(), st.lists(st.text()), st.dates()))
def test_other_types_are_refused(value: object) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(value, "mass")


@given(st.text())
def test_shown_is_one_printable_short_line(text: str) -> None:
    assert shown(text).isprintable()
    assert len(shown(text)) <= 62
