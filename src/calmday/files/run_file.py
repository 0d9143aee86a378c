"""One weighed drive: run.toml with everything it names, vehicle, tracks and weather."""

from __future__ import annotations

import datetime as dt
from pathlib import Path, PurePath
from typing import cast

import numpy as np

from calmday.errors import InputError
from calmday.files.guess_tables import guessing, predictions
from calmday.files.guess_tables import published as read_published
from calmday.files.local_time import LocalTime, read_zone
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, SeenFiles
from calmday.files.named_parts import date_of, on_date
from calmday.files.toml_table import FaultList, Table
from calmday.files.track_files import read_named_tracks
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.files.weather_tables import read_weather
from calmday.metrology.money import parse_volume_price
from calmday.metrology.units import QuantityError
from calmday.records.run import (
    ARRANGEMENTS,
    ENGINE_STARTS,
    WEIGHING_MOMENTS,
    Arrangement,
    EngineStart,
    Fill,
    FuelBatch,
    FuelSystem,
    Odometer,
    Run,
    Scale,
    Weighing,
    WeighingMoment,
)
from calmday.records.track import Track
from calmday.records.vehicle import FUEL_KINDS, FuelKind, Vehicle
from calmday.records.weather import TERRAINS, Terrain

_LOADS = ("0 kg", "2000 kg")
_SCALE_DOUBT = ("0.000001 kg", "5 kg")
_SCALE_NOISE_KG = 0.05
"""An empty can may read this much below its tare before that is called a fault."""


NAMELESS = "This vehicle"
"""What a vehicle without a build sheet is called on a sheet."""


