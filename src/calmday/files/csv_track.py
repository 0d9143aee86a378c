"""Tracks as delimited text: one row per fix, the header says what each column holds and in which unit."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np

from calmday.errors import InputError
from calmday.files.delimited import Delimited, read_delimited
from calmday.files.text_file import MEGABYTE, decoded, read_bytes
from calmday.files.track_columns import (
    MAX_POINTS,
    TrackColumns,
    floats,
    times,
    too_many,
    track_from_columns,
    without_offset,
)
from calmday.metrology.rounding import counted
from calmday.metrology.units import shown
from calmday.records.track import FIRST_CLOCK_S, Clock, FloatArray, IntArray, Track

SIZE_LIMIT = 400 * MEGABYTE

_KMH, _MPH, _KNOT, _FOOT = 1 / 3.6, 0.44704, 1852 / 3600, 0.3048
_LATITUDE = ("latitude", "lat", "latitude_deg", "lat_deg", "gps_lat", "gps_latitude", "y")
_LONGITUDE = (
    "longitude",
    "lon",
    "long",
    "lng",
    "longitude_deg",
    "lon_deg",
    "gps_lon",
    "gps_long",
    "gps_longitude",
    "x",
)
_TIME = (
    "time_s",
    "t_s",
    "time",
    "timestamp",
    "time_utc",
    "utc",
    "datetime",
    "date_time",
    "t",
    "unix_time",
    "seconds",
)
_DATE = ("date", "day", "date_utc")
_TIME_OF_DAY = re.compile(r"\d\d:\d\d")
_UTC_TIMES = ("time_utc", "utc")
_HEIGHT = {
    **dict.fromkeys(("elevation_m", "elevation", "ele", "altitude", "alt", "altitude_m", "alt_m", "height"), 1.0),
    **dict.fromkeys(("height_m", "gps_elevation", "gps_altitude", "ele_m", "z"), 1.0),
    **dict.fromkeys(("elevation_ft", "altitude_ft", "height_ft", "ele_ft"), _FOOT),
}
_SPEED = {
    **dict.fromkeys(
        ("speed_mps", "speed_m_s", "speed_ms", "v_mps", "gps_speed_mps", "speed (m/s)", "speed [m/s]"), 1.0
    ),
    **dict.fromkeys(("speed_kmh", "speed_kph", "speed_km_h", "v_kmh", "gps_speed_kmh", "speed (km/h)"), _KMH),
    **dict.fromkeys(("speed_mph", "v_mph", "gps_speed_mph", "speed (mph)"), _MPH),
    **dict.fromkeys(("speed_kn", "speed_kt", "speed_kts", "speed_knots", "v_kn"), _KNOT),
}
_COURSE = (
    "course",
    "course_deg",
    "heading",
    "heading_deg",
    "bearing",
    "bearing_deg",
    "track",
    "gps_heading",
    "gps_course",
)
_HDOP = ("hdop", "gps_hdop")
_SEGMENT = ("segment", "drive", "trip", "trkseg", "pass")
_BARE_SPEED = ("speed", "gps_speed", "v", "velocity")
_RIGHT = "columns such as time,latitude,longitude,elevation_m,speed_kmh"


def read_csv_track(path: Path, name: str | None = None) -> Track:
    """The track of one CSV file. `name` the file as the user named it. Raises InputError."""
    name = name or str(path)
    return parse_csv_track(read_bytes(path, name, SIZE_LIMIT), name)


def parse_csv_track(data: bytes, name: str) -> Track:
    """The track in the bytes of a CSV file: times absolute (ISO 8601, seconds since 1970) or from any zero.

    Without position columns (a speed log) latitude and longitude are NaN. Raises InputError.
    """
    table = read_delimited(decoded(data, name), name)
    if len(table.rows) > MAX_POINTS:
        raise too_many(name)
    if not table.rows:
        raise InputError.one(name, "file", "has a header but no rows", "one row per fix")
    latitude, longitude = _find(table, _LATITUDE), _find(table, _LONGITUDE)
    speed = _find(table, _SPEED)
    if (latitude is None) != (longitude is None):
        missing = "longitude" if longitude is None else "latitude"
        raise InputError.one(name, "line 1", f"has no column for {missing}", _RIGHT)
    _refuse_bare_speed(table, speed, name)
    if latitude is None and speed is None:
        wrong = f"has neither position nor speed among the columns {shown(','.join(table.header))}"
        raise InputError.one(name, "line 1", wrong, _RIGHT)
    notes: list[str] = []
    time, clock = _time(table, name, notes, needed=latitude is None)
    read = _reader(table)
    columns = TrackColumns(
        time_s=time,
        latitude_deg=read(latitude, 1.0),
        longitude_deg=read(longitude, 1.0),
        height_m=read(height, _HEIGHT[table.header[height]]) if (height := _find(table, _HEIGHT)) is not None else None,
        speed_mps=read(speed, _SPEED[table.header[speed]]) if speed is not None else None,
        course_deg=read(_find(table, _COURSE), 1.0),
        hdop=read(_find(table, _HDOP), 1.0),
        segment=_segment(table),
    )
    if latitude is None:
        notes.append("no positions, only speed")
    return track_from_columns(columns, name, notes, positions=latitude is not None, clock=clock)


def _reader(table: Delimited) -> Callable[[int | None, float], FloatArray]:
    def read(index: int | None, factor: float) -> FloatArray:
        if index is None:
            return np.full(len(table.rows), np.nan)
        values = floats(table.column(index))
        return values if factor == 1.0 else values * factor

    return read


def _find(table: Delimited, names: tuple[str, ...] | dict[str, float]) -> int | None:
    """The column whose name stands first among `names`."""
    return next((table.header.index(n) for n in names if n in table.header), None)


def _refuse_bare_speed(table: Delimited, speed: int | None, name: str) -> None:
    """A speed column without unit would be wrong by a factor of 3.6 in silence."""
    bare = next((c for c in table.header if c in _BARE_SPEED), None)
    if speed is None and bare:
        right = "the unit in its name: speed_mps, speed_kmh, speed_mph or speed_kn"
        raise InputError.one(name, "line 1", f"the column {bare} has no unit", right)


def _time(table: Delimited, name: str, notes: list[str], *, needed: bool) -> tuple[FloatArray, Clock]:
    """Seconds since 1970, or since whatever zero the file has, which is noted; and which of the two."""
    index = _find(table, _TIME)
    if index is None:
        if needed:
            raise InputError.one(name, "line 1", "has no column for time", _RIGHT)
        return np.full(len(table.rows), np.nan), "relative"
    cells = table.column(index)
    if (day := _find(table, _DATE)) is not None and _TIME_OF_DAY.match(next((cell for cell in cells if cell), "")):
        cells = [f"{date}T{cell}" if date and cell else "" for date, cell in zip(table.column(day), cells, strict=True)]
    first = next((cell for cell in cells if cell), "")
    if ":" in first or first.count("-") == 2:
        found, naive, unreadable = times([cell or None for cell in cells])
        says_utc = table.header[index] in _UTC_TIMES
        if naive and not says_utc:
            notes.append(without_offset(naive))
        if unreadable:
            notes.append(f"{counted(unreadable, 'time')} cannot be read")
        if unreadable and unreadable == len(cells) - cells.count(""):
            right = "ISO 8601 such as 2026-04-12T13:30:00Z, or seconds"
            raise InputError.one(name, f"line {table.lines[0]}", f"{shown(first)} is not a time", right)
        return found, "local" if not says_utc and naive == len(cells) - cells.count("") - unreadable else "utc"
    found = floats(cells)
    if table.header[index].endswith("_ms") or np.nanmax(found, initial=0.0) > 1e11:
        found = found / 1000.0
    with np.errstate(invalid="ignore"):
        undated = np.nanmax(found, initial=0.0) < FIRST_CLOCK_S
    if undated:
        notes.append("times are relative, the file does not say when it was recorded")
    return found, "relative" if undated else "utc"


def _segment(table: Delimited) -> IntArray | None:
    """A new segment wherever the column named segment, drive or trip changes."""
    index = _find(table, _SEGMENT)
    if index is None:
        return None
    cells = [row[index].strip() for row in table.rows]
    return np.cumsum([0, *(a != b for a, b in pairwise(cells))])
