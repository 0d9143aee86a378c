"""Full-load curves and tyre codes."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.files.full_load_file import read_full_load
from calmday.files.tyre_code import parse_tyre
from calmday.metrology.units import QuantityError


def curve(tmp_path: Path, text: str):  # type: ignore[no-untyped-def]
    path = tmp_path / "curve.csv"
    path.write_bytes(text.encode("utf-8"))
    return read_full_load(path, "curve.csv")


def test_torque_in_any_order(tmp_path: Path) -> None:
    c = curve(tmp_path, "# measured\nspeed_rpm,torque_Nm\n3000,115\n\n1200,128\n1800,140\n")
    assert c.speed_rps == (20.0, 30.0, 50.0)
    assert c.torque_nm == (128, 140, 115)
    assert c.power_w is None and c.source == "curve.csv"


@pytest.mark.parametrize(
    ("header", "value", "torque_nm"),
    [
        ("torque_Nm", 100.0, 100.0),
        ("torque_lbf_ft", 100.0, 135.5817948),
        ("torque_kgf_m", 10.0, 98.0665),
        # P = 2 pi n M at 3000 rpm = 50 rev/s; hp 745.699872 W, PS 735.49875 W (CV-46, R)
        ("power_kW", 31.41592654, 100.0),
        ("power_hp", 40.0, 40 * 745.699872 / (100 * math.pi)),
        ("power_PS", 40.0, 40 * 735.49875 / (100 * math.pi)),
    ],
)
def test_units_of_the_header(tmp_path: Path, header: str, value: float, torque_nm: float) -> None:
    c = curve(tmp_path, f"speed_rpm,{header}\n1500,{value / 2}\n3000,{value}\n")
    assert c.torque_nm[1] == pytest.approx(torque_nm, rel=1e-8)
    assert c.power_w is None


def test_torque_and_power_both_kept_even_where_they_disagree(tmp_path: Path) -> None:
    # Scenario of a chart that disagrees with itself: at 4400 rpm 110 N*m is 50.7 kW, the chart says 54.0.
    c = curve(tmp_path, "speed_rpm,torque_Nm,power_kW\n1500,118,18.5\n4400,110,54.0\n")
    assert c.torque_nm == (118, 110)
    assert c.power_w == pytest.approx((18_500, 54_000))


def test_semicolons_with_decimal_comma_and_byte_order_mark(tmp_path: Path) -> None:
    c = curve(tmp_path, "\ufeffspeed_rpm;torque_Nm\r\n1200;128,5\r\n1800;140\r\n")
    assert c.torque_nm == (128.5, 140)


@pytest.mark.parametrize(
    ("text", "key", "wrong"),
    [
        ("", "file", "no lines"),
        ("speed_rpm,torque_Nm\n", "file", "0 points"),
        ("speed_rpm,torque_Nm\n1000,100\n", "file", "1 points"),
        ("rpm,torque\n1000,100\n2000,100\n", "line 1", "torque or power"),
        ("torque_Nm\n100\n200\n", "line 1", "engine speed"),
        ("speed_rpm,torque_Nm,colour\n1000,100,red\n2000,90,red\n", "line 1", "colour"),
        ("speed_rpm,torque_Nm,torque_lbf_ft\n1000,100,74\n2000,90,66\n", "line 1", "2 columns"),
        ("speed_rpm,torque_Nm\n1000,100\n1000,90\n", "line 3", "a second time"),
        ("speed_rpm,torque_Nm\n1000,100\n2000\n", "line 3", "1 fields"),
        ("speed_rpm,torque_Nm\n1000,100,5\n2000,90\n", "line 2", "3 fields"),
        ("speed_rpm,torque_Nm\n1000,abc\n2000,90\n", "line 2", "not a number"),
        ("speed_rpm,torque_Nm\n1000,nan\n2000,90\n", "line 2", "not a number"),
        ("speed_rpm,torque_Nm\n0,100\n2000,90\n", "line 2", "engine speed"),
        ("speed_rpm,torque_Nm\n1000,1e9\n2000,90\n", "line 2", "torque"),
        ("speed_rpm,power_kW\n1000,1e9\n2000,90\n", "line 2", "torque"),
        ('speed_rpm,torque_Nm\n"1000,100\n2000,90\n', "file", "delimited"),
    ],
)
def test_faults_of_curves(tmp_path: Path, text: str, key: str, wrong: str) -> None:
    with pytest.raises(InputError) as caught:
        curve(tmp_path, text)
    (fault,) = caught.value.faults
    assert (fault.file, fault.key) == ("curve.csv", key)
    assert wrong in fault.wrong


@pytest.mark.parametrize(
    ("code", "width_m", "aspect", "rim_in", "radial"),
    [
        ("195/75 R16", 0.195, 0.75, 16, True),
        ("195/75R16", 0.195, 0.75, 16, True),
        ("LT235/85R16 120/116Q", 0.235, 0.85, 16, True),
        ("P205/55 ZR 16 91W", 0.205, 0.55, 16, True),
        ("195/75 R16C 107/105R", 0.195, 0.75, 16, True),
        ("165 R13", 0.165, 0.82, 13, True),
        ("6.00-16", 6 * 0.0254, 0.95, 16, False),
        ("5.60-15 4PR", 5.6 * 0.0254, 0.95, 15, False),
        ("245/70R19.5", 0.245, 0.70, 19.5, True),
        ("135/70 - 10", 0.135, 0.70, 10, False),
    ],
)
def test_tyre_codes(code: str, width_m: float, aspect: float, rim_in: float, radial: bool) -> None:
    t = parse_tyre(code)
    assert t.section_width_m == pytest.approx(width_m)
    assert (t.aspect_ratio, t.radial, t.code) == (aspect, radial, code)
    assert t.rim_diameter_m == pytest.approx(rim_in * 0.0254)


@pytest.mark.parametrize(
    "code", ["", "fat", "195/75", "R16", "195/755 R16", "195/75 R99", "999/75 R16", 195, None, "1" * 99]
)
def test_tyre_codes_refused(code: object) -> None:
    with pytest.raises(QuantityError):
        parse_tyre(code)


@given(st.text(max_size=70))
def test_tyre_garbage(text: str) -> None:
    try:
        size = parse_tyre(text)
    except QuantityError:
        return
    assert 0.05 < size.section_width_m < 0.5
