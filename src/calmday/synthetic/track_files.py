"""Tracks as files: GPX 1.1 and 1.0, NMEA 0183, CSV. Plain text, nothing shared with the readers."""

from __future__ import annotations

import datetime as dt
import math

from calmday.records.track import Track
from calmday.synthetic.scenario import TrackFormat

FILE_NAMES: dict[TrackFormat, str] = {
    "gpx 1.1": "out.gpx",
    "gpx 1.0": "out.gpx",
    "nmea": "out.nmea",
    "csv": "out.csv",
}


def _moment(second: float) -> dt.datetime:
    return dt.datetime.fromtimestamp(second, tz=dt.UTC)


def _points(track: Track, old: bool) -> list[str]:
    lines = []
    columns = (
        track.time_s,
        track.latitude_deg,
        track.longitude_deg,
        track.height_m,
        track.speed_mps,
        track.course_deg,
    )
    for second, lat, lon, height, speed, course in zip(*(c.tolist() for c in columns), strict=True):
        words = [f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}">']
        if not math.isnan(height):
            words.append(f"<ele>{height:.1f}</ele>")
        words.append(f"<time>{_moment(second):%Y-%m-%dT%H:%M:%SZ}</time>")
        if not math.isnan(speed):
            motion = (f"<course>{course:.1f}</course>", f"<speed>{speed:.2f}</speed>")
            words += motion if old else (f"<extensions>{motion[1]}{motion[0]}</extensions>",)
        lines.append("".join(words) + "</trkpt>")
    return lines


def gpx(track: Track, version: str, name: str) -> str:
    """A GPX file, one segment; receiver speed as an element (1.0) or in the extensions (1.1)."""
    space = f"http://www.topografix.com/GPX/{version.replace('.', '/')}"
    head = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx version="{version}" creator="calmday synthetic" xmlns="{space}">',
        f"<trk><name>{name}</name><trkseg>",
    ]
    return "\n".join([*head, *_points(track, version == "1.0"), "</trkseg></trk></gpx>", ""])


def _sentence(body: str) -> str:
    total = 0
    for letter in body:
        total ^= ord(letter)
    return f"${body}*{total:02X}"


def _degrees(value: float, width: int, letters: str) -> str:
    degree, minute = divmod(round(abs(value) * 60 * 1e5), 60 * 10**5)
    return f"{degree:0{width}d}{minute / 1e5:08.5f},{letters[0] if value >= 0 else letters[1]}"


def nmea(track: Track) -> str:
    """RMC and GGA sentences of each fix."""
    lines = []
    columns = (
        track.time_s,
        track.latitude_deg,
        track.longitude_deg,
        track.height_m,
        track.speed_mps,
        track.course_deg,
    )
    for second, lat, lon, height, speed, course in zip(*(c.tolist() for c in columns), strict=True):
        at = _moment(second)
        place = f"{_degrees(lat, 2, 'NS')},{_degrees(lon, 3, 'EW')}"
        motion = "," if math.isnan(speed) else f"{speed * 3600 / 1852:.2f},{course:.1f}"
        up = "" if math.isnan(height) else f"{height:.1f}"
        lines.append(_sentence(f"GPRMC,{at:%H%M%S}.00,A,{place},{motion},{at:%d%m%y},,,A"))
        lines.append(_sentence(f"GPGGA,{at:%H%M%S}.00,{place},1,09,1.0,{up},M,0.0,M,,"))
    return "\r\n".join([*lines, ""])


def csv(track: Track) -> str:
    """One line per fix, units in the header."""
    lines = ["time_utc,latitude,longitude,elevation_m,speed_mps"]
    columns = (track.time_s, track.latitude_deg, track.longitude_deg, track.height_m, track.speed_mps)
    for second, lat, lon, height, speed in zip(*(c.tolist() for c in columns), strict=True):
        up = "" if math.isnan(height) else f"{height:.1f}"
        fast = "" if math.isnan(speed) else f"{speed:.2f}"
        lines.append(f"{_moment(second):%Y-%m-%dT%H:%M:%SZ},{lat:.7f},{lon:.7f},{up},{fast}")
    return "\n".join([*lines, ""])


def track_text(track: Track, kind: TrackFormat, name: str) -> str:
    """The track in the wanted format."""
    if kind == "nmea":
        return nmea(track)
    if kind == "csv":
        return csv(track)
    return gpx(track, kind.split()[1], name)
