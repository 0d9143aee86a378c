"""Readings off the dials: dials.toml with the vehicle and the tracks that it names."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import cast

from calmday.errors import InputError
from calmday.files.consumption_entry import consumption_of
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, SeenFiles
from calmday.files.named_parts import named_track
from calmday.files.toml_table import FaultList, Table
from calmday.files.tyre_code import parse_tyre
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.metrology.units import QuantityError, shown
from calmday.records.dials import (
    DRIVEN_BY,
    DialChange,
    Dials,
    DrivenBy,
    FuelGauge,
    GaugeReading,
    OdometerStretch,
    RangeAsked,
    SpeedReading,
)
from calmday.records.vehicle import Vehicle

_SPEEDS = ("5 km/h", "400 km/h")
_LITRES = ("0 L", "2000 L")
_READINGS = ("0 km", "10000000 km")


def read_dials(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> Dials:
    """The readings of a file. `name` the file as the user named it; `today` bounds the dates that are not the future.

    Raises InputError with every fault.
    """
    file = name or str(path)
    return dials_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def dials_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> Dials:
    """The readings in a document; else as `read_dials`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    date = table.date("date", latest)
    vehicle, ended_by = _vehicle(table, named.files, date)
    speedometer, odometer = table.table("speedometer"), table.table("odometer")
    dials = Dials(
        label=table.text("label") or stem,
        vehicle=vehicle,
        date=date,
        driven_by=cast(DrivenBy, table.choice("driven_by", DRIVEN_BY) or "gearbox"),
        speedometer=tuple(r for t in speedometer.tables("reading") if (r := _speed(t)) is not None),
        speedometer_division_mps=speedometer.quantity("division", "speed", ("0.1 km/h", "40 km/h")),
        odometer=tuple(s for t in odometer.tables("stretch") if (s := _stretch(t, named.files)) is not None),
        odometer_division_m=odometer.quantity("division", "length", ("1 m", "2 km")),
        gauge=_gauge(table.table("fuel_gauge")) if "fuel_gauge" in table else None,
        range=_range(table.table("range")) if "range" in table else None,
        changes=tuple(_change(t) for t in table.tables("change")),
        ended_by=ended_by,
        file=file,
    )
    speedometer.finish()
    odometer.finish()
    table.finish()
    if not faults.faults and not (dials.speedometer or dials.odometer or dials.gauge or dials.range or dials.changes):
        table.fault("speedometer", "and everything else is missing", "readings of at least one dial")
    faults.raise_any()
    return dials


def _vehicle(table: Table, files: NamedFiles, date: dt.date | None) -> tuple[Vehicle, str]:
    """The state in force, and what was changed later about tyres or axle."""
    nameless = Vehicle(name="This vehicle")
    entry = table.file_name("vehicle")
    if entry is None:
        return nameless, ""
    file = str(Path(table.faults.file).parent / entry)
    try:
        states = vehicle_states_of(files.document(entry, file), file, Path(entry).stem)
    except InputError as error:
        table.faults.extend(error.faults)
        return nameless, ""
    then = in_force(states, date)
    for state in states:
        later = date is not None and state.since is not None and state.since > date
        if later and _wheels(state) != _wheels(then):
            what = state.changes[-1] if state.changes else "tyres or axle changed"
            return then, f"{what} on {state.since}"
    return then, ""


def _wheels(vehicle: Vehicle) -> tuple[object, ...]:
    return vehicle.tyre, vehicle.rolling_circumference_m, vehicle.final_drive


def _speed(table: Table) -> SpeedReading | None:
    indicated = table.quantity("indicated", "speed", _SPEEDS)
    true = table.declared("satellite", "speed", _SPEEDS)
    for key, right in (("indicated", 'what the dial showed: "80 km/h"'), ("satellite", 'the receiver: "75.2 km/h"')):
        if key not in table:
            table.fault(key, "is missing", right)
    if indicated is not None and true is not None and not 0.4 < indicated / true.value < 2.5:
        table.fault("indicated", "is nowhere near the satellite speed", "both readings of the same moment, with units")
        indicated = None
    table.finish()
    return SpeedReading(indicated_mps=indicated, true_mps=true) if indicated is not None and true is not None else None


