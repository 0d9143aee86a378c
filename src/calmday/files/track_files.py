"""Tracks from files of any known format: what a file holds decides, then its name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from calmday.errors import Fault, InputError
from calmday.files.text_file import MEGABYTE, read_bytes
from calmday.metrology.units import shown
from calmday.records.track import Track

SIZE_LIMIT = 400 * MEGABYTE
_FORMATS = "GPX, NMEA 0183, GeoJSON or CSV"
_HEAD_BYTES = 4096


def read_track(path: Path, name: str | None = None) -> Track:
    """The track of one file. `name` the file as the user named it. Raises InputError."""
    name = name or str(path)
    data = read_bytes(path, name, SIZE_LIMIT)
    match _format(data, path, name):
        case "gpx":
            from calmday.files.gpx import parse_gpx  # noqa: PLC0415

            return parse_gpx(data, name)
        case "nmea":
            from calmday.files.nmea import parse_nmea  # noqa: PLC0415

            return parse_nmea(data, name)
        case "geojson":
            from calmday.files.geojson_track import parse_geojson  # noqa: PLC0415

            return parse_geojson(data, name)
        case _:
            from calmday.files.csv_track import parse_csv_track  # noqa: PLC0415

            return parse_csv_track(data, name)


def read_tracks(paths: Sequence[Path], names: Sequence[str] | None = None) -> Track:
    """One track of several files, in the order given, each starting a new segment.

    `names` the files as the user named them. Raises InputError with the faults of all files.
    """
    names = names if names is not None else [str(path) for path in paths]
    tracks: list[Track] = []
    faults: list[Fault] = []
    for path, name in zip(paths, names, strict=True):
        try:
            tracks.append(read_track(path, name))
        except InputError as e:
            faults += e.faults
    if faults:
        raise InputError(faults)
    return joined(tracks)


def joined(tracks: Sequence[Track]) -> Track:
    """Several tracks, at least one, as one; segments keep counting up and each note names its file."""
    if len(tracks) == 1:
        return tracks[0]
    segments = []
    after = 0
    for track in tracks:
        segments.append(track.segment - track.segment.min() + after)
        after = int(segments[-1].max()) + 1
    return Track(
        time_s=np.concatenate([t.time_s for t in tracks]),
        latitude_deg=np.concatenate([t.latitude_deg for t in tracks]),
        longitude_deg=np.concatenate([t.longitude_deg for t in tracks]),
        height_m=np.concatenate([t.height_m for t in tracks]),
        speed_mps=np.concatenate([t.speed_mps for t in tracks]),
        course_deg=np.concatenate([t.course_deg for t in tracks]),
        hdop=np.concatenate([t.hdop for t in tracks]),
        segment=np.concatenate(segments),
        files=tuple(file for t in tracks for file in t.files),
        notes=tuple(f"{t.files[0]}: {note}" for t in tracks for note in t.notes),
    )


def _format(data: bytes, path: Path, name: str) -> str:
    """Which reader a file is for: by its first characters, then by the end of its name."""
    head = data[:_HEAD_BYTES].removeprefix(b"\xef\xbb\xbf").lstrip()
    if not head:
        raise InputError.one(name, "file", "is empty", f"a track in {_FORMATS}")
    if head.startswith(b"<") or head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "gpx"
    if head.startswith((b"{", b"[")):
        return "geojson"
    lines = [line for line in head.splitlines() if line.strip() and not line.lstrip().startswith(b"#")]
    if any(line[:1] in b"$!" and b"," in line for line in lines[:50] if line):
        return "nmea"
    by_name = {".gpx": "gpx", ".nmea": "nmea", ".geojson": "geojson", ".json": "geojson"}.get(
        path.suffix.lower()
    )
    if by_name:
        return by_name
    if path.suffix.lower() in (".kml", ".kmz", ".fit", ".tcx", ".igc", ".ubx", ".sbp"):
        raise InputError.one(
            name, "file", f"is a {path.suffix[1:]} file", f"the track exported as {_FORMATS}"
        )
    if not any(separator in head for separator in (b",", b";", b"\t")):
        first = lines[0][:60].decode("utf-8", "replace") if lines else ""
        raise InputError.one(
            name, "file", f"starts with {shown(first)}, no known track format", f"a track in {_FORMATS}"
        )
    return "csv"
