"""Dials against invented truth and published rules.

UN R39, 5.3: 0 <= V1 - V2 <= 0.1 V2 + 4 km/h (V1 indicated, V2 true), as quoted on the open web; worked figures of a
press report on it: true 50 gives 50 to 59, 70 gives 81, 90 gives 103, 110 gives 125, 130 gives 147 km/h.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec
import numpy as np
import pytest

from calmday.errors import InputError
from calmday.files.dials_file import read_dials
from calmday.files.tyre_code import parse_tyre
from calmday.operations.dials import check_dials, check_dials_file
from calmday.procedures.dials_result import DialsResult
from calmday.procedures.speedometer import upper_limit_mps
from calmday.records.consumption import GivenConsumption
from calmday.records.declared import Declared
from calmday.records.dials import (
    DialChange,
    Dials,
    FuelGauge,
    GaugeReading,
    OdometerStretch,
    RangeAsked,
    SpeedReading,
)
from calmday.records.vehicle import Vehicle
from calmday.synthetic.dial_truth import invent

KMH = 1 / 3.6
CAR = Vehicle(name="Invented", tyre=parse_tyre("195/75 R16"), final_drive=4.70)


def readings(*pairs: tuple[float, float]) -> tuple[SpeedReading, ...]:
    return tuple(SpeedReading(indicated_mps=a * KMH, true_mps=Declared(b * KMH)) for a, b in pairs)


def codes(result: DialsResult) -> set[str]:
    return {flag.code for flag in result.flags}


@pytest.mark.parametrize(("true", "most"), [(50, 59), (70, 81), (80, 92), (90, 103), (110, 125), (130, 147)])
def test_the_upper_limit_of_un_r39(true: float, most: float):
    assert float(upper_limit_mps(true * KMH)) / KMH == pytest.approx(most)


@pytest.mark.parametrize(
    ("pairs", "verdict"),
    [
        (((50, 46), (80, 74.5), (110, 103)), "within"),
        (((50, 52), (80, 84), (110, 115)), "outside"),
        (((50, 41), (80, 64), (110, 88)), "outside"),
        (((50, 50), (80, 80), (110, 110)), "open"),
    ],
)
def test_the_verdict(pairs: tuple[tuple[float, float], ...], verdict: str):
    result = check_dials(Dials(label="x", vehicle=CAR, speedometer=readings(*pairs)))
    assert result.speedometer is not None
    assert result.speedometer.verdict == verdict
    assert ("dial-shows-too-little" in codes(result)) == (pairs[0][0] < pairs[0][1])


def test_few_and_rough_readings_give_a_wide_answer():
    one = check_dials(Dials(label="x", vehicle=CAR, speedometer=readings((80, 75)))).speedometer
    many = check_dials(Dials(label="x", vehicle=CAR, speedometer=readings(*[(80, 75)] * 8))).speedometer
    rough = check_dials(
        Dials(label="x", vehicle=CAR, speedometer=readings((80, 75)), speedometer_division_mps=10 * KMH)
    ).speedometer
    assert one is not None
    assert many is not None
    assert rough is not None
    assert many.factor.half_width < 0.6 * one.factor.half_width < rough.factor.half_width
    assert one.factor.low < 75 / 80 < one.factor.high


def test_an_axle_change_takes_the_odometer_with_it():
    """Scenario: axle 4.70 to 3.60, odometer behind the gearbox: 30.00 km become 22.98, factor 0.766 as indicated over
    true, 1.3055 as true over indicated."""
    exact = OdometerStretch(start_m=0.0, end_m=30_000.0, distance_m=Declared(30_000.0, 1.0))
    result = check_dials(
        Dials(
            label="x", vehicle=CAR, odometer=(exact,), odometer_division_m=1.0, changes=(DialChange(final_drive=3.60),)
        )
    )
    (change,) = result.changes
    assert change.reads.value == pytest.approx(0.766, abs=0.001)
    assert change.odometer_factor is not None
    assert change.odometer_factor.value == pytest.approx(1.3055, abs=0.001)
    assert 30 * change.reads.value == pytest.approx(22.98, abs=0.01)
    assert change.engine_speed_change.value == pytest.approx(-23.4, abs=0.1)
    wheel = check_dials(Dials(label="x", vehicle=CAR, driven_by="wheel", changes=(DialChange(final_drive=3.60),)))
    assert wheel.changes[0].reads.value == pytest.approx(1.0)


def test_a_taller_tyre_makes_both_dials_read_less():
    """195/75 R16 to 205/80 R16 by their codes: (0.4064 + 2 x 0.164)/(0.4064 + 2 x 0.14625) = 1.0508."""
    changes = (DialChange(tyre=parse_tyre("205/80 R16")),)
    result = check_dials(
        Dials(label="x", vehicle=CAR, speedometer=readings((50, 47), (80, 76), (100, 95)), changes=changes)
    )
    (change,) = result.changes
    assert change.reads.value == pytest.approx(1 / 1.0508, rel=0.002)
    assert change.true_speed is not None
    assert change.true_before is not None
    assert change.true_speed.value / change.true_before.value == pytest.approx(1.0508, rel=0.01)
    bare = check_dials(Dials(label="x", vehicle=Vehicle(name="Bare"), changes=changes))
    assert "tyre-not-known" in codes(bare)


def test_one_kilometre_is_too_short():
    short = OdometerStretch(start_m=0.0, end_m=1000.0, distance_m=Declared(1000.0))
    result = check_dials(Dials(label="x", vehicle=CAR, odometer=(short,)))
    assert "short-stretch" in codes(result)
    assert result.odometer is not None
    assert result.odometer.factor.half_width > 0.05


def test_both_factors_stand_side_by_side_and_are_not_mixed():
    way = tuple(OdometerStretch(start_m=0, end_m=20_000, distance_m=Declared(20_000.0)) for _ in range(2))
    result = check_dials(
        Dials(label="x", vehicle=CAR, odometer=way, speedometer=readings((50, 46), (80, 73), (100, 92)))
    )
    assert "two-factors" in codes(result)
    assert result.odometer is not None
    assert result.odometer.factor.value == pytest.approx(1.0, abs=0.002)


def test_the_truth_lies_inside():
    """60 invented vehicles: 95 % intervals hold the truth as often as they say, within what 60 can tell."""
    speed, way, fuel, goes = [], [], [], []
    for seed in range(1000, 1060):
        dials, truth = invent(seed)
        r = check_dials(dials, draws=400, seed=seed)
        assert r.speedometer and r.odometer and r.fuel_gauge and r.range
        speed += [
            s.true_speed.low <= truth.true_kmh(s.indicated.value) <= s.true_speed.high for s in r.speedometer.speeds
        ]
        way.append(r.odometer.factor.low <= truth.odometer_factor <= r.odometer.factor.high)
        fuel += [p.content.low <= truth.litres(p.needle) <= p.content.high for p in r.fuel_gauge.points[1:-1]]
        far = 100 * truth.litres(truth.needle_now) / truth.litres_per_100km
        goes.append(r.range.distance.low <= far <= r.range.distance.high)
    assert np.mean(speed) > 0.90
    assert np.mean(way) > 0.88
    assert np.mean(fuel) > 0.90
    assert np.mean(goes) > 0.88


def test_the_gauge_never_falls_and_knows_what_it_was_told():
    dials, _ = invent(5)
    gauge = check_dials(dials).fuel_gauge
    assert gauge is not None
    contents = [p.content.value for p in gauge.points]
    assert contents == sorted(contents)
    unread = check_dials(Dials(label="x", vehicle=CAR, gauge=FuelGauge(capacity_m3=Declared(0.06)), range=_asked(0.5)))
    told = check_dials(
        Dials(
            label="x",
            vehicle=CAR,
            range=_asked(0.5),
            gauge=FuelGauge(
                capacity_m3=Declared(0.06), readings=(GaugeReading(needle=0.5, content_m3=Declared(0.022)),)
            ),
        )
    )
    assert unread.range is not None
    assert told.range is not None
    assert unread.range.fuel_left.value == pytest.approx(30, abs=1)
    assert told.range.fuel_left.value == pytest.approx(22, abs=2)
    assert told.range.fuel_left.half_width < 0.7 * unread.range.fuel_left.half_width


def _asked(needle: float) -> RangeAsked:
    return RangeAsked(needle=needle, consumption=GivenConsumption(value=7.5, unit="L_per_100km", half_width=0.3))


@pytest.mark.parametrize(
    ("value", "unit"), [(7.5, "L_per_100km"), (31.362, "mpg_us"), (37.664, "mpg_imp"), (13.333, "km_per_L")]
)
def test_a_dead_gauge_goes_by_the_way_since_full(value: float, unit: str):
    """60 L, 400 km at 7.5 L/100 km (31.36 mpg US, 37.66 mpg imp): 30 L left, 400 km to go."""
    asked = RangeAsked(
        since_full_m=Declared(400_000.0), consumption=GivenConsumption(value=value, unit=unit, half_width=0.01 * value)
    )
    result = check_dials(
        Dials(label="x", vehicle=CAR, gauge=FuelGauge(capacity_m3=Declared(0.06, 0.0005)), range=asked)
    )
    assert result.range is not None
    assert result.range.fuel_left.value == pytest.approx(30, abs=0.3)
    assert result.range.distance.value == pytest.approx(400, abs=5)
    assert result.range.count_on < 400


FILE = """
vehicle = "vehicle.toml"
date = 2026-04-12
[[speedometer.reading]]
indicated = "80 km/h"
satellite = "74.6 km/h"
[[odometer.stretch]]
start = "100 km"
end = "120.7 km"
distance = "20.15 km"
[fuel_gauge]
capacity = "62 L"
[[fuel_gauge.reading]]
needle = "1/4"
added = "8.32 kg"
"""
SHEET = '[vehicle]\nname = "X"\ntyre = "195/75 R16"\nfinal_drive = 4.1\n[engine]\nfuel = "diesel"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "vehicle.toml").write_text(SHEET, encoding="utf-8")
    (tmp_path / "dials.toml").write_text(FILE, encoding="utf-8")
    return tmp_path


def test_a_file_is_read_with_kilograms_for_litres(folder: Path):
    result = check_dials_file(folder / "dials.toml")
    assert result.fuel_gauge is not None
    assert result.fuel_gauge.read[0].content.value == pytest.approx(10.0, abs=0.6), "8.32 kg of diesel at 832 kg/m3"
    assert result.odometer is not None
    assert "195/75 R16" in result.odometer.belongs_to


def test_a_later_change_of_axle_ends_the_factor(folder: Path):
    change = '[[change]]\ndate = 2026-05-02\nwhat = "taller axle"\nfinal_drive = 3.7\n'
    (folder / "vehicle.toml").write_text(SHEET + change, encoding="utf-8")
    result = check_dials_file(folder / "dials.toml")
    assert {f.code: f.severity for f in result.flags}["factor-ended"] == "stop"
    assert result.odometer is not None
    assert "taller axle on 2026-05-02" in result.odometer.ended_by


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('satellite = "74.6 km/h"', "", "speedometer.reading[0].satellite"),
        ('satellite = "74.6 km/h"', 'satellite = "74.6 m/s"', "speedometer.reading[0].indicated"),
        ('end = "120.7 km"', 'end = "99 km"', "odometer.stretch[0].end"),
        ('end = "120.7 km"', 'end = "920.7 km"', "odometer.stretch[0].end"),
        ('distance = "20.15 km"', "", "odometer.stretch[0].distance"),
        ('needle = "1/4"', "needle = 3", "fuel_gauge.reading[0].needle"),
        ('needle = "1/4"', 'needle = "half"', "fuel_gauge.reading[0].needle"),
        ('added = "8.32 kg"', "", "fuel_gauge.reading[0].content"),
        ('added = "8.32 kg"', 'added = "8.32"', "fuel_gauge.reading[0].added"),
        ("[fuel_gauge]", "[range]\nsince = 3\n[fuel_gauge]", "range.since"),
        ("[fuel_gauge]", '[[change]]\nwhat = "nothing"\n[fuel_gauge]', "change[0].tyre"),
    ],
)
def test_each_fault_names_its_key(folder: Path, old: str, new: str, key: str):
    (folder / "dials.toml").write_text(FILE.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_dials(folder / "dials.toml", today=dt.date(2026, 11, 25))
    assert key in [fault.key for fault in caught.value.faults]


def test_a_result_can_be_made_again():
    dials, _ = invent(3)
    assert msgspec.json.encode(check_dials(dials)) == msgspec.json.encode(check_dials(dials))
