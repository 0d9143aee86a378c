"""Tracks and speed logs as delimited text."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from calmday.errors import InputError
from calmday.files.csv_track import parse_csv_track
from calmday.files.track_files import read_track

NOON = dt.datetime(2026, 4, 12, 12, 0, 0, tzinfo=dt.UTC).timestamp()


@pytest.mark.parametrize(
    ("column", "factor"),
    [
        ("speed_mps", 1.0),
        ("speed_kmh", 1 / 3.6),
        ("speed_mph", 0.44704),
        ("speed_kn", 1852 / 3600),
        ("Speed (km/h)", 1 / 3.6),
    ],
)
def test_csv_speed_units(column: str, factor: float) -> None:
    t = parse_csv_track(f"time,lat,lon,{column}\n{NOON},51,4.5,10\n{NOON + 1},51,4.6,20\n".encode(), "a.csv")
    assert t.speed_mps.tolist() == pytest.approx([10 * factor, 20 * factor])
    assert t.time_s.tolist() == [NOON, NOON + 1] and t.notes == ()


def test_csv_of_many_tongues() -> None:
    text = (
        "\ufeff# logger\nTimestamp;Latitude;Longitude;Altitude_ft;Heading;HDOP;Segment\r\n"
        "2026-04-12T14:00:00+02:00;51,5;4,5;10;90;1,1;a\r\n"
        "2026-04-12T14:00:01+02:00;51,6;4,5;;;;b\r\n"
    )
    t = parse_csv_track(text.encode(), "a.csv")
    assert (t.time_s - NOON).tolist() == [0, 1]
    assert t.latitude_deg.tolist() == [51.5, 51.6]
    assert t.height_m[0] == pytest.approx(3.048) and math.isnan(t.height_m[1])
    assert (t.course_deg[0], t.hdop[0], t.segment.tolist()) == (90.0, 1.1, [0, 1])
    tabs = parse_csv_track(b"time_s\tlat\tlon\n0\t51\t4.5\n1\t51\t4.6\n", "a.csv")
    assert tabs.time_s.tolist() == [0, 1] and "relative" in tabs.notes[0]


def test_csv_speed_log_without_positions() -> None:
    t = parse_csv_track(b"time_s,speed_kmh\n0,90\n0.5,89\n", "a.csv")
    assert np.isnan(t.latitude_deg).all() and t.speed_mps[0] == pytest.approx(25.0)
    assert "no positions, only speed" in t.notes


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "no lines"),
        ("time,lat,lon\n", "no rows"),
        ("lat,lon\n51\n", "1 fields"),
        ("time,lat\n1,51\n", "longitude"),
        ("time,lat,lon,speed\n1,51,4,5\n", "has no unit"),
        ("a,b\n1,2\n", "neither position nor speed"),
        ("speed_kmh,x_acc\n90,1\n", "no column for time"),
        ("time,lat,lon\nsoon:ish,51,4\n", "is not a time"),
        ("time,lat,lon\n1,nan,4\n2,inf,4\n3,x,4\n", "no usable fix among 3"),
        ("time,lat,lon\n1,51,5\n2,51,5,6\n", "4 fields"),
    ],
)
def test_csv_refused(text: str, wrong: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_csv_track(text.encode(), "a.csv")
    assert wrong in caught.value.faults[0].wrong


def test_real_csv_tracks(shared: Callable[[str], Path]) -> None:
    course = read_track(shared("closed_course_10hz.csv"))
    assert len(course) > 3000 and np.median(np.diff(course.time_s)) == pytest.approx(0.1)
    assert course.speed_mps.max() == pytest.approx(25.0, abs=15.0)
    drives = read_track(shared("drives_1hz.csv"))
    assert drives.segment.max() == 1 and (drives.hdop > 0).all()
    assert drives.speed_mps[0] == pytest.approx(24.0657062753519 * 0.44704)
    schedule = read_track(shared("hwfet_765s_mph.csv"))
    assert np.sum(schedule.speed_mps) / 1609.344 == pytest.approx(10.26, abs=0.01)  # 40 CFR 600 App. I (S)


def test_csv_date_and_time_in_columns_of_their_own() -> None:
    text = "date,time,lat,lon\n2026-04-12,12:00:00,51,4.5\n2026-04-12,12:00:01Z,51,4.6\n2026-04-12,,51,4.7\n"
    t = parse_csv_track(text.encode(), "a.csv")
    assert t.time_s.tolist() == [NOON, NOON + 1]
    with pytest.raises(InputError, match="is not a time"):
        parse_csv_track(text.replace("2026-04-12", "12/04/2026").encode(), "a.csv")
