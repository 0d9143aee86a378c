"""Tracks from files of any known format: what a file holds decides, then its name."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path, PurePath

import numpy as np

from calmday.errors import Fault, InputError
from calmday.files.named_files import NamedFiles
from calmday.files.text_file import MEGABYTE, decoded, read_bytes
from calmday.files.track_columns import in_zone
from calmday.metrology.units import shown
from calmday.records.track import Track

SIZE_LIMIT = 400 * MEGABYTE
_FORMATS = "GPX, NMEA 0183, GeoJSON or CSV"
_HEAD_BYTES = 4096


def read_track(path: Path, name: str | None = None) -> Track:
    """The track of one file. `name` the file as the user named it. Raises InputError."""
    name = name or str(path)
    return parse_track(read_bytes(path, name, SIZE_LIMIT), path.suffix, name)


def parse_track(data: bytes, suffix: str, name: str) -> Track:
    """The track in the bytes of a file. `suffix` the end of its name (".gpx"). Raises InputError."""
    match _format(data, suffix.lower(), name):
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
    return _all([partial(read_track, path, name) for path, name in zip(paths, names, strict=True)])


def read_named_tracks(
    files: NamedFiles, entries: Sequence[str], names: Sequence[str], zone: dt.tzinfo | None = None
) -> Track:
    """As `read_tracks`, for the tracks that a document names; `zone` that of times that do not say theirs."""

    def read(entry: str, name: str) -> Track:
        return in_zone(parse_track(files.data(entry, name, SIZE_LIMIT), PurePath(entry).suffix, name), zone)

    return _all([partial(read, entry, name) for entry, name in zip(entries, names, strict=True)])


def _all(readers: Sequence[Callable[[], Track]]) -> Track:
    tracks: list[Track] = []
    faults: list[Fault] = []
    for read in readers:
        try:
            tracks.append(read())
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
        clock=tracks[0].clock if len({t.clock for t in tracks}) == 1 else "relative",
        files=tuple(file for t in tracks for file in t.files),
        notes=tuple(f"{t.files[0]}: {note}" for t in tracks for note in t.notes),
    )


def _format(data: bytes, suffix: str, name: str) -> str:
    """Which reader a file is for: by its first characters, then by the end of its name."""
    head = data[:_HEAD_BYTES].removeprefix(b"\xef\xbb\xbf").lstrip()
    if not head:
        raise InputError.one(name, "file", "is empty", f"a track in {_FORMATS}")
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        if head.decode("utf-16", "replace").lstrip().startswith("<"):
            return "gpx"
        decoded(data, name)
    if head.startswith(b"<"):
        return "gpx"
    if head.startswith((b"{", b"[")):
        return "geojson"
    lines = [line for line in head.splitlines() if line.strip() and not line.lstrip().startswith(b"#")]
    if any(line[:1] in b"$!" and b"," in line for line in lines[:50] if line):
        return "nmea"
    by_name = {".gpx": "gpx", ".nmea": "nmea", ".geojson": "geojson", ".json": "geojson"}.get(suffix)
    if by_name:
        return by_name
    if suffix in (".kml", ".kmz", ".fit", ".tcx", ".igc", ".ubx", ".sbp"):
        raise InputError.one(name, "file", f"is a {suffix[1:]} file", f"the track exported as {_FORMATS}")
    if not any(separator in head for separator in (b",", b";", b"\t")):
        first = lines[0][:60].decode("utf-8", "replace") if lines else ""
        raise InputError.one(
            name, "file", f"starts with {shown(first)}, no known track format", f"a track in {_FORMATS}"
        )
    return "csv"