def read_run(
    path: Path | str, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> Run:
    """The run with its vehicle, track and weather. `name` the file as the user named it.

    `today` bounds the dates that are not the future; the clock's own date where not given. `seen` notes every file
    that has been read. Raises InputError with every fault of this file and of those it names.
    """
    file = name or str(path)
    path = Path(path)
    return run_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def run_of(
    named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None, before_weighing: bool = False
) -> Run:
    """The run in a document. `file` as faults name it, `stem` the label where none is given; else as `read_run`.

    `before_weighing`: the drive is still to come, or its fuel still to be weighed; what is missing then is no fault.
    """
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    date = table.date("date", latest)
    zone = read_zone(table)
    track = _track(table, named.files, zone, latest)
    if date is None:
        date = date_of(track, zone)
    elif track is not None:
        track = on_date(track, date, zone)
    clock = LocalTime(zone, date, latest)
    published, odometer = table.raw("published"), table.raw("odometer")
    run = Run(
        label=table.text("label") or stem,
        vehicle=_vehicle(table, named.files, date),
        date=date,
        utc_offset_s=clock.offset_s(),
        track=track,
        engine_start=cast("EngineStart | None", table.choice("engine_start", ENGINE_STARTS)),
        payload_kg=table.declared("payload", "mass", ("-2000 kg", "40000 kg")),
        tyre_pressure_pa=table.declared("tyre_pressure", "pressure", ("50 kPa", "1200 kPa")),
        terrain=cast("Terrain | None", table.choice("terrain", TERRAINS)),
        fuel=read_fuel(table.table("fuel")),
        fuel_system=read_fuel_system(table.table("fuel_system")),
        scale=read_scale(table.table("scale")),
        weighings=_weighings(table),
        fills=_fills(table),
        weather=read_weather(table.table("weather"), clock, date),
        odometer=_odometer(table.table("odometer")) if odometer is not None else None,
        distance_m=table.declared("distance", "length", ("100 m", "5000 km")),
        moving_time_s=table.declared("duration", "time", ("10 s", "7 d")),
        laps=table.integer("laps", 1, 10_000),
        lap_length_m=table.declared("lap_length", "length", ("50 m", "1000 km")),
        predictions=predictions(table),
        guessing=guessing(table),
        published=read_published(table.table("published")) if published is not None else None,
        smallest_change_of_interest=table.quantity("smallest_change", "fraction", ("0.01 %", "100 %")),
        note=table.text("note") or "",
        question=table.text("question") or "",
        file=file,
    )
    if not before_weighing:
        _require(run, table)
    table.finish()
    faults.raise_any()
    return run


def _require(run: Run, table: Table) -> None:
    """Without fuel or without distance nothing can be computed."""
    moments = {weighing.when for weighing in run.weighings}
    if "weighing" not in table and "fill" not in table:
        table.fault("weighing", "is missing", "[[weighing]] tables before and after, or a [[fill]] table")
    elif any(fault.key.startswith("weighing[") for fault in table.faults.faults):
        pass  # a weighing that cannot be read is told of already; it is not missing
    elif moments and "after" not in moments:
        table.fault("weighing", 'has none with when = "after"', "what was left in the can, weighed after the drive")
    elif moments == {"after"}:
        table.fault("weighing", 'has none with when = "before"', "the can as weighed before the drive")
    reading = run.odometer is not None and run.odometer.start_m is not None and run.odometer.end_m is not None
    lapped = run.laps is not None and run.lap_length_m is not None
    if not any(key in table for key in ("track", "distance", "odometer", "laps", "lap_length")):
        table.fault("track", "is missing", "track, distance, laps with lap_length, or [odometer] start and end")
    elif not ("track" in table or "distance" in table or reading or lapped or table.faults.faults):
        key = next(key for key in ("odometer", "laps", "lap_length") if key in table)
        right = "laps together with lap_length, or [odometer] start and end, or track"
        table.fault(key, "alone does not give the distance", right)


def _vehicle(table: Table, files: NamedFiles, date: dt.date | None) -> Vehicle:
    if isinstance(table.raw("vehicle"), dict):
        # Nothing else that this file says, or does not, matters then.
        right = 'the run file that names it: vehicle = "vehicle.toml"'
        raise InputError.one(table.faults.file, "vehicle", "is a table: this is a build sheet, not a run file", right)
    entry = table.file_name("vehicle")
    if entry is None:
        return Vehicle(name=NAMELESS)
    name = _beside(table, entry)
    try:
        return in_force(vehicle_states_of(files.document(entry, name), name, PurePath(entry).stem), date)
    except InputError as e:
        table.faults.extend(e.faults)
        return Vehicle(name=NAMELESS)


def _track(table: Table, files: NamedFiles, zone: dt.tzinfo | None, latest: dt.date) -> Track | None:
    entries = table.file_names("track")
    if not entries:
        if "track" in table and table.raw("track") == []:
            table.fault("track", "is an empty list", "one or more files, or leave it out")
        return None
    try:
        track = read_named_tracks(files, entries, [_beside(table, e) for e in entries], zone)
    except InputError as e:
        table.faults.extend(e.faults)
        return None
    last = np.nanmax(track.time_s, initial=0.0)
    end = dt.datetime.combine(latest + dt.timedelta(days=1), dt.time(), dt.UTC).timestamp()
    if last >= end:
        when = dt.datetime.fromtimestamp(float(last), dt.UTC).date()
        table.fault("track", f"has fixes of {when}, which is in the future", f"fixes up to {latest}")
    return track


def _beside(table: Table, entry: str) -> str:
    """How to name a file that this one names."""
    return str(Path(table.faults.file).parent / entry)


def read_fuel(table: Table) -> FuelBatch:
    """The [fuel] table of a run or a plan."""
    price, currency = None, ""
    entry = table.raw("price")
    if entry is not None:
        try:
            price, currency = parse_volume_price(entry)
        except QuantityError as e:
            table.fault("price", e.wrong, e.right)
    fuel = FuelBatch(
        kind=cast("FuelKind | None", table.choice("kind", FUEL_KINDS)),
        density_kgpm3=table.declared("density", "density", ("480 kg/m^3", "1000 kg/m^3")),
        density_temperature_k=table.quantity("density_temperature", "temperature", ("-40 degC", "70 degC")),
        price_per_m3=price,
        price_currency=currency,
        batch=table.text("batch") or "",
    )
    table.finish()
    return fuel


def read_fuel_system(table: Table) -> FuelSystem:
    """The [fuel_system] table of a run or a plan."""
    system = FuelSystem(
        arrangement=cast("Arrangement | None", table.choice("arrangement", ARRANGEMENTS)),
        repeatability_kg=table.quantity("repeatability", "mass", ("0 kg", "5 kg")),
        null_test_kg=table.quantities("null_test", "mass", ("-5 kg", "5 kg")),
    )
    table.finish()
    return system


def read_scale(table: Table) -> Scale:
    """The [scale] table of a run or a plan."""
    scale = Scale(
        resolution_kg=table.quantity("resolution", "mass", _SCALE_DOUBT),
        repeatability_kg=table.quantity("repeatability", "mass", ("0 kg", "5 kg")),
        accuracy=table.quantity("accuracy", "fraction", ("0 %", "20 %")),
        capacity_kg=table.quantity("capacity", "mass", ("0.05 kg", "5000 kg")),
    )
    table.finish()
    return scale


def _weighings(table: Table) -> tuple[Weighing, ...]:
    return tuple(w for t in table.tables("weighing") if (w := _weighing(t)) is not None)


def _weighing(table: Table) -> Weighing | None:
    when = table.choice("when", WEIGHING_MOMENTS)
    if "when" not in table:
        table.fault("when", "is missing", f"one of {', '.join(WEIGHING_MOMENTS)}")
    gross = table.quantities("gross", "mass", _LOADS)
    if "gross" not in table or table.raw("gross") == []:
        table.fault("gross", "is missing", 'one or more readings such as ["16.605 kg", "16.610 kg"]')
    tare = table.quantity("tare", "mass", _LOADS)
    entered = table.raw("gross")
    listed = isinstance(entered, list)
    for i, reading in enumerate(gross):
        if tare is not None and reading < tare - _SCALE_NOISE_KG:
            table.fault(
                f"gross[{i}]" if listed else "gross",
                "is below the tare",
                "the can with its fuel, not less than tare",
            )
    batch = table.text("batch") or ""
    table.finish()
    if when is None or not gross:
        return None
    texts = tuple(str(item).strip() for item in (entered if isinstance(entered, list) else [entered]))
    return Weighing(when=cast(WeighingMoment, when), gross_kg=gross, tare_kg=tare or 0.0, batch=batch, as_entered=texts)


def _fills(table: Table) -> tuple[Fill, ...]:
    fills = []
    for fill in table.tables("fill"):
        volume = fill.declared("volume", "volume", ("0.01 L", "2000 L"))
        if "volume" not in fill:
            fill.fault("volume", "is missing", 'what was filled in, such as "31.4 L"')
        temperature = fill.quantity("temperature", "temperature", ("-40 degC", "70 degC"))
        batch = fill.text("batch") or ""
        fill.finish()
        if volume is not None:
            fills.append(
                Fill(
                    volume_m3=volume.value,
                    temperature_k=temperature,
                    batch=batch,
                    half_width_m3=volume.half_width,
                )
            )
    return tuple(fills)


def _odometer(table: Table) -> Odometer:
    limits = ("0 km", "10000000 km")
    odometer = Odometer(
        start_m=table.quantity("start", "length", limits),
        end_m=table.quantity("end", "length", limits),
        factor=table.declared_number("factor", 0.5, 2.0),
    )
    if odometer.start_m is not None and odometer.end_m is not None and odometer.end_m <= odometer.start_m:
        table.fault("end", "is not above start", "the reading after the drive, larger than the one before")
    table.finish()
    return odometer
