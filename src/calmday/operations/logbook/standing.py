"""Where a vehicle stands: its best figure, how it moved with each change, what to do next, what nobody said yet."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.logbook import Document, Logbook, StoredResult
from calmday.logbook.compose import LINK
from calmday.logbook.states import BuildState, Difference, build_states, date_of, differences, fields_of, state_on
from calmday.metrology.figure import Figure
from calmday.model import defaults
from calmday.model.cruise import level_cruise, steady_drive
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.model.vehicle_model import VehicleModel, build
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import result_of
from calmday.procedures.standing import Combined, RunFigure, StateFigure, state_figures
from calmday.procedures.what_next import NextStep, what_next
from calmday.records.declared import Declared
from calmday.records.vehicle import Vehicle
from calmday.reports.json_result import readable

STEADY_MPS = 80 / 3.6
_STEP = 0.5
_NOT_COMPARED = ("label", "date", "track", "weighing", "fill", "weather", "note", "odometer", "prediction", "vehicle")


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """Where a vehicle stands.

    `best` its figure as it is now, None where no run of this state has one; `best_state` the index in `states` that the
    newest figure comes from, -1 for none. `next_steps` after the newest run with a result. `unreduced` runs without a
    result; `left_out` runs whose result must not be used, by what they say.
    """

    vehicle_id: str
    vehicle: str
    best: Combined | None
    best_state: int
    states: tuple[StateFigure, ...]
    next_steps: tuple[NextStep, ...]
    unreduced: tuple[str, ...]
    left_out: Mapping[str, str]


class BuildDifference(msgspec.Struct, frozen=True, kw_only=True):
    """What differs between a run and the one before it of the same vehicle: on the vehicle, and in how it was run."""

    previous_run: str
    previous_name: str
    vehicle: tuple[Difference, ...]
    run: tuple[Difference, ...]
    what: tuple[str, ...]


class FieldDoubt(msgspec.Struct, frozen=True, kw_only=True):
    """Fields of the build sheet that nobody filled in: what is assumed, why, and what filling them in would take away.

    `half_width_percent` of the fuel at a steady 80 km/h on the level, 95 %: the doubt there is now less what would be
    left with the usual doubt of a declared figure.
    """

    keys: tuple[str, ...]
    assumed: float
    unit: str
    source: str
    half_width_percent: float


def standing(book: Logbook, vehicle_id: str) -> Standing:
    """Where a vehicle stands, from the newest result of each of its runs. As many queries as one run takes."""
    vehicle = book.document(vehicle_id)
    if vehicle.subject.kind != "vehicle":
        raise InputError.one(book.where, vehicle_id[:40], f"is a {vehicle.subject.kind}", "a vehicle")
    states = build_states(vehicle.tables)
    runs = [run for run in book.subjects("run", keys=("date", f"{LINK}route")) if run.parent == vehicle_id]
    usable = [run for run in runs if not run.void]
    results = book.newest_results([run.id for run in usable]) if usable else {}
    figures, left_out = [], {}
    for run in usable:
        stored = results.get(run.id)
        if stored is None:
            continue
        state = states.index(state_on(states, date_of(run.values.get("date", ""))))
        figure = _figure(stored, state, run.values.get(f"{LINK}route", "") or run.id)
        if isinstance(figure, str):
            left_out[run.id] = figure
        else:
            figures.append(figure)
    found = state_figures([(state.since, state.what) for state in states], figures)
    known = [index for index, state in enumerate(found) if state.best is not None]
    newest = max((stored.id for stored in results.values()), default="")
    return Standing(
        vehicle_id=vehicle_id,
        vehicle=vehicle.subject.name,
        best=found[-1].best,
        best_state=known[-1] if known else -1,
        states=found,
        next_steps=next_steps(book, book.result(newest)) if newest else (),
        unreduced=tuple(run.id for run in usable if run.id not in results),
        left_out=left_out,
    )


def next_steps(book: Logbook, stored: StoredResult) -> tuple[NextStep, ...]:
    """What to do next after a result, the most information per hour first; nothing after one that another version of
    the program kept in another form."""
    result = readable(result_of, stored)
    if result is None:
        return ()
    document = book.document(stored.run_id)
    said = set(fields_of(document.tables))
    if document.vehicle is not None:
        said |= set(fields_of(document.vehicle.tables))
    return what_next(result, said)


def changed_since_last_run(book: Logbook, run_id: str) -> BuildDifference | None:
    """What differs from the last run before this one that is not void; None where there is none."""
    document = book.document(run_id)
    if document.vehicle is None:
        return None
    runs = [
        run
        for run in book.subjects("run", keys=("date",))
        if run.parent == document.vehicle.subject.id and not run.void and run.id != run_id
    ]
    here = (_day(document), run_id)
    earlier = [run for run in runs if (run.values.get("date", ""), run.id) < here]
    if not earlier:
        return None
    last = max(earlier, key=lambda run: (run.values.get("date", ""), run.id))
    before = book.document(last.id)
    states = build_states(document.vehicle.tables)
    one, other = _state(states, before), _state(states, document)
    between = states[states.index(one) + 1 : states.index(other) + 1]
    return BuildDifference(
        previous_run=last.id,
        previous_name=last.name,
        vehicle=differences(one.fields, other.fields),
        run=differences(_conditions(before), _conditions(document)),
        what=tuple(what for state in between for what in state.what),
    )


def vehicle_doubts(book: Logbook, vehicle_id: str, on: dt.date | None = None) -> tuple[FieldDoubt, ...]:
    """What is assumed about a vehicle where its build sheet is silent, the largest doubt first. Raises InputError."""
    rendered = rendered_of(book, vehicle_id)
    document, _ = for_readers(book, rendered)
    vehicle = in_force(vehicle_states_of(document, rendered.name, "vehicle"), on)
    drive = steady_drive(np.array([STEADY_MPS]))
    model, filled = build(vehicle, drive), build(_filled_in(vehicle), drive)
    found = [_doubt(model, filled, key, keys) for key, keys in _assumed(vehicle)]
    return tuple(sorted(found, key=lambda d: -d.half_width_percent))


_FIELDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("test_mass", ("vehicle.test_mass",)),
    ("drag_area", ("vehicle.drag_coefficient", "vehicle.frontal_area", "vehicle.width", "vehicle.height")),
    ("rolling_resistance", ("vehicle.rolling_resistance",)),
    ("driveline_efficiency", ("vehicle.driveline_efficiency",)),
    ("gearing_scale", ("vehicle.gear_ratios", "vehicle.final_drive", "vehicle.tyre", "vehicle.rolling_circumference")),
    ("indicated_efficiency", ("engine.fuel", "engine.injection", "engine.induction")),
    ("friction_mep", ("engine.displacement",)),
    ("full_load_scale", ("engine.full_load",)),
)


def _assumed(vehicle: Vehicle) -> list[tuple[str, tuple[str, ...]]]:
    """Parameters and the fields of theirs that are empty."""
    own = {
        "width": vehicle.width_m,
        "height": vehicle.height_m,
        "frontal_area": vehicle.frontal_area_m2,
        "drag_coefficient": vehicle.drag_coefficient,
        "test_mass": vehicle.test_mass_kg,
        "rolling_resistance": vehicle.rolling_resistance,
        "driveline_efficiency": vehicle.driveline_efficiency,
        "gear_ratios": vehicle.gear_ratios or None,
        "final_drive": vehicle.final_drive,
        "tyre": vehicle.tyre or vehicle.rolling_circumference_m,
        "rolling_circumference": vehicle.tyre or vehicle.rolling_circumference_m,
    }
    if vehicle.frontal_area_m2 is not None or (vehicle.width_m is not None and vehicle.height_m is not None):
        own |= {"width": True, "height": True, "frontal_area": True}
    given = {f"vehicle.{key}" for key, value in own.items() if value is not None}
    given |= {f"engine.{k}" for k in vehicle.engine.__struct_fields__ if getattr(vehicle.engine, k) is not None}
    given |= {"engine.displacement"} if vehicle.engine.displacement_m3 is not None else set()
    left = [(parameter, tuple(key for key in keys if key not in given)) for parameter, keys in _FIELDS]
    return [(parameter, keys) for parameter, keys in left if keys]


def _filled_in(vehicle: Vehicle) -> Vehicle:
    """The vehicle with every empty field declared to be what is assumed for it."""
    body = defaults.BODY_CLASSES[vehicle.body]
    engine = vehicle.engine
    return msgspec.structs.replace(
        vehicle,
        test_mass_kg=vehicle.test_mass_kg or Declared(body.mass_kg),
        frontal_area_m2=vehicle.frontal_area_m2 or Declared(body.frontal_area_m2),
        drag_coefficient=vehicle.drag_coefficient or Declared(body.drag_coefficient),
        rolling_resistance=vehicle.rolling_resistance or Declared(defaults.ROLLING_COEFFICIENT),
        driveline_efficiency=vehicle.driveline_efficiency or Declared(defaults.DRIVELINE_EFFICIENCY),
        gear_ratios=vehicle.gear_ratios or defaults.GEAR_RATIOS,
        final_drive=vehicle.final_drive or 4.0,
        rolling_circumference_m=vehicle.rolling_circumference_m
        or (None if vehicle.tyre is not None else Declared(defaults.CIRCUMFERENCE_M)),
        engine=msgspec.structs.replace(
            engine,
            displacement_m3=engine.displacement_m3 or Declared(defaults.DISPLACEMENT_M3),
            fuel=engine.fuel or "diesel",
            injection=engine.injection or "indirect",
        ),
    )


def _doubt(model: VehicleModel, filled: VehicleModel, key: str, keys: tuple[str, ...]) -> FieldDoubt:
    """What an assumption adds to the fuel at a steady speed: slope by central difference, times the extra spread."""
    parameters, parameter = model.parameters, model.parameters[key]
    scores = np.zeros((2, len(parameters)))
    scores[:, parameters.column(key)] = (_STEP, -_STEP)
    power = level_cruise(model, parameters.values(scores), np.array([STEADY_MPS])).fuel_power_w[:, 0]
    relative = abs(math.log(power[0] / power[1])) / (2 * _STEP)
    extra = math.sqrt(max(0.0, 1 - (filled.parameters[key].spread / parameter.spread) ** 2))
    of_size = key == "friction_mep"
    return FieldDoubt(
        keys=keys,
        assumed=model.displacement_m3 * 1000 if of_size else parameter.centre,
        unit="L" if of_size else parameter.unit,
        source="class default: assumed" if of_size else parameter.source,
        half_width_percent=100 * HALF_WIDTH_PER_SD * relative * extra,
    )


def _figure(stored: StoredResult, state: int, place: str) -> RunFigure | str:
    """The calm-day figure of a result, or why it must not be used."""
    calm = stored.summary.get("calm_day")
    if stored.summary.get("worst_flag") == "stop":
        return str(stored.summary.get("sentence", "must not be used"))
    if calm is None or calm["value"] is None or not calm["standard_uncertainty"]:
        return "no calm-day figure"
    return RunFigure(
        run_id=stored.run_id,
        state=state,
        place=place,
        figure=Figure(**calm),
        own_share=stored.summary.get("own_share", 0.0),
    )


def _day(document: Document) -> str:
    date = date_of(document.tables.get("date"))
    return date.isoformat() if date is not None else ""


def _state(states: Sequence[BuildState], document: Document) -> BuildState:
    return state_on(states, date_of(document.tables.get("date")))


def _conditions(document: Document) -> dict[str, str]:
    return conditions_of(document.tables)


def conditions_of(tables: Mapping[str, Any]) -> dict[str, str]:
    """How a run was done, without what every run has anew."""
    fields = fields_of(tables)
    return {key: text for key, text in fields.items() if key.split(".")[0].split("[")[0] not in _NOT_COMPARED}
