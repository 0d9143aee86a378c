"""The build sheet vehicle.toml, with its dated changes."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path, PurePath
from typing import cast

from calmday.errors import InputError
from calmday.files.full_load_file import parse_full_load
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles
from calmday.files.text_file import MEGABYTE, decoded
from calmday.files.toml_table import FaultList, Table
from calmday.files.tyre_code import parse_tyre
from calmday.metrology.units import QuantityError
from calmday.records.vehicle import (
    BODIES,
    CURVE_PLACES,
    CURVE_RATINGS,
    FUEL_KINDS,
    INDUCTIONS,
    INJECTIONS,
    POWER_STANDARDS,
    Body,
    CurvePlace,
    CurveRating,
    Engine,
    FuelKind,
    FullLoadCurve,
    Induction,
    Injection,
    PowerStandard,
    TyreSize,
    Vehicle,
)

ENGINE_KEYS = (
    *("displacement", "strokes", "cylinders", "fuel", "induction", "injection"),
    *("idle_speed", "governed_speed", "overrun_fuel_cut"),
    *("full_load", "full_load_standard", "full_load_rating", "full_load_at"),
)
VEHICLE_KEYS = (
    *(
        "name",
        "body",
        "test_mass",
        "frontal_area",
        "width",
        "height",
        "drag_coefficient",
        "rolling_resistance",
    ),
    *("tyre", "rolling_circumference", "tyre_pressure", "gear_ratios", "final_drive", "driveline_efficiency"),
)
_ELSEWHERE = {**dict.fromkeys(ENGINE_KEYS, "engine"), **dict.fromkeys(VEHICLE_KEYS, "vehicle")}

# A change that names one of a group replaces what the sheet said by the other.
_SAME_THING = (
    (frozenset({"tyre"}), frozenset({"rolling_circumference"})),
    (frozenset({"frontal_area"}), frozenset({"width", "height"})),
)


def read_vehicle(path: Path, on: dt.date | None = None, *, name: str | None = None) -> Vehicle:
    """The state of the vehicle in force on a date, or the last one where no date is given. Raises InputError.

    `name` the file as the user named it.
    """
    return in_force(read_vehicle_states(path, name=name), on)


def in_force(states: Sequence[Vehicle], on: dt.date | None) -> Vehicle:
    """The state in force on a date, or the last one where no date is given."""
    return [s for s in states if on is None or s.since is None or s.since <= on][-1]


def read_vehicle_states(path: Path, *, name: str | None = None) -> tuple[Vehicle, ...]:
    """All states of the vehicle: as built, then one for each date with changes. Raises InputError."""
    file = name or str(path)
    return vehicle_states_of(FolderFiles(path.parent).document(path.name, file), file, path.stem)


def vehicle_states_of(named: NamedDocument, file: str, stem: str) -> tuple[Vehicle, ...]:
    """All states of the vehicle in a document. `file` as faults name it, `stem` the vehicle's name where none is given.

    Raises InputError.
    """
    faults = FaultList(file, named.kept)
    source = (named.files, stem)
    document = Table(named.tables, faults)
    merged: dict[str, dict[str, object]] = {}
    for key in ("vehicle", "engine"):
        document.table(key)
        value = document.raw(key)
        merged[key] = dict(value) if isinstance(value, dict) else {}
    changes = document.tables("change")
    document.finish(_ELSEWHERE)
    states = [_vehicle(merged, faults, source, None, ())]
    for since, what, change in _dated(changes, faults):
        _apply(change, merged, faults)
        earlier = states[-1].changes
        if states[-1].since == since:
            states.pop()
        states.append(_vehicle(merged, faults, source, since, (*earlier, *what)))
    faults.raise_any()
    return tuple(states)


def _dated(changes: list[Table], faults: FaultList) -> list[tuple[dt.date, tuple[str, ...], Table]]:
    """The changes in the order of their dates, each with its description."""
    found = []
    for table in changes:
        since = table.date("date", dt.date(2100, 12, 31))
        if "date" not in table:
            table.fault("date", "is missing", "the date from which the change holds, such as 2026-04-12")
        what = table.text("what")
        if since is not None:
            found.append((since, (what,) if what else (), table))
    return sorted(found, key=lambda item: item[0])


def _apply(change: Table, merged: dict[str, dict[str, object]], faults: FaultList) -> None:
    """Put the changed keys over those in force, and remember where each was written."""
    nested = {key: change.table(key) for key in ("vehicle", "engine")}
    for section, table in (("vehicle", change), *nested.items()):
        new = {k: v for k, v in table.items() if k not in ("date", "what", "vehicle", "engine")}
        if table is change:
            _misplaced_engine_keys(change, new)
        for ours, theirs in (*_SAME_THING, *((b, a) for a, b in _SAME_THING)):
            if not ours.isdisjoint(new):
                for key in theirs - new.keys():
                    merged[section].pop(key, None)
        for key, value in new.items():
            merged[section][key] = value
            faults.moved[f"{section}.{key}"] = table.path(key)


def _misplaced_engine_keys(change: Table, new: dict[str, object]) -> None:
    for key in [k for k in new if k in ENGINE_KEYS]:
        change.fault(key, "stands in the wrong place", "put it under [change.engine]")
        del new[key]


def _vehicle(
    merged: dict[str, dict[str, object]],
    faults: FaultList,
    source: tuple[NamedFiles, str],
    since: dt.date | None,
    what: tuple[str, ...],
) -> Vehicle:
    values = copy.deepcopy(merged)
    files, stem = source
    table = Table(values["vehicle"], faults, "vehicle")
    vehicle = Vehicle(
        name=table.text("name") or stem,
        body=cast(Body, table.choice("body", BODIES) or "other"),
        test_mass_kg=table.declared("test_mass", "mass", ("50 kg", "60000 kg")),
        frontal_area_m2=table.declared("frontal_area", "area", ("0.2 m^2", "15 m^2")),
        width_m=table.declared("width", "length", ("0.3 m", "3.5 m")),
        height_m=table.declared("height", "length", ("0.3 m", "4.5 m")),
        drag_coefficient=table.declared_number("drag_coefficient", 0.05, 2.0),
        rolling_resistance=table.declared_number("rolling_resistance", 0.003, 0.1),
        tyre=_tyre(table),
        rolling_circumference_m=table.declared("rolling_circumference", "length", ("0.5 m", "5 m")),
        tyre_pressure_pa=table.declared("tyre_pressure", "pressure", ("50 kPa", "1200 kPa")),
        gear_ratios=_gear_ratios(table),
        final_drive=table.number("final_drive", 0.2, 30.0),
        driveline_efficiency=table.declared_number("driveline_efficiency", 0.5, 1.0),
        engine=_engine(Table(values["engine"], faults, "engine"), files),
        since=since,
        changes=what,
        file=faults.file,
    )
    table.finish(dict.fromkeys(ENGINE_KEYS, "engine"))
    return vehicle


def _tyre(table: Table) -> TyreSize | None:
    value = table.raw("tyre")
    if value is None:
        return None
    try:
        return parse_tyre(value)
    except QuantityError as e:
        table.fault("tyre", e.wrong, e.right)
        return None


def _gear_ratios(table: Table) -> tuple[float, ...]:
    ratios = table.numbers("gear_ratios", 0.2, 20.0)
    if len(ratios) > 24:
        table.fault("gear_ratios", f"has {len(ratios)} ratios", "at most 24, one for each forward gear")
    if any(b >= a for a, b in pairwise(ratios)):
        table.fault("gear_ratios", "do not fall from gear to gear", "first gear first, each ratio once")
    return ratios


def _engine(table: Table, files: NamedFiles) -> Engine:
    strokes = table.integer("strokes", 2, 4)
    if strokes == 3:
        table.fault("strokes", '"3" is not possible', "2 or 4")
    engine = Engine(
        displacement_m3=table.declared("displacement", "volume", ("0.02 L", "30 L")),
        strokes=strokes or 4,
        cylinders=table.integer("cylinders", 1, 24),
        fuel=cast("FuelKind | None", table.choice("fuel", FUEL_KINDS)),
        induction=cast("Induction | None", table.choice("induction", INDUCTIONS)),
        injection=cast("Injection | None", table.choice("injection", INJECTIONS)),
        idle_speed_rps=table.declared("idle_speed", "engine speed", ("150 rpm", "3000 rpm")),
        governed_speed_rps=table.declared("governed_speed", "engine speed", ("400 rpm", "20000 rpm")),
        full_load=_full_load(table, files),
        full_load_standard=cast("PowerStandard | None", table.choice("full_load_standard", POWER_STANDARDS)),
        full_load_rating=cast("CurveRating | None", table.choice("full_load_rating", CURVE_RATINGS)),
        full_load_at=cast("CurvePlace | None", table.choice("full_load_at", CURVE_PLACES)),
        overrun_fuel_cut=table.boolean("overrun_fuel_cut"),
    )
    idle, governed = engine.idle_speed_rps, engine.governed_speed_rps
    if idle and governed and idle.value >= governed.value:
        table.fault("idle_speed", "is not below governed_speed", "an idle speed below the governed speed")
    table.finish(dict.fromkeys(VEHICLE_KEYS, "vehicle"))
    return engine


def _full_load(table: Table, files: NamedFiles) -> FullLoadCurve | None:
    entry = table.file_name("full_load")
    if entry is None:
        return None
    name = str(Path(table.faults.file).parent / entry)
    try:
        return parse_full_load(decoded(files.data(entry, name, MEGABYTE), name), PurePath(entry).name, name)
    except InputError as e:
        table.faults.extend(e.faults)
        return None
