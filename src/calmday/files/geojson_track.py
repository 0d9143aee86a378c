"""GeoJSON tracks (RFC 7946): lines with times beside them, or points that carry a time."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.files.text_file import MEGABYTE, decoded, read_bytes
from calmday.files.track_columns import MAX_POINTS, TrackColumns, times, too_many, track_from_columns, without_offset
from calmday.metrology.rounding import counted
from calmday.metrology.units import shown
from calmday.records.track import Clock, FloatArray, Track

SIZE_LIMIT = 400 * MEGABYTE
_TIME_KEYS = ("coordTimes", "times", "time", "timestamps", "timestamp")
_POINT_SPEEDS = {"speed": 1.0, "speed_mps": 1.0, "speed_kmh": 1 / 3.6, "speed_mph": 0.44704}
_POINT_COURSES = ("course", "heading", "bearing")
_RIGHT = "a LineString or MultiLineString with coordTimes, or Points with a time, as RFC 7946 has them"


class _Fixes:
    """Columns that grow: times as found, positions and the rest as floats."""

    def __init__(self) -> None:
        self.time: list[object] = []
        self.latitude: list[float] = []
        self.longitude: list[float] = []
        self.height: list[float] = []
        self.speed: list[float] = []
        self.course: list[float] = []
        self.hdop: list[float] = []
        self.segment: list[int] = []
        self.segments = 0

    def add(self, position: object, time: object, properties: dict[str, object]) -> None:
        """One position [longitude, latitude, height]; NaN where it is not one."""
        items = position if isinstance(position, list) else []
        longitude, latitude, height = (_float(items[i]) if i < len(items) else math.nan for i in range(3))
        self.time.append(time)
        self.longitude.append(longitude)
        self.latitude.append(latitude)
        self.height.append(height)
        self.speed.append(
            next(
                (_float(properties[k]) * factor for k, factor in _POINT_SPEEDS.items() if k in properties),
                math.nan,
            )
        )
        self.course.append(next((_float(properties[k]) for k in _POINT_COURSES if k in properties), math.nan))
        self.hdop.append(_float(properties.get("hdop")))
        self.segment.append(self.segments)


def read_geojson(path: Path, name: str | None = None) -> Track:
    """The track of one GeoJSON file. `name` the file as the user named it. Raises InputError."""
    name = name or str(path)
    return parse_geojson(read_bytes(path, name, SIZE_LIMIT), name)


def parse_geojson(data: bytes, name: str) -> Track:
    """The track in the bytes of a GeoJSON file; each line is a segment of its own. Raises InputError."""
    text = decoded(data, name)
    try:
        document = msgspec.json.decode(text)
    except (msgspec.DecodeError, RecursionError) as e:
        right = "the whole file; if it is cut off, copy it again"
        raise InputError.one(name, "file", f"is not JSON ({shown(str(e))})", right) from None
    fixes = _Fixes()
    notes: list[str] = []
    for geometry, properties in _features(document, 0):
        _take(geometry, properties, fixes, name)
        if len(fixes.time) > MAX_POINTS:
            raise too_many(name)
    if not fixes.time:
        raise InputError.one(name, "file", "has no line and no point with a time", _RIGHT)
    time, clock = _seconds(fixes.time, notes)
    columns = TrackColumns(
        time_s=time,
        latitude_deg=np.array(fixes.latitude),
        longitude_deg=np.array(fixes.longitude),
        height_m=np.array(fixes.height),
        speed_mps=np.array(fixes.speed),
        course_deg=np.array(fixes.course),
        hdop=np.array(fixes.hdop),
        segment=np.array(fixes.segment, dtype=np.int64),
    )
    return track_from_columns(columns, name, notes, clock=clock)


def _features(node: object, depth: int) -> Iterator[tuple[dict[str, object], dict[str, object]]]:
    """Geometries with the properties that go with them, in file order."""
    if not isinstance(node, dict) or depth > 8:
        return
    match node.get("type"):
        case "FeatureCollection":
            features = node.get("features")
            for feature in features if isinstance(features, list) else []:
                yield from _features(feature, depth + 1)
        case "Feature":
            geometry, properties = node.get("geometry"), node.get("properties")
            inner = properties if isinstance(properties, dict) else {}
            nested = inner.get("coordinateProperties")
            inner = {**inner, **nested} if isinstance(nested, dict) else inner
            for found, _ in _features(geometry, depth + 1):
                yield found, inner
        case "GeometryCollection":
            geometries = node.get("geometries")
            for geometry in geometries if isinstance(geometries, list) else []:
                yield from _features(geometry, depth + 1)
        case "LineString" | "MultiLineString" | "Point":
            yield node, {}
        case _:
            return


def _take(geometry: dict[str, object], properties: dict[str, object], fixes: _Fixes, name: str) -> None:
    """Add the fixes of one geometry."""
    coordinates = geometry.get("coordinates")
    given = next((properties[key] for key in _TIME_KEYS if key in properties), None)
    if geometry["type"] == "Point":
        if given is not None:
            fixes.add(coordinates, given, properties)
        return
    lines = [coordinates] if geometry["type"] == "LineString" else coordinates
    for i, line in enumerate(lines if isinstance(lines, list) else []):
        if not isinstance(line, list):
            continue
        stamps = _of_line(given, i) if geometry["type"] == "MultiLineString" else given
        if isinstance(stamps, list) and len(stamps) != len(line):
            wrong = f"has {len(stamps)} times for {len(line)} positions"
            raise InputError.one(name, "coordTimes", wrong, "one time for each position")
        fixes.segments += 1
        for j, position in enumerate(line):
            fixes.add(position, stamps[j] if isinstance(stamps, list) else None, {})


def _of_line(given: object, i: int) -> object:
    """The times of one line where there is a list for each."""
    if isinstance(given, list) and i < len(given) and isinstance(given[i], list):
        return given[i]
    return given


def _seconds(stamps: list[object], notes: list[str]) -> tuple[FloatArray, Clock]:
    """Times as seconds since 1970: ISO 8601 texts, or numbers of seconds or milliseconds; and by which clock."""
    numbers = np.array([_float(stamp) for stamp in stamps])
    with np.errstate(invalid="ignore"):
        numbers = np.where(numbers > 1e11, numbers / 1000.0, numbers)
    parsed, naive, unreadable = times([stamp if isinstance(stamp, str) else None for stamp in stamps])
    if naive:
        notes.append(without_offset(naive))
    if unreadable:
        notes.append(f"{counted(unreadable, 'time')} cannot be read")
    found = np.where(np.isnan(parsed), numbers, parsed)
    return found, "local" if naive and naive == np.isfinite(found).sum() else "utc"


def _float(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return math.nan
    try:
        return float(value)
    except OverflowError:
        return math.nan
