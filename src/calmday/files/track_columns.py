"""From the columns of any track file to the one track record: bad fixes left out, and said so."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.metrology.rounding import counted
from calmday.records.track import Clock, FloatArray, IntArray, Track

_TAKEN_AS_UTC = " without offset taken as UTC"
MAX_POINTS = 5_000_000
LATEST_S = 4_102_444_800.0
"""2100-01-01."""


class TrackColumns(msgspec.Struct, kw_only=True):
    """Columns of equal length as read from a file, NaN where a cell is empty or unreadable."""

    time_s: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    height_m: FloatArray | None = None
    speed_mps: FloatArray | None = None
    course_deg: FloatArray | None = None
    hdop: FloatArray | None = None
    segment: IntArray | None = None


def floats(cells: Sequence[object]) -> FloatArray:
    """Text cells as floats, NaN where empty or not a number."""
    if cells.count(None) == len(cells):
        return np.full(len(cells), math.nan)
    try:
        return np.fromiter(map(float, cells), dtype=np.float64, count=len(cells))  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return np.array([_float(cell) for cell in cells], dtype=np.float64)


def times(cells: Sequence[str | None]) -> tuple[FloatArray, int, int]:
    """ISO 8601 texts as seconds since 1970 UTC, NaN where empty or unreadable.

    A time without offset is taken as UTC. Also returns how many had no offset and how many were unreadable.
    """
    found = np.empty(len(cells))
    without_offset = unreadable = 0
    parse, utc, epoch = dt.datetime.fromisoformat, dt.UTC, dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
    second = dt.timedelta(seconds=1)
    for i, cell in enumerate(cells):
        if cell is None:
            found[i] = math.nan
            continue
        try:
            when = parse(cell)
        except ValueError:
            found[i], naive = _awkward_time(cell)
            unreadable += math.isnan(found[i])
            without_offset += naive
            continue
        if when.tzinfo is None:
            without_offset += 1
            when = when.replace(tzinfo=utc)
        found[i] = (when - epoch) / second
    return found, without_offset, unreadable


def without_offset(count: int) -> str:
    """The note on times that do not say how far they are from UTC."""
    return f"{counted(count, 'time')}{_TAKEN_AS_UTC}"


def in_zone(track: Track, zone: dt.tzinfo | None) -> Track:
    """A track by a clock that does not name its zone, taken as in that of the test where that is known."""
    if zone is None or track.clock != "local":
        return track
    first = dt.datetime.fromtimestamp(float(np.nanmin(track.time_s)), dt.UTC).replace(tzinfo=zone)
    offset = first.utcoffset() or dt.timedelta()
    kept = tuple(note for note in track.notes if not note.endswith(_TAKEN_AS_UTC))
    return msgspec.structs.replace(
        track,
        time_s=track.time_s - offset.total_seconds(),
        clock="utc",
        notes=(*kept, f"times without offset taken as local, {first:%z} from UTC"),
    )


def track_from_columns(
    columns: TrackColumns, name: str, notes: Sequence[str] = (), *, positions: bool = True, clock: Clock = "utc"
) -> Track:
    """The track of one file, without fixes that lack a possible position, or a time where others have one.

    `positions` false for a log of speed alone. Raises InputError where nothing is left.
    """
    count = columns.time_s.size
    told = list(notes)
    time = columns.time_s
    with np.errstate(invalid="ignore"):
        dated = np.isfinite(time) & (np.abs(time) < LATEST_S)
        place = (np.abs(columns.latitude_deg) <= 90.0) & (np.abs(columns.longitude_deg) <= 180.0)
    # 0 N 0 E is what receivers write before they have a fix.
    place &= (columns.latitude_deg != 0.0) | (columns.longitude_deg != 0.0)
    if not positions:
        place[:] = True
    _tell(told, count - int(place.sum()), "without a possible position left out")
    if dated.any():
        _tell(told, int((place & ~dated).sum()), "without a time left out")
        keep = place & dated
    else:
        told.append("no fix has a time")
        time, keep = np.full(count, math.nan), place
    if not keep.any():
        raise InputError.one(name, "file", f"has no usable fix among {count}", "a track with positions and times")
    empty = np.full(count, math.nan)
    return Track(
        time_s=time[keep],
        latitude_deg=columns.latitude_deg[keep],
        longitude_deg=columns.longitude_deg[keep],
        height_m=_within(columns.height_m, -1000.0, 9000.0, empty)[keep],
        speed_mps=_within(columns.speed_mps, 0.0, 150.0, empty)[keep],
        course_deg=_within(columns.course_deg, 0.0, 360.0, empty)[keep],
        hdop=_within(columns.hdop, 0.0, 1000.0, empty)[keep],
        segment=_counted(columns.segment, count)[keep],
        clock=clock,
        files=(name,),
        notes=tuple(told),
    )


def _counted(segment: IntArray | None, count: int) -> IntArray:
    """Segments counted 0, 1, 2 from whatever marks them in the file."""
    marks = segment if segment is not None else np.zeros(count, dtype=np.int64)
    return np.concatenate([[0], np.cumsum(np.diff(marks) != 0)]).astype(np.int64)


def too_many(name: str) -> InputError:
    """The error for a file with more fixes than any drive has."""
    return InputError.one(name, "file", f"has more than {MAX_POINTS} fixes", "a shorter track, cut into parts")


def _within(column: FloatArray | None, low: float, high: float, empty: FloatArray) -> FloatArray:
    """The column with values outside the possible range made NaN."""
    if column is None:
        return empty
    with np.errstate(invalid="ignore"):
        return np.where((column >= low) & (column <= high), column, math.nan)


def _tell(notes: list[str], count: int, what: str) -> None:
    if count:
        notes.append(f"{count} fix{'es' if count > 1 else ''} {what}")


def _float(cell: object) -> float:
    try:
        return float(cell) if isinstance(cell, str) else math.nan
    except ValueError:
        return math.nan


def _awkward_time(cell: str) -> tuple[float, bool]:
    """Times that the standard library does not take: blanks around, a leap second, many digits."""
    text = cell.strip()
    leap = text[16:19] == ":60"
    if leap:
        text = f"{text[:16]}:59{text[19:]}"
    try:
        when = dt.datetime.fromisoformat(text)
    except ValueError:
        return math.nan, False
    naive = when.tzinfo is None
    when = when.replace(tzinfo=dt.UTC) if naive else when
    return when.timestamp() + leap, naive