def _stretch(table: Table, files: NamedFiles) -> OdometerStretch | None:
    start, end = table.quantity("start", "length", _READINGS), table.quantity("end", "length", _READINGS)
    distance = table.declared("distance", "length", ("100 m", "3000 km"))
    track = named_track(table, files)
    for key in ("start", "end"):
        if key not in table:
            table.fault(key, "is missing", 'what the odometer showed: "12345.6 km"')
    if "distance" not in table and "track" not in table:
        table.fault("distance", "is missing", 'the true way: "20.15 km", or the track of a receiver')
    ok = start is not None and end is not None
    if start is not None and end is not None and end <= start:
        table.fault("end", "is not above start", "the reading after the stretch, larger than the one before")
        ok = False
    elif (
        start is not None and end is not None and distance is not None and not 0.3 < (end - start) / distance.value < 3
    ):
        table.fault("end", "is nowhere near the distance driven", "readings at both ends of the stretch, with units")
        ok = False
    table.finish()
    if not ok or start is None or end is None:
        return None
    return OdometerStretch(start_m=start, end_m=end, distance_m=distance, track=track)


def _gauge(table: Table) -> FuelGauge:
    gauge = FuelGauge(
        capacity_m3=table.declared("capacity", "volume", ("1 L", "2000 L")),
        at_start_m3=table.declared("at_start", "volume", _LITRES),
        density_kgpm3=table.declared("density", "density", ("450 kg/m^3", "1000 kg/m^3")),
        unusable_m3=table.declared("unusable", "volume", _LITRES),
        readings=tuple(r for t in table.tables("reading") if (r := _needle_reading(t)) is not None),
    )
    table.finish()
    return gauge


def _needle_reading(table: Table) -> GaugeReading | None:
    needle = _needle(table)
    content = table.declared("content", "volume", _LITRES)
    volume = table.declared("added", "volume", _LITRES) if _is_volume(table, "added") else None
    mass = table.declared("added", "mass", ("0 kg", "2000 kg")) if not _is_volume(table, "added") else None
    if "needle" not in table:
        table.fault("needle", "is missing", 'where the needle stands: 0 (empty) to 1 (full), or "3/4"')
    if "content" not in table and "added" not in table:
        table.fault("content", "is missing", 'what was in the tank then, or added = "10 L" since the reading before')
    table.finish()
    if needle is None or (content is None and volume is None and mass is None):
        return None
    return GaugeReading(needle=needle, content_m3=content, added_m3=volume, added_kg=mass)


def _is_volume(table: Table, key: str) -> bool:
    """Whether what stands there looks like a volume: a mass ends in g or a pound."""
    value = dict(table.items()).get(key)
    text = value.get("value") if isinstance(value, dict) else value
    return not (isinstance(text, str) and text.strip().split(" ")[-1] in ("g", "kg", "lb", "oz", "lbs", "t"))


def _needle(table: Table) -> float | None:
    """A share of the dial: 0.75, or "3/4"."""
    value = table.raw("needle")
    if value is None:
        return None
    if isinstance(value, str):
        top, _, bottom = value.partition("/")
        try:
            value = float(top) / float(bottom) if bottom else float(top)
        except (ValueError, ZeroDivisionError):
            value = None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not -0.1 <= value <= 1.1:
        table.fault(
            "needle", f"{shown(table.raw('needle'))} is not a place on the dial", '0 (empty) to 1 (full), or "3/4"'
        )
        return None
    return float(value)


def _range(table: Table) -> RangeAsked:
    asked = RangeAsked(
        needle=_needle(table),
        since_full_m=table.declared("since_full", "length", ("0 km", "5000 km")),
        consumption=consumption_of(table, "consumption"),
    )
    if "needle" not in table and "since_full" not in table:
        table.fault(
            "needle", "is missing", "where the needle stands now, or since_full: the way since the tank was full"
        )
    table.finish()
    return asked


def _change(table: Table) -> DialChange:
    tyre = None
    value = table.raw("tyre")
    if value is not None:
        try:
            tyre = parse_tyre(value)
        except QuantityError as error:
            table.fault("tyre", error.wrong, error.right)
    change = DialChange(
        what=table.text("what") or "",
        tyre=tyre,
        rolling_circumference_m=table.declared("rolling_circumference", "length", ("0.5 m", "5 m")),
        final_drive=table.number("final_drive", 0.2, 30.0),
    )
    if not {"tyre", "rolling_circumference", "final_drive"} & {key for key, _ in table.items()}:
        table.fault("tyre", "is missing", "what is to be changed: tyre, rolling_circumference or final_drive")
    table.finish()
    return change
