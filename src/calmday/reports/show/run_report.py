"""The report of one run: everything it is made from, and the document itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import msgspec

from calmday.files.run_file import NAMELESS
from calmday.procedures.along_the_drive import AlongTheDrive
from calmday.procedures.guess_result import GuessBoard
from calmday.procedures.weighed_run_result import RunResult
from calmday.procedures.what_next import NextStep
from calmday.records.run import Run
from calmday.reports.charts.doubt import doubt_chart
from calmday.reports.charts.fuel_shares import fuel_shares_chart
from calmday.reports.charts.route import route_chart
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.run_tables import estimates, laps, legs
from calmday.reports.sentence import ONE_RUN, headline
from calmday.reports.sheet import Column, Table
from calmday.reports.show import pieces
from calmday.reports.show.document import (
    Block,
    Document,
    Facts,
    Item,
    Listing,
    Paragraph,
    Photo,
    Photos,
    Picture,
    Section,
)
from calmday.reports.show.guess_board import guess_section
from calmday.reports.show.method import method_of_run
from calmday.reports.show.objections import objections_to_run
from calmday.reports.show.tested import date_words, how_tested
from calmday.reports.words import amount, clean, is_known, number, percent, signed

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure

BACK_TITLE = "For critics"
DOUBTS = 6
"""Bars of doubt on the first page; every line stands on the second."""


class RunReport(msgspec.Struct, frozen=True, kw_only=True):
    """What the report of a run is made from.

    `along` the whole drive, `road` as much of it as may be drawn; `changed` what differs from the run before, in
    sentences, and `changed_since` which run that was; `board` who guessed what, where somebody did; `inputs` SHA-256
    by name of every file the result rests on; `configuration` stands for the build sheet in force.
    """

    result: RunResult
    run: Run
    along: AlongTheDrive | None = None
    road: AlongTheDrive | None = None
    question: str = ""
    steps: tuple[NextStep, ...] = ()
    changed: tuple[str, ...] = ()
    changed_since: str = ""
    photos: tuple[Photo, ...] = ()
    board: GuessBoard | None = None
    inputs: Mapping[str, str] = {}
    configuration: str = ""
    draws: int = 0
    home_cut_m: float = 0.0
    units: ReaderUnits = METRIC


def run_document(report: RunReport) -> Document:
    """The report as a document: one page for everybody, then the pages for critics."""
    result, run = report.result, report.run
    vehicle, label = clean(result.vehicle), clean(result.label)
    named = vehicle if vehicle and vehicle != NAMELESS else NAMELESS.lower()
    usual = f"What did {named} use{' on ' + _quoted(label) if label else ''}?"
    stops = pieces.stop_items(result.flags)
    if stops is not None:  # nothing is made of a figure that must not be used
        result = msgspec.structs.replace(
            result, calm_day=None, penalties=None, budget=(), budget_as_driven=(), energy=(), estimates={}
        )
    front: list[Section | None] = [
        Section(title="How it was tested", blocks=(Facts(how_tested(result, run, report.along)),)),
        _raw_and_corrected(result, usable=stops is None),
        _doubt(result),
        _changed(report),
        pieces.front_cautions(result.flags),
        pieces.better(report.steps) if stops is None else None,
        guess_section(report.board),
        photo_section(report.photos),
        pieces.signing(report.configuration, result.provenance.inputs_sha256),
    ]
    back: list[Section | None] = [
        pieces.objection_section(objections_to_run(result, run)) if stops is None else None,
        _share_of_fuel(result),
        _road(report),
        method_of_run(result),
        _budget(result, calm=True),
        _budget(result, calm=False),
        _parameters(result),
        _along(result),
        pieces.all_flags(result.flags, result.notes),
        pieces.provenance(result.provenance, report.draws, report.inputs, report.configuration),
    ]
    made = f"{result.provenance.program} {result.provenance.version}"
    return Document(
        question=pieces.asked(report.question, usual),
        answer=clean(result.sentence) or headline(result),
        under=() if stops else (ONE_RUN,),
        stops=stops,
        front=tuple(section for section in front if section is not None),
        back_title=BACK_TITLE,
        back=tuple(section for section in back if section is not None),
        footer=f"{made} · data {result.provenance.inputs_sha256[:12]}",
        subject=pieces.shortened(f"{vehicle}: {label}" if vehicle and label else vehicle or label, 48),
        made=date_words(run),
        sound=stops is None,
    )


def _quoted(label: str) -> str:
    return f"“{label}”"


_ROWS = (("L_per_100km", "L/100 km"), ("mpg_us", "mpg US"), ("mpg_imp", "mpg imp"), ("g_per_km", "g of fuel a km"))


def _raw_and_corrected(result: RunResult, *, usable: bool) -> Section:
    """Both figures side by side, then every correction with its size."""
    calm = result.calm_day
    if not usable:
        said = tuple((words, amount(getattr(result.as_driven, name))) for name, words in _ROWS)
        table = Table(title="", columns=(Column("", wrap=True), Column("as it stands", "right")), rows=said)
        return Section(title="As it stands, not to be used", blocks=(table,))
    rows = []
    for name, words in _ROWS:
        driven: Figure = getattr(result.as_driven, name)
        corrected = amount(getattr(calm, name)) if calm is not None else "we can't tell"
        rows.append((words, amount(driven), corrected))
    columns = (Column("", wrap=True), Column("as driven", "right"), Column("calm day, corrected", "right"))
    blocks: list[Block] = [Table(title="", columns=columns, rows=tuple(rows))]
    corrections = _corrections(result)
    if corrections is not None:
        blocks.append(corrections)
    elif calm is None:
        blocks.append(Paragraph("Nothing was corrected; the remarks say why.", "small"))
    return Section(title="As driven, and corrected", blocks=tuple(blocks), half=True)


def _corrections(result: RunResult) -> Table | None:
    costs, calm = result.penalties, result.calm_day
    if costs is None or calm is None or not is_known(calm.L_per_100km):
        return None
    litres = calm.L_per_100km
    named = (
        ("wind", costs.wind),
        ("thick or thin air", costs.air_density),
        ("cold engine", costs.cold_engine),
        ("cold tyres", costs.cold_tyres),
    )
    rows = [(what, percent(cost, signed=True), _litres(cost.value, litres)) for what, cost in named]
    total = sum(cost.value for _, cost in named)
    rows.append(("all of them together", f"{signed(total, 1)} %", _litres(total, litres)))
    driven = result.as_driven.L_per_100km
    moved = abs(driven.value - litres.value)
    times = moved / litres.half_width if litres.half_width > 0 else 0.0
    note = "Taken off the figure as driven to get the calm day; plus cost fuel."
    if times > 1:
        note += f" Together {number(times, 1)} times the give-or-take of the corrected figure."
    columns = (Column("correction"), Column("calm-day fuel", "right"), Column("L/100 km", "right"))
    return Table(title="", columns=columns, rows=tuple(rows), note=note)


def _litres(cost_percent: float, calm: Figure) -> str:
    return signed(cost_percent / 100 * calm.value, 2)


def _doubt(result: RunResult) -> Section | None:
    budget = result.budget or result.budget_as_driven
    chart = doubt_chart(budget, "calm-day figure" if result.budget else "as-driven figure", DOUBTS)
    if chart is None:
        return None
    return Section(title="Where the doubt comes from", blocks=(Picture(chart),), half=True)


def _share_of_fuel(result: RunResult) -> Section | None:
    chart = fuel_shares_chart(result.energy)
    return Section(title="Where the fuel went", blocks=(Picture(chart),), half=True) if chart is not None else None


def _road(report: RunReport) -> Section | None:
    """The shape of the road, if there is a track, and that it is only a shape."""
    if report.road is None:
        return None
    said = "The road as a shape, north up; no place on the map stands in this report."
    if report.home_cut_m:
        radius = number(report.home_cut_m, 0)
        said += f" What lies within {radius} m of where the drive began or ended is left out."
    chart = route_chart(report.road, "speed", report.units)
    return Section(title="The road", blocks=(Picture(chart), Paragraph(said, "small")), half=True)


def _changed(report: RunReport) -> Section:
    """What differs from the run before; where there was none, what was changed on the vehicle so far."""
    vehicle = report.run.vehicle
    if report.changed_since:
        lead = f"Since “{clean(report.changed_since)}”:"
        items = tuple(Item(text=clean(line)) for line in report.changed)
        if not items:
            return _section_changed((Paragraph(f"{lead} nothing that was written down."),))
        return _section_changed((Paragraph(lead), Listing(items)))
    if vehicle.changes:
        said = "; ".join(clean(what) for what in vehicle.changes[-5:])
        since = f"The vehicle as it is since {vehicle.since.isoformat()}: " if vehicle.since is not None else ""
        return _section_changed((Paragraph(f"{since}{said}."),))
    return _section_changed((Paragraph("No run before this one is known here, and the build sheet names no change."),))


def _section_changed(blocks: tuple[Block, ...]) -> Section:
    return Section(title="What changed", blocks=blocks, rank=3)


def photo_section(photos: tuple[Photo, ...]) -> Section | None:
    """The photographs, if there are any: the first to leave the page."""
    if not photos:
        return None
    return Section(title="Photographs", blocks=(Photos(photos[:3]),), rank=6)


def _budget(result: RunResult, *, calm: bool) -> Section | None:
    which, budget = ("calm-day", result.budget) if calm else ("as-driven", result.budget_as_driven)
    table = pieces.budget_table(budget, "")
    return Section(title=f"Doubt of the {which} figure", blocks=(table,), half=True) if table is not None else None


def _parameters(result: RunResult) -> Section | None:
    table = estimates(result)
    if table is None:
        return None
    return Section(title="The vehicle before and after this run", blocks=(_untitled(table),))


def _along(result: RunResult) -> Section | None:
    blocks = tuple(table for table in (laps(result), legs(result)) if table is not None)
    return Section(title="Lap by lap, leg by leg", blocks=blocks) if blocks else None


def _untitled(table: Table) -> Table:
    return msgspec.structs.replace(table, title="")
