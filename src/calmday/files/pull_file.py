"""Pulls and climbs: pull.toml with the vehicle and the tracks it names."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import cast

from calmday.files.local_time import LocalTime, read_zone
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, SeenFiles
from calmday.files.named_parts import days_of, named_track, named_vehicle
from calmday.files.toml_table import FaultList, Table
from calmday.files.weather_tables import read_weather
from calmday.records.pull import PULL_KINDS, Pull, PullDay, PullKind
from calmday.records.vehicle import POWER_STANDARDS, PowerStandard
from calmday.records.weather import TERRAINS, Terrain

_SPEEDS = ("1 km/h", "300 km/h")


def read_pulls(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> PullDay:
    """The pulls of a file with vehicle, tracks and weather. `name` the file as the user named it.

    `today` bounds the dates that are not the future; `seen` notes every file read. Raises InputError with every fault.
    """
    file = name or str(path)
    return pulls_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def pulls_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> PullDay:
    """The pulls in a document; else as `read_pulls`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    zone = read_zone(table)
    pulls = tuple(p for t in table.tables("pull") if (p := _pull(t, named.files, zone)) is not None)
    tracks = [pull.track for pull in pulls if pull.track is not None]
    days = days_of(tracks, zone)
    date = table.date("date", latest) or (days[0] if days else None)
    clock = LocalTime(zone, date, latest)
    day = PullDay(
        label=table.text("label") or stem,
        vehicle=named_vehicle(table, named.files, date),
        pulls=pulls,
        date=date,
        days=days,
        payload_kg=table.declared("payload", "mass", ("-2000 kg", "40000 kg")),
        tyre_pressure_pa=table.declared("tyre_pressure", "pressure", ("50 kPa", "1200 kPa")),
        terrain=cast("Terrain | None", table.choice("terrain", TERRAINS)),
        weather=read_weather(table.table("weather"), clock, date),
        correct_to=cast(PowerStandard, table.choice("correct_to", POWER_STANDARDS) or "ISO 1585"),
        chart_standard=cast("PowerStandard | None", table.choice("chart_standard", POWER_STANDARDS)),
        file=file,
    )
    if "pull" not in table:
        table.fault("pull", "is missing", "at least one [[pull]] table with gear and track, or gear, length and time")
    table.finish()
    if not faults.faults:
        _check_gears(day, table)
    faults.raise_any()
    return day


def _check_gears(day: PullDay, table: Table) -> None:
    gears = len(day.vehicle.gear_ratios)
    if gears == 0 or day.vehicle.final_drive is None:
        table.fault("vehicle", "states no gear_ratios or no final_drive", "both: power cannot be found without gearing")
        return
    for i, pull in enumerate(day.pulls):
        if pull.gear > gears:
            table.fault(f"pull[{i}].gear", f"{pull.gear} is not a gear of this vehicle", f"from 1 to {gears}")


def _pull(table: Table, files: NamedFiles, zone: dt.tzinfo | None) -> Pull | None:
    kind = table.choice("kind", PULL_KINDS)
    gear = table.integer("gear", 1, 24)
    track = named_track(table, files, zone)
    pull = Pull(
        kind=cast(PullKind, kind or "acceleration"),
        gear=gear or 1,
        track=track,
        from_speed_mps=table.quantity("from_speed", "speed", _SPEEDS),
        to_speed_mps=table.quantity("to_speed", "speed", _SPEEDS),
        grade=table.declared("grade", "fraction", ("-40 %", "40 %")),
        rise_m=table.declared("rise", "length", ("-2000 m", "2000 m")),
        length_m=table.declared("length", "length", ("50 m", "100 km")),
        times_s=table.quantities("time", "time", ("3 s", "3 h")),
        heading_deg=_heading(table),
        rotating_mass_kg=table.declared("rotating_mass", "mass", ("0 kg", "5000 kg")),
    )
    if "gear" not in table and kind != "start":
        table.fault("gear", "is missing", "the gear of the pull, 1 for first: power needs the rotating parts")
    _require(pull, table)
    table.finish()
    return pull if gear is not None or kind == "start" else None


def _require(pull: Pull, table: Table) -> None:
    timed = bool(pull.times_s)
    if "track" not in table and "time" not in table:
        table.fault("track", "is missing", "a track, or time with length for a climb timed by hand")
    if timed and pull.kind == "start":
        table.fault("time", "does not belong to a start", "a track: a start is timed from its recording")
    elif timed and pull.kind != "climb":
        table.fault("kind", "is not climb", 'kind = "climb": a time over a way gives power only at a held speed')
    if timed and pull.length_m is None and "length" not in table:
        table.fault("length", "is missing", 'the way that was timed, such as "5.0 km"')
    if timed and pull.grade is None and pull.rise_m is None and "rise" not in table and "grade" not in table:
        table.fault("rise", "is missing", "rise or grade of the hill, from a map: a receiver's height is too rough")
    low, high = pull.from_speed_mps, pull.to_speed_mps
    if low is not None and high is not None and low >= high and pull.kind == "acceleration":
        table.fault("to_speed", "is not above from_speed", "the speed at the end of the pull")


def _heading(table: Table) -> float | None:
    angle = table.quantity("heading", "angle", ("0 deg", "360 deg"))
    return None if angle is None else math.degrees(angle)
