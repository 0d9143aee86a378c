"""Runs with what they take from the things they point to, and vehicles in their dated states."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.files.named_files import NamedDocument
from calmday.files.vehicle_file import vehicle_states_of
from calmday.logbook import Logbook
from calmday.logbook.states import build_states, differences, state_on
from calmday.operations.logbook import changed_since_last_run

VEHICLE: dict[str, Any] = {
    "vehicle": {"name": "Fen Hauler", "tyre": "195/75 R16", "final_drive": 4.1, "test_mass": "1480 kg"},
    "change": [
        {"date": dt.date(2026, 5, 20), "what": "gaiters", "rolling_resistance": 0.012},
        {"date": dt.date(2026, 5, 2), "what": "taller axle", "final_drive": 3.7},
    ],
}


@pytest.fixture
def vehicle(book: Logbook) -> str:
    made = book.create("vehicle", "Fen Hauler")
    book.write("vehicle", made, {
        "vehicle.tyre": "195/75 R16", "vehicle.final_drive": "4.1", "change[0].date": "2026-05-02",
        "change[0].what": "taller axle", "change[0].final_drive": "3.7",
    }, "Ada")  # fmt: skip
    return made


def test_a_run_takes_from_what_it_points_to_what_it_does_not_say_itself(book: Logbook, vehicle: str) -> None:
    scale = book.create("instrument", "Parcel scale")
    book.write("instrument", scale, {"type": "scale", "scale.resolution": "5 g", "scale.accuracy": "0.1 %"}, "Ada")
    fuel = book.create("fuel", "April")
    book.write("fuel", fuel, {"fuel.kind": "diesel", "fuel.density": "836 kg/m^3", "note": "pump 3"}, "Ada")
    run = book.create("run", "Loop", vehicle)
    book.link(run, "scale", scale, "Ada")
    book.link(run, "fuel", fuel, "Ada")
    book.write("run", run, {"scale.resolution": "1 g", "fuel.density.value": "840 kg/m^3"}, "Ada")
    tables = book.document(run).tables
    assert tables["scale"] == {"resolution": "1 g", "accuracy": "0.1 %"}
    assert tables["fuel"] == {"kind": "diesel", "density": {"value": "840 kg/m^3"}}
    assert tables["vehicle"] == "vehicle.toml"
    assert "note" not in tables
    assert book.tables("run", run)["scale"] == {"resolution": "1 g"}, "what was written about the run alone"
    book.link(run, "fuel", None, "Ada")
    assert "kind" not in book.document(run).tables["fuel"]
    assert book.links(run) == {"scale": scale, "vehicle": vehicle}


@pytest.mark.parametrize(
    ("found", "driven", "holds"),
    [
        ("2026-04-01", "2026-04-12", True),
        ("2026-04-01", "2026-05-01", True),
        ("2026-04-01", "2026-05-02", False),
        ("2026-05-02", "2026-06-01", True),
        ("2026-06-01", "2026-04-12", False),
    ],
)
def test_an_odometer_factor_ends_with_the_axle_it_belongs_to(
    book: Logbook, vehicle: str, found: str, driven: str, holds: bool
) -> None:
    odometer = book.create("instrument", "Odometer", vehicle)
    book.write("instrument", odometer, {"type": "odometer", "date": found, "odometer.factor": "1.02"}, "Ada")
    run = book.create("run", "Loop", vehicle)
    book.write("run", run, {"date": driven, "odometer.start": "10 km", "odometer.end": "50 km"}, "Ada")
    book.link(run, "odometer", odometer, "Ada")
    document = book.document(run)
    assert document.tables["odometer"].get("factor") == (1.02 if holds else None)
    assert ("taller axle on 2026-05-02" in " ".join(document.notes)) != holds


def test_states_are_those_the_reader_of_build_sheets_finds() -> None:
    own = build_states(VEHICLE)
    read = vehicle_states_of(NamedDocument(VEHICLE, None), "vehicle.toml", "vehicle")  # type: ignore[arg-type]
    assert [state.since for state in own] == [state.since for state in read]
    assert [float(state.fields["vehicle.final_drive"]) for state in own] == [state.final_drive for state in read]
    assert [state.fields.get("vehicle.rolling_resistance") for state in own] == [None, None, "0.012"]
    assert own[1].what == ("taller axle",)
    assert own[1].changed == {"vehicle.final_drive"}


@given(st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31)))
def test_the_state_in_force_is_the_last_one_begun(date: dt.date) -> None:
    state = state_on(build_states(VEHICLE), date)
    assert state.since is None or state.since <= date
    assert not [s for s in build_states(VEHICLE) if s.since and (state.since or dt.date.min) < s.since <= date]


def test_a_change_replaces_what_says_the_same_otherwise() -> None:
    tables = {"vehicle": {"tyre": "6.00-16"}, "change": [{"date": "2026-05-02", "rolling_circumference": "2.1 m"}]}
    before, after = build_states(tables)
    assert [(d.key, d.before, d.after) for d in differences(before.fields, after.fields)] == [
        ("vehicle.rolling_circumference", "", "2.1 m"),
        ("vehicle.tyre", "6.00-16", ""),
    ]


def test_what_changed_since_the_last_run_is_found_and_not_typed(book: Logbook, vehicle: str) -> None:
    runs = []
    for date, pressure in (("2026-04-12", "300 kPa"), ("2026-05-03", "330 kPa"), ("2026-04-20", "280 kPa")):
        run = book.create("run", date, vehicle)
        book.write("run", run, {"date": date, "tyre_pressure": pressure, "weighing[0].tare": pressure}, "Ada")
        runs.append(run)
    book.void(runs[2], "hose", "Ada")
    found = changed_since_last_run(book, runs[1])
    assert found is not None
    assert found.previous_run == runs[0], "the void run in between does not count"
    assert [(d.key, d.before, d.after) for d in found.vehicle] == [("vehicle.final_drive", "4.1", "3.7")]
    assert [(d.key, d.before, d.after) for d in found.run] == [("tyre_pressure", "300 kPa", "330 kPa")]
    assert found.what == ("taller axle",)
    assert changed_since_last_run(book, runs[0]) is None
