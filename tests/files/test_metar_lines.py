"""METAR and SPECI reports, good, odd and broken."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.files.metar_lines import read_metar, relative_humidity

NEAR = dt.date(2026, 4, 12)
KNOT = 1852 / 3600


def test_decodes_wind_and_setting_in_knots_and_hectopascal() -> None:
    # CV-72: LFPN 27010KT, 11/10, Q0995: from 270 deg, 10 kn = 5.1444 m/s, 29.38 inHg (S inputs, a programming
    # puzzle's text), RH 93.6 % (R).
    r, notes = read_metar("LFPN 010830Z 27010KT 9999 11/10 Q0995", NEAR)
    assert (r.wind_from_deg, r.wind_speed_mps) == (270.0, pytest.approx(5.1444, abs=1e-3))
    assert r.qnh_pa is not None and r.qnh_pa / 3386.389 == pytest.approx(29.38, abs=0.01)
    assert r.relative_humidity == pytest.approx(0.936, abs=0.003)
    assert r.pressure_pa is None and r.height_m == 10.0 and notes == ()


def test_decodes_humidity_of_a_warm_report() -> None:
    # CV-73: HUEN 08008KT 26/22 Q1016: RH 78.7 % (S inputs, a weather package's manual; R).
    r, _ = read_metar("HUEN 230700Z 08008KT 9999 26/22 Q1016", NEAR)
    assert r.relative_humidity == pytest.approx(0.787, abs=0.003)
    assert r.temperature_k == pytest.approx(299.15)


def test_magnus_form() -> None:
    assert relative_humidity(293.15, 293.15) == 1.0
    # Saturation pressures 2339.2 Pa at 20 degC and 1228.1 Pa at 10 degC (CIPM-2007 formula, S; R).
    assert relative_humidity(293.15, 283.15) == pytest.approx(1228.1 / 2339.2, rel=2e-3)


@pytest.mark.parametrize(
    ("report", "speed", "bearing", "gust"),
    [
        ("ZZAA 121120Z 34012G19KT 11/04 Q1017", 12 * KNOT, 340.0, 19 * KNOT),
        ("COR ZLLL 101100Z 13010MPS 5000 21/11 Q1014", 10.0, 130.0, None),
        ("EGNX 191250Z VRB03KT 9999 M01/M03 Q0989", 3 * KNOT, None, None),
        ("KLBG 261155Z AUTO 00000KT 10SM CLR 05/00 A3001", 0.0, None, None),
        ("ENBS 121620Z 36008KT 9999 12/11 Q1014", 8 * KNOT, 0.0, None),
        ("METAR ZZAA 121120Z AUTO 24P99KT 11/04 Q1017", None, None, None),
        ("ZZAA 121120Z /////KT 9999 11/04 Q1017", None, None, None),
        ("ZZAA 121120Z 27010 9999 11/04 Q1017", None, None, None),
        ("ZZAA 121120Z 36018KMH 9999 11/04 Q1017", 5.0, 0.0, None),
        ("ZZAA 121120Z 27020G10KT 9999 11/04 Q1017", 20 * KNOT, 270.0, None),
    ],
)
def test_winds(report: str, speed: float | None, bearing: float | None, gust: float | None) -> None:
    r, _ = read_metar(report, NEAR)
    assert r.wind_speed_mps == (None if speed is None else pytest.approx(speed, rel=1e-5))
    assert r.wind_from_deg == bearing
    assert r.gust_mps == (None if gust is None else pytest.approx(gust, rel=1e-5))


def test_minus_temperatures_and_inches_of_mercury() -> None:
    r, _ = read_metar("KCAR 312354Z AUTO 00000KT 10SM CLR M14/M21 A2991", NEAR)
    assert r.temperature_k == pytest.approx(273.15 - 14)
    assert r.qnh_pa == pytest.approx(29.91 * 3386.389, rel=1e-5)


def test_a_group_the_decoder_stumbles_over_does_not_cost_the_rest() -> None:
    r, _ = read_metar("KGYR 072147Z 12006KT 1/0SM FEW100 SCT250 41/14 A2992", NEAR)
    assert r.temperature_k == pytest.approx(314.15)
    assert r.qnh_pa == pytest.approx(29.92 * 3386.389, rel=1e-5)


def test_an_impossible_pressure_is_left_out_and_told() -> None:
    r, notes = read_metar("KSLK 011151Z AUTO 21005KT 14/13 A1013 RMK AO2", NEAR)
    assert r.qnh_pa is None and r.temperature_k is not None
    assert any("343 hPa is not possible" in note for note in notes)


@pytest.mark.parametrize(
    ("near", "day", "expected"),
    [
        (dt.date(2026, 4, 12), 12, dt.date(2026, 4, 12)),
        (dt.date(2026, 5, 1), 30, dt.date(2026, 4, 30)),
        (dt.date(2026, 4, 30), 1, dt.date(2026, 5, 1)),
        (dt.date(2026, 1, 1), 31, dt.date(2025, 12, 31)),
        (dt.date(2025, 12, 31), 1, dt.date(2026, 1, 1)),
        (dt.date(2028, 3, 1), 29, dt.date(2028, 2, 29)),
        (dt.date(2026, 3, 1), 31, dt.date(2026, 3, 31)),
    ],
)
def test_the_day_falls_in_the_nearest_month(near: dt.date, day: int, expected: dt.date) -> None:
    r, _ = read_metar(f"ZZAA {day:02d}2350Z 34012KT 11/04 Q1017", near)
    assert dt.datetime.fromtimestamp(r.time_s, dt.UTC).date() == expected


@given(st.dates(dt.date(1971, 1, 1), dt.date(2099, 1, 1)), st.integers(-10, 10))
def test_days_around_the_run_are_found(near: dt.date, step: int) -> None:
    date = near + dt.timedelta(days=step)
    r, _ = read_metar(f"ZZAA {date.day:02d}1200Z 34012KT 11/04 Q1017", near)
    assert dt.datetime.fromtimestamp(r.time_s, dt.UTC).date() == date


@pytest.mark.parametrize(
    "report",
    ["", "x", "METAR", "LFPN NIL", "LFPN 010830Z NIL", "KUAO 320053Z 31009KT 05/00 A2980", "a" * 2000],
)
def test_reports_with_nothing_in_them(report: str) -> None:
    with pytest.raises(InputError) as caught:
        read_metar(report, NEAR, file="run.toml", key="weather.metar[0]")
    (fault,) = caught.value.faults
    assert (fault.file, fault.key) == ("run.toml", "weather.metar[0]")
    assert fault.wrong and fault.right


def test_all_collected_reports(shared: Callable[[str], Path]) -> None:
    lines = shared("metar_lines.tsv").read_text(encoding="utf-8").splitlines()[1:]
    assert len(lines) == 115
    refused = []
    for line in lines:
        report = line.split("\t", 1)[1]
        try:
            r, _ = read_metar(report, NEAR)
        except InputError:
            refused.append(report[:22])
            continue
        assert r.wind_speed_mps is not None or r.temperature_k is not None or r.qnh_pa is not None
        assert r.wind_speed_mps is None or 0 <= r.wind_speed_mps < 40
        assert r.temperature_k is None or 200 < r.temperature_k < 320
        assert r.qnh_pa is None or 95_000 < r.qnh_pa < 105_000
        assert r.relative_humidity is None or 0 < r.relative_humidity <= 1
    # Both name a time that does not exist: day 32, minute 66 of hour 61.
    assert refused == ["KUAO 320053Z AUTO 3100", "METAR KMKE 266155Z AUT"]


@given(st.text(max_size=80), st.booleans())
def test_garbage(text: str, headed: bool) -> None:
    try:
        read_metar(("METAR ZZAA 121120Z " if headed else "") + text, NEAR)
    except InputError as e:
        assert "\n" not in str(e)


_GROUPS = (
    *("34012G19KT", "/////KT", "9999", "1/0SM", "////", "11/04", "M01/", "//", "Q1017", "A2992"),
    *("RMK", "T0133", "BECMG", "TEMPO", "99999KT", "Q////", "VRB99KT", "34012"),
)


@given(st.lists(st.sampled_from(_GROUPS), max_size=8))
def test_groups_in_any_order(groups: list[str]) -> None:
    try:
        r, _ = read_metar("METAR ZZAA 121120Z " + " ".join(groups), NEAR)
    except InputError:
        return
    assert (r.wind_speed_mps, r.temperature_k, r.qnh_pa) != (None, None, None)


def test_a_group_that_cannot_be_read_leaves_the_others() -> None:
    r, notes = read_metar("METAR ZZAA 121120Z 99912KT 9999 11/04 Q1017", NEAR)
    assert (r.wind_speed_mps, r.temperature_k, r.qnh_pa) == (None, pytest.approx(284.15), pytest.approx(101_700.0))
    assert any("no usable wind" in note for note in notes)


def test_small_letters() -> None:
    r, _ = read_metar("metar zzaa 121120z 34006g10mps 9999 m01/m04 q0987", NEAR)
    assert (r.wind_speed_mps, r.gust_mps, r.qnh_pa) == (6.0, 10.0, pytest.approx(98_700.0))
