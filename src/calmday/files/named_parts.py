"""What several kinds of test files name alike: the build sheet, and tracks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.files.named_files import NamedFiles
from calmday.files.toml_table import Table
from calmday.files.track_files import read_named_tracks
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.records.track import FIRST_CLOCK_S, Track
from calmday.records.vehicle import Vehicle

SAME_SESSION_S: Final = 6 * 3600.0
"""A pause longer than this ends a session; assumed."""


def named_track(table: Table, files: NamedFiles, zone: dt.tzinfo | None = None) -> Track | None:
    """The track of a table, of one file or several; None where there is none or it is at fault, which is noted.

    `zone` that of times that do not say theirs.
    """
    entries = table.file_names("track")
    if not entries:
        return None
    folder = Path(table.faults.file).parent
    try:
        return read_named_tracks(files, entries, [str(folder / entry) for entry in entries], zone)
    except InputError as error:
        table.faults.extend(error.faults)
        return None


def date_of(track: Track | None, zone: dt.tzinfo | None) -> dt.date | None:
    """The date of the first fix, for a test that gives none."""
    if track is None:
        return None
    dated = track.time_s[np.isfinite(track.time_s)]
    if dated.size == 0 or dated[0] < FIRST_CLOCK_S:
        return None
    return dt.datetime.fromtimestamp(float(dated[0]), tz=zone or dt.UTC).date()


def on_date(track: Track, date: dt.date, zone: dt.tzinfo | None) -> Track:
    """A track whose times are times of day alone, put on the date of the test; any other as it is."""
    if track.clock != "time of day":
        return track
    midnight = dt.datetime.combine(date, dt.time(), dt.UTC)
    first = midnight + dt.timedelta(seconds=float(track.time_s[0]))
    # The test's date is local, the receiver's time of day is UTC: they may lie a day apart.
    days = (date - first.astimezone(zone or dt.UTC).date()).days
    note = f"the track's times of day are taken as of {date}, the date of the run"
    return msgspec.structs.replace(
        track,
        time_s=track.time_s + (midnight.timestamp() + 86_400.0 * days),
        clock="utc",
        notes=(*track.notes, note),
    )


def days_of(tracks: Iterable[Track], zone: dt.tzinfo | None) -> tuple[dt.date, ...]:
    """The dates of the sessions that tracks were recorded in, in order; those without a date tell nothing.

    Fixes less than `SAME_SESSION_S` apart are of one session, which has the date of its first: one may go on past
    midnight.
    """
    times = np.sort(np.concatenate([np.zeros(0), *(track.time_s for track in tracks)]))
    dated = times[np.isfinite(times) & (times >= FIRST_CLOCK_S)]
    first = dated[np.diff(dated, prepend=-np.inf) > SAME_SESSION_S]
    return tuple(sorted({dt.datetime.fromtimestamp(float(time), tz=zone or dt.UTC).date() for time in first}))


def named_vehicle(table: Table, files: NamedFiles, date: dt.date | None, *, needed: bool = True) -> Vehicle:
    """The build sheet that a file names, as in force on a date; where it is at fault, which is noted, an empty one.

    `needed`: whether it is a fault to name none.
    """
    nameless = Vehicle(name="This vehicle")
    entry = table.file_name("vehicle")
    if entry is None:
        if needed and "vehicle" not in table:
            table.fault("vehicle", "is missing", 'the build sheet: vehicle = "vehicle.toml"')
        return nameless
    file = str(Path(table.faults.file).parent / entry)
    try:
        return in_force(vehicle_states_of(files.document(entry, file), file, Path(entry).stem), date)
    except InputError as error:
        table.faults.extend(error.faults)
        return nameless
