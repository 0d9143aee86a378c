"""What stands beside a recording: sound.toml, with the build sheet, the recording and a track it names."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

from calmday.errors import InputError
from calmday.files.local_time import LocalTime, read_zone
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, SeenFiles
from calmday.files.named_parts import named_track, named_vehicle
from calmday.files.sound_recording import read_recording, recording_of_bytes
from calmday.files.text_file import MEGABYTE
from calmday.files.toml_table import FaultList, Table
from calmday.records.recording import Recording, Sound

HELD_LIMIT = 200 * MEGABYTE
"""Largest recording that is taken into memory whole, where it does not lie in a folder."""


def read_sound(path: Path, *, name: str | None = None, seen: SeenFiles | None = None) -> Sound:
    """A recording with what was noted beside it, from sound.toml. Raises InputError with every fault."""
    file = name or str(path)
    return sound_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem)


def sound_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None, bare: bool = False) -> Sound:
    """The recording in a document; else as `read_sound`. `bare`: the recording itself is judged elsewhere."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    date = table.date("date", latest)
    clock = LocalTime(read_zone(table), date, latest)
    vehicle = named_vehicle(table, named.files, date, needed=False)
    cylinders = table.integer("cylinders", 1, 24) or vehicle.engine.cylinders
    strokes = table.integer("strokes", 2, 4) or vehicle.engine.strokes
    if strokes == 3:
        table.fault("strokes", '"3" is not possible', "2 or 4")
    if cylinders is None and not faults.faults:
        table.fault(
            "cylinders", "is missing", "how many cylinders, here or in the build sheet: the sound alone leaves it open"
        )
    gear = table.integer("gear", 1, 24)
    sound = Sound(
        label=table.text("label") or stem,
        recording=_recording(table, named.files, bare),
        vehicle=vehicle,
        cylinders=cylinders or 1,
        strokes=strokes,
        uneven=table.boolean("uneven_firing") or False,
        date=date,
        track=named_track(table, named.files, clock.zone),
        started_s=clock.seconds(table, "started"),
        speed_mps=table.declared("speed", "speed", ("3 km/h", "300 km/h")),
        gear=gear,
        listened_by=table.text("listened_by") or "",
        place=table.text("microphone") or "",
        heard=table.text("heard") or "",
        file=file,
    )
    if gear is not None and vehicle.gear_ratios and gear > len(vehicle.gear_ratios):
        table.fault("gear", f"{gear} is not a gear of this vehicle", f"from 1 to {len(vehicle.gear_ratios)}")
    table.finish()
    faults.raise_any()
    return sound


def _recording(table: Table, files: NamedFiles, bare: bool) -> Recording:
    silent = Recording(rate_hz=8000.0, seconds=0.0, blocks=lambda: iter(()))
    entry = table.file_name("recording")
    if entry is None or bare:
        if not bare and "recording" not in table:
            table.fault("recording", "is missing", 'the recording: recording = "cab.wav" (WAV, FLAC or OGG)')
        return silent
    name = str(Path(table.faults.file).parent / entry)
    try:
        if not isinstance(files, FolderFiles):
            return recording_of_bytes(files.data(entry, name, HELD_LIMIT), name)
        found = read_recording(files.folder / entry, name)
        if files.seen is not None:
            note_seen(files.seen, files.folder / entry)
        return found
    except InputError as error:
        table.faults.extend(error.faults)
        return silent


def note_seen(seen: SeenFiles, path: Path) -> None:
    """Note a large file as read, without holding it."""
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    seen.add(path, b"")
    seen.sha256[next(reversed(seen.sha256))] = digest
