"""Starts from rest: times of recordings whose truth is known, and the prediction beside them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calmday.operations.gears import reduce_pulls
from calmday.procedures.pull_samples import PullSamples
from calmday.procedures.standing_start import timed
from calmday.records.declared import Declared
from calmday.records.pull import Pull, PullDay
from calmday.records.track import Track
from calmday.records.vehicle import Engine, FullLoadCurve, Vehicle
from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.pull_sheet import pull_sheet

MILE = 1609.344
VAN = Vehicle(
    name="Invented", body="van", test_mass_kg=Declared(1480.0), gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
    final_drive=4.1, rolling_circumference_m=Declared(2.13),
    engine=Engine(
        displacement_m3=Declared(2.1e-3), fuel="diesel", governed_speed_rps=Declared(4600 / 60),
        full_load=FullLoadCurve(tuple(n / 60 for n in (800, 1600, 2400, 4600)), (110.0, 140.0, 138.0, 100.0)),
    ),
)  # fmt: skip


def recorded(rate_hz: float, seed: int, slope: float = 2.0, fall: float = 0.05) -> tuple[np.ndarray, np.ndarray]:
    """Standing for some seconds, then v = (slope / fall) (1 - exp(-fall t)): time and noisy speed."""
    g = np.random.default_rng(seed)
    wait = 3 + g.random()
    time = np.arange(0.0, 40.0, 1 / rate_hz)
    moving = np.maximum(time - wait, 0.0)
    speed = slope / fall * (1 - np.exp(-fall * moving))
    return time, np.maximum(speed + 0.08 * g.standard_normal(time.size), 0.0)


def samples(time: np.ndarray, speed: np.ndarray) -> PullSamples:
    none = np.full(time.size, np.nan)
    start = int(np.flatnonzero(speed < 0.8)[-1])
    return PullSamples(
        time_s=time[start:] - time[start], clock_s=time[start:], speed_mps=speed[start:], heading_rad=none[start:],
        grade=0.0, grade_sd=0.0, grade_source="declared", height_m=math.nan, timed=False,
    )  # fmt: skip


def truth(speed_mps: float, slope: float = 2.0, fall: float = 0.05) -> float:
    return -math.log(1 - speed_mps * fall / slope) / fall


def quarter(slope: float = 2.0, fall: float = 0.05) -> float:
    low, high = 0.0, 60.0
    for _ in range(80):
        t = (low + high) / 2
        way = slope / fall * (t - (1 - math.exp(-fall * t)) / fall)
        low, high = (t, high) if way < MILE / 4 else (low, t)
    return low


@pytest.mark.parametrize("rate", [1.0, 5.0, 10.0])
def test_times_are_within_their_give_or_take_95_times_in_100(rate: float) -> None:
    inside: list[bool] = []
    for seed in range(100):
        found = timed(samples(*recorded(rate, seed)))
        assert found.to_100_kmh is not None
        assert found.to_60_mph is not None
        assert found.quarter_mile is not None
        known = (truth(100 / 3.6), truth(60 * MILE / 3600), quarter())
        for figure, real in zip((found.to_100_kmh, found.to_60_mph, found.quarter_mile), known, strict=True):
            inside.append(figure.low <= real <= figure.high)
            assert figure.half_width < 0.9 / rate + 0.35
    assert np.mean(inside) > 0.9


def track(time: np.ndarray, speed: np.ndarray) -> Track:
    none = np.full(time.size, np.nan)
    return Track(
        time_s=1.775e9 + time, latitude_deg=none, longitude_deg=none, height_m=none, speed_mps=speed, course_deg=none,
        hdop=none, segment=np.zeros(time.size, dtype=np.int64),
    )  # fmt: skip


def day(*pulls: Pull) -> PullDay:
    return PullDay(label="Starts", vehicle=VAN, pulls=pulls)


def test_a_day_of_starts_alone_times_them_beside_the_prediction() -> None:
    start = Pull(kind="start", gear=1, track=track(*recorded(10.0, 3, slope=2.4, fall=0.06)), grade=Declared(0.0))
    result = reduce_pulls(day(start), draws=200)
    assert result.peak_power is None
    assert result.points == ()
    (one,) = result.starts
    assert one.measured.to_100_kmh is not None
    assert one.measured.to_100_kmh.value == pytest.approx(truth(100 / 3.6, 2.4, 0.06), abs=0.3)
    assert one.predicted.to_100_kmh is not None
    assert result.sentence.startswith("0 to 100 km/h in ")
    text = plain_sheet(pull_sheet(result), 100)
    assert "From rest, timed and predicted" in text
    assert "nan" not in text


def test_a_recording_that_begins_in_motion_is_refused() -> None:
    time, speed = recorded(10.0, 3)
    late = Pull(kind="start", gear=1, track=track(time[80:], speed[80:]))
    with pytest.raises(Exception, match="rest"):
        reduce_pulls(day(late), draws=200)
