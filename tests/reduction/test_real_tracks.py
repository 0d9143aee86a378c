"""Real recordings: a closed course at 10 Hz, drives at 1 Hz, fixes at irregular intervals, receiver logs."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from calmday.files.track_files import read_track
from calmday.records.track import Track
from calmday.reduction.track import reduce_track

DATA = Path(__file__).parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(not DATA.exists(), reason="../shared/data is absent")

FIELDS = ("time_s", "latitude_deg", "longitude_deg", "height_m", "speed_mps", "course_deg", "hdop", "segment")


def without_speed(track: Track) -> Track:
    none = np.full(len(track), np.nan)
    return msgspec.structs.replace(track, speed_mps=none, course_deg=none)


def every(track: Track, step: int) -> Track:
    return msgspec.structs.replace(track, **{name: getattr(track, name)[::step] for name in FIELDS})


@pytest.fixture(scope="module")
def course() -> Track:
    return read_track(DATA / "closed_course_10hz.csv")


def test_closed_course_against_its_own_integrated_speed(course):
    # JRC OpenACC (Makridis et al. 2021): laps of about 1.84 km; two are driven, the second ends short of the first mark
    driven = float(np.trapezoid(course.speed_mps, course.time_s))
    with_speed, alone = reduce_track(course), reduce_track(without_speed(course))
    slow = reduce_track(every(without_speed(course), 10))
    assert with_speed.total_distance_m == pytest.approx(driven, rel=5e-4)
    assert alone.total_distance_m == pytest.approx(driven, rel=1e-3)
    assert slow.total_distance_m == pytest.approx(driven, rel=1e-3)
    for out in (with_speed, alone, slow):
        assert len(out.laps) == 2
        assert out.lap_distance_m[0] == pytest.approx(1840, abs=8)
    speed = np.interp(alone.time_s, course.time_s, course.speed_mps)
    assert np.sqrt(np.mean((alone.speed_mps - speed) ** 2)) < 0.1


def test_irregular_fixes_do_not_overshoot():
    track = read_track(DATA / "gpx" / "around-visnjan-with-car.gpx")
    out = reduce_track(track)
    assert np.diff(track.time_s).max() > 40  # that is what makes it hard
    assert out.closed
    assert 2600 < out.total_distance_m < 2850
    east = np.diff(track.longitude_deg) * np.cos(np.radians(45.27))
    chord = 111_200 * np.hypot(np.diff(track.latitude_deg), east)
    steady = np.diff(track.time_s) >= 5
    assert out.speed_mps.max() < 1.15 * (chord / np.diff(track.time_s))[steady].max()
    assert np.abs(out.acceleration_mps2).max() < 8.0
    assert out.stops


def test_drives_at_1_hz():
    table = np.genfromtxt(DATA / "drives_1hz.csv", delimiter=",", names=True)
    for number in np.unique(table["drive"]):
        rows = table[table["drive"] == number]
        track = Track(
            time_s=rows["time_utc"], latitude_deg=rows["gps_lat"], longitude_deg=rows["gps_long"],
            height_m=rows["gps_elevation"], speed_mps=rows["speed_mph"] * 0.44704, course_deg=rows["gps_heading"],
            hdop=rows["gps_hdop"], segment=np.zeros(rows.size, np.int64),
        )  # fmt: skip
        with_speed, alone = reduce_track(track), reduce_track(without_speed(track))
        # this speed is the vehicle's own, about 1 % low against positions and half a second late
        assert with_speed.total_distance_m == pytest.approx(alone.total_distance_m, rel=0.015)
        assert with_speed.speed_mps.min() >= 0
        assert with_speed.speed_mps.max() < 30
        assert not with_speed.laps


def test_receiver_log_of_a_boat():
    track = read_track(DATA / "nmea" / "bundg_zeus_9.log")
    out = reduce_track(track)
    known = np.isfinite(track.speed_mps)
    assert out.total_distance_m == pytest.approx(np.trapezoid(track.speed_mps[known], track.time_s[known]), rel=0.015)
    assert out.has_doppler
