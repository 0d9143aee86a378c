"""The sheet of what is known: every parameter with its default, what each test did to it, nothing said twice."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest

from calmday.operations.knowledge import knowledge_result
from calmday.procedures.knowledge import know
from calmday.procedures.knowledge_result import KnowledgeResult
from calmday.records.declared import Declared
from calmday.records.evidence import SmallEvidence
from calmday.records.vehicle import Engine, TyreSize, Vehicle
from calmday.reports.charts.knowledge import ladder_charts
from calmday.reports.knowledge_sheet import knowledge_sheet
from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.sheet import Table

VAN = Vehicle(
    name="Fen Hauler", body="van", test_mass_kg=Declared(1480.0), gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
    tyre=TyreSize("195/75 R16", 0.195, 0.75, 16 * 0.0254, True), final_drive=4.1,
    engine=Engine(displacement_m3=Declared(2.1e-3), fuel="diesel", injection="indirect"),
)  # fmt: skip


def on(day: int, what: str) -> Vehicle:
    """The van after a change of which only words are known."""
    changes = tuple(f"{what} {n}" for n in range(1, day + 1))
    return msgspec.structs.replace(VAN, since=dt.date(2026, 5, day), changes=changes)


@pytest.fixture(scope="module")
def told() -> KnowledgeResult:
    """A slip, a tow and a roll-out of one van, and another slip."""
    tests = (
        SmallEvidence(kind="weighbridge", label="Slip", vehicle=VAN, readings=(1490.0,)),
        SmallEvidence(kind="tow force", label="Rope", vehicle=VAN, readings=(190.0, 205.0), both_ways=True),
        SmallEvidence(kind="roll-out", label="Chalk", vehicle=VAN, readings=(21.2,), turns=10),
        SmallEvidence(kind="weighbridge", label="Second slip", vehicle=VAN, readings=(1491.0,), instrument=400.0),
    )
    return knowledge_result(know(VAN, evidence=tests, draws=400))


def table(result: KnowledgeResult, title: str) -> Table:
    found = [block for block in knowledge_sheet(result).blocks if isinstance(block, Table) and block.title == title]
    assert len(found) == 1
    return found[0]


def test_every_parameter_stands_there_with_its_default_also_on_a_narrow_page(told: KnowledgeResult) -> None:
    heads = [column.head for column in table(told, "The vehicle").columns]
    assert heads[:3] == ["parameter", "build sheet", "now"]
    assert len(table(told, "The vehicle").rows) == len(told.parameters)
    assert "build sheet" in next(
        line for line in plain_sheet(knowledge_sheet(told), 80).splitlines() if "left, %" in line
    )


def test_each_test_stands_with_what_it_moved(told: KnowledgeResult) -> None:
    rows = table(told, "What each test told").rows
    at: dict[str, list[str]] = {}
    name = ""
    for test, of, *_ in rows:
        name = test or name
        at.setdefault(name, []).append(of)
    assert at["Slip"] == ["test mass"]
    assert "rolling resistance" in at["Rope"]
    assert at["Chalk"] == ["engine turns, over those stated"]
    assert at["Second slip"] == ["hardly anything of it as it is now"]


def test_no_line_of_sheet_or_picture_says_what_the_one_above_said(told: KnowledgeResult) -> None:
    rows = table(told, "What each test told").rows
    assert all(before != after for _, _, before, after, _ in rows if before != "-")
    for chart in ladder_charts(told):
        drawn = chart.svg()
        assert drawn.count("+ ") < len(told.tests), chart.name
        assert len(chart.table.rows) == len(told.tests) + 1


def test_changes_that_do_not_say_what_they_touch_are_told_once() -> None:
    tests = [
        SmallEvidence(kind="weighbridge", label=f"Slip {n}", vehicle=on(n, "tidied up"), readings=(1480.0,))
        for n in (1, 2, 3)
    ]
    flags = knowledge_result(know(VAN, evidence=tests, draws=300)).flags
    silent = [flag for flag in flags if flag.code == "change-untold"]
    assert len(silent) == 1
    assert "3 changes" in silent[0].message
    assert "2026-05-02" in silent[0].message


def test_a_build_sheet_that_is_off_in_two_places_is_told_once() -> None:
    heavy = SmallEvidence(kind="weighbridge", label="Slip", vehicle=VAN, readings=(1750.0,))
    short = SmallEvidence(kind="roll-out", label="Chalk", vehicle=VAN, readings=(19.0,), turns=10)
    result = knowledge_result(know(VAN, evidence=(heavy, short), draws=400))
    (told,) = [flag for flag in result.flags if flag.code == "build-sheet-doubted"]
    mass = next(one.estimate for one in result.parameters if one.key == "test_mass")
    assert mass.low < 1750 < mass.high, "no other test speaks of the mass: the slip is believed, not the sheet"
    assert not any(test.odd for test in result.tests)
    assert "test mass far above and gearing scale far " in told.message
    assert "test_mass; final_drive" in told.message
