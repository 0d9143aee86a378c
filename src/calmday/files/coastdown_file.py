"""Coastdowns: coastdown.toml with the vehicle and the tracks it names."""

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
from calmday.records.coastdown import CoastdownDay, CoastdownPass
from calmday.records.weather import TERRAINS, Terrain

_SPEEDS = ("1 km/h", "300 km/h")


def read_coastdown(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> CoastdownDay:
    """The passes of a file with vehicle, tracks and weather. `name` the file as the user named it.

    `today` bounds the dates that are not the future; `seen` notes every file read. Raises InputError with every fault.
    """
    file = name or str(path)
    return coastdown_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def coastdown_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> CoastdownDay:
    """The passes in a document; else as `read_coastdown`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    zone = read_zone(table)
    passes = tuple(p for t in table.tables("pass") if (p := _pass(t, named.files, zone)) is not None)
    days = days_of((one.track for one in passes), zone)
    date = table.date("date", latest) or (days[0] if days else None)
    clock = LocalTime(zone, date, latest)
    day = CoastdownDay(
        label=table.text("label") or stem,
        vehicle=named_vehicle(table, named.files, date),
        passes=passes,
        date=date,
        days=days,
        payload_kg=table.declared("payload", "mass", ("-2000 kg", "40000 kg")),
        tyre_pressure_pa=table.declared("tyre_pressure", "pressure", ("50 kPa", "1200 kPa")),
        rotating_mass_kg=table.declared("rotating_mass", "mass", ("0 kg", "5000 kg")),
        warm_up_s=table.quantity("warm_up", "time", ("0 s", "1 d")),
        terrain=cast("Terrain | None", table.choice("terrain", TERRAINS)),
        weather=read_weather(table.table("weather"), clock, date),
        wanted=table.quantity("wanted", "fraction", ("0.2 %", "50 %")),
        file=file,
    )
    if "pass" not in table:
        table.fault("pass", "is missing", "a [[pass]] table with a track for each roll in neutral, or one long track")
    table.finish()
    faults.raise_any()
    return day


def _pass(table: Table, files: NamedFiles, zone: dt.tzinfo | None) -> CoastdownPass | None:
    track = named_track(table, files, zone)
    if "track" not in table:
        table.fault("track", "is missing", "the recording of this roll: a track, or a CSV with time_s,speed_kmh")
    angle = table.quantity("heading", "angle", ("0 deg", "360 deg"))
    high = table.quantity("from_speed", "speed", _SPEEDS)
    low = table.quantity("to_speed", "speed", _SPEEDS)
    if high is not None and low is not None and low >= high:
        table.fault("to_speed", "is not below from_speed", "the speed at the end of the roll, below that at its start")
    mass = table.declared("mass", "mass", ("50 kg", "60000 kg"))
    grade = table.declared("grade", "fraction", ("-10 %", "10 %"))
    table.finish()
    if track is None:
        return None
    return CoastdownPass(
        track=track,
        heading_deg=None if angle is None else math.degrees(angle),
        from_speed_mps=high,
        to_speed_mps=low,
        mass_kg=mass,
        grade=grade,
    )
