"""Tracks for giving away: without what lies near home, written anew so that nothing else of the original leaves."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.files.track_files import parse_track
from calmday.records.track import FIRST_CLOCK_S, FloatArray, Track

_EARTH_RADIUS_M = 6_371_008.8
"""Mean radius (IUGG, GRS 80): good to 0.6 % here, which is nothing against a radius chosen for privacy."""
_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<gpx version="1.1" creator="calmday" xmlns="http://www.topografix.com/GPX/1/1" '
    'xmlns:c="urn:calmday:track"><trk>\n'
)


class CutTrack(msgspec.Struct, frozen=True):
    """A track without its home end. `removed` fixes left out; `data` empty where nothing remains."""

    name: str
    data: bytes
    removed: int


def cut_home_end(tracks: Sequence[tuple[str, bytes]], radius_m: float) -> tuple[CutTrack, ...]:
    """The tracks of one drive, in order, without any fix within `radius_m` of its first fix or of its last.

    Raises InputError where a track cannot be read.
    """
    read = [parse_track(data, _suffix(name), name) for name, data in tracks]
    near = [np.zeros(len(track), dtype=bool) for track in read]
    for latitude, longitude in _ends(read):
        for i, track in enumerate(read):
            near[i] |= _distance_m(track, latitude, longitude) <= radius_m
    cut = []
    for (name, _), track, hidden in zip(tracks, read, near, strict=True):
        keep = ~hidden & np.isfinite(track.latitude_deg) & np.isfinite(track.longitude_deg)
        stem = name[: -len(_suffix(name))] if _suffix(name) else name
        dated = bool(np.all(track.time_s[keep] >= FIRST_CLOCK_S))
        data = (_gpx(track, keep) if dated else _csv(track, keep)) if keep.any() else b""
        cut.append(CutTrack(f"{stem}{'.gpx' if dated else '.csv'}", data, int((~keep).sum())))
    return tuple(cut)


def _suffix(name: str) -> str:
    last = name.rpartition("/")[2]
    return f".{last.rpartition('.')[2]}" if "." in last.lstrip(".") else ""


def _ends(tracks: Sequence[Track]) -> list[tuple[float, float]]:
    """Where the drive began and ended."""
    ends = []
    for track, place in ((tracks[0], 0), (tracks[-1], -1)) if tracks else ():
        placed = np.flatnonzero(np.isfinite(track.latitude_deg) & np.isfinite(track.longitude_deg))
        if placed.size:
            at = placed[place]
            ends.append((float(track.latitude_deg[at]), float(track.longitude_deg[at])))
    return ends


def _distance_m(track: Track, latitude_deg: float, longitude_deg: float) -> FloatArray:
    """Great-circle distance by the haversine formula; infinite where there is no position."""
    one, other = np.radians(track.latitude_deg), math.radians(latitude_deg)
    half_north, half_east = (one - other) / 2, np.radians(track.longitude_deg - longitude_deg) / 2
    chord = np.sin(half_north) ** 2 + np.cos(one) * math.cos(other) * np.sin(half_east) ** 2
    distance: FloatArray = 2 * _EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(chord, 0, 1)))
    return np.where(np.isfinite(distance), distance, math.inf)


def _gpx(track: Track, keep: NDArray[np.bool_]) -> bytes:
    """GPX 1.1 with all that a fix says; a new segment where the original had one and wherever fixes are left out."""
    parts = [_HEAD]
    before: tuple[int, int] | None = None
    for i in np.flatnonzero(keep):
        here = (int(track.segment[i]), int(i))
        if before is None or here[0] != before[0] or here[1] != before[1] + 1:
            parts.append("<trkseg>\n" if before is None else "</trkseg>\n<trkseg>\n")
        before = here
        when = dt.datetime.fromtimestamp(float(track.time_s[i]), dt.UTC)
        parts.append(f'<trkpt lat="{float(track.latitude_deg[i])!r}" lon="{float(track.longitude_deg[i])!r}">')
        parts.append(_element("ele", track.height_m[i]))
        parts.append(f"<time>{when.isoformat().replace('+00:00', 'Z')}</time>")
        parts.append(_element("hdop", track.hdop[i]))
        inner = _element("c:speed", track.speed_mps[i]) + _element("c:course", track.course_deg[i])
        parts.append(f"<extensions>{inner}</extensions></trkpt>\n" if inner else "</trkpt>\n")
    return "".join((*parts, "</trkseg>\n</trk></gpx>\n")).encode()


def _element(tag: str, value: float) -> str:
    return f"<{tag}>{float(value)!r}</{tag}>" if math.isfinite(value) else ""


def _csv(track: Track, keep: NDArray[np.bool_]) -> bytes:
    """Delimited text for a track without dates, which GPX has no way to write."""
    columns = {
        "time_s": track.time_s,
        "latitude_deg": track.latitude_deg,
        "longitude_deg": track.longitude_deg,
        "elevation_m": track.height_m,
        "speed_mps": track.speed_mps,
        "course_deg": track.course_deg,
        "hdop": track.hdop,
        "segment": track.segment,
    }
    lines = [",".join(columns)]
    for i in np.flatnonzero(keep):
        cells = [float(values[i]) for values in columns.values()]
        lines.append(",".join(repr(cell) if math.isfinite(cell) else "" for cell in cells))
    return ("\n".join(lines) + "\n").encode()
