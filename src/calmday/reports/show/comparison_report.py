"""The report of a comparison: everything it is made from, and the document itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import msgspec

from calmday.metrology.rounding import counted, listed
from calmday.procedures.comparison_names import AFTER, BEFORE
from calmday.procedures.comparison_result import ComparisonResult
from calmday.reports.charts.compared import compared_chart, setting_chart
from calmday.reports.charts.doubt import doubt_chart
from calmday.reports.comparison_sentence import is_named, span
from calmday.reports.comparison_sheet import comparison_sheet
from calmday.reports.sheet import Column, Prose, Sheet, Table
from calmday.reports.show import pieces
from calmday.reports.show.comparison_objections import chance_words, objections_to_comparison, percent_of
from calmday.reports.show.document import Block, Document, Facts, Item, Listing, Paragraph, Photo, Picture, Section
from calmday.reports.show.method import SOURCES
from calmday.reports.show.run_report import BACK_TITLE, DOUBTS, photo_section
from calmday.reports.words import amount, clean, number

if TYPE_CHECKING:
    from calmday.reports.charts.chart import Chart

MOST_CHANGES = 8
"""Differences between the two sides on the first page."""


class ComparisonReport(msgspec.Struct, frozen=True, kw_only=True):
    """What the report of a comparison is made from.

    `differs` what differs between the first run before the change and the first after it, as the files have it;
    `configurations` of both sides; `inputs` SHA-256 by name of every file the result rests on.
    """

    result: ComparisonResult
    question: str = ""
    differs: tuple[str, ...] = ()
    configurations: tuple[str, str] = ("", "")
    photos: tuple[Photo, ...] = ()
    inputs: Mapping[str, str] = {}
    draws: int = 0


def comparison_document(report: ComparisonReport) -> Document:
    """The report as a document: one page for everybody, then the pages for critics."""
    result = report.result
    sheet = comparison_sheet(result)
    stops = pieces.stop_items(result.flags)
    asked = clean(report.question) or clean(result.question)
    configuration = " and ".join(dict.fromkeys(each for each in report.configurations if each))
    front: list[Section | None] = [
        Section(title="How it was tested", blocks=(Facts(_tested(result)),)),
        _answer(result, sheet),
        _doubt(result),
        _runs(sheet),
        _changed(report),
        pieces.front_cautions(result.flags),
        _better(result),
        photo_section(report.photos),
        pieces.signing(configuration, result.provenance.inputs_sha256),
    ]
    back: list[Section | None] = [
        pieces.objection_section(objections_to_comparison(result)),
        _drawn("The answer, drawn", compared_chart(result)),
        _drawn("Fuel over the setting", setting_chart(result)),
        *(
            _whole(_table(sheet, title))
            for title in (
                "The answer",
                "Fuel over the setting",
                "Runs left out",
                "What was taken off",
                "Counted in other ways",
            )
        ),
        _method(result, sheet),
        _budget(result),
        pieces.all_flags(result.flags, ()),
        pieces.provenance(result.provenance, report.draws, report.inputs, configuration),
    ]
    vehicle, label = clean(result.vehicle), clean(result.label)
    made = f"{result.provenance.program} {result.provenance.version}"
    return Document(
        question=pieces.asked(asked, _usual_question(result)),
        answer=sheet.lead,
        under=tuple(line for line in sheet.under if line != clean(result.question)) if stops is None else (),
        stops=stops,
        front=tuple(section for section in front if section is not None),
        back_title=BACK_TITLE,
        back=tuple(section for section in back if section is not None),
        footer=f"{made} · data {result.provenance.inputs_sha256[:12]}",
        subject=pieces.shortened(f"{vehicle}: {label}" if vehicle and label else vehicle or label, 48),
        sound=stops is None,
    )


def _usual_question(result: ComparisonResult) -> str:
    """What is asked where nobody wrote a question down."""
    if result.effects:
        return "Which of the changes made a difference?"
    if any(run.setting for run in result.runs):
        return "Which setting uses least?"
    return f"Did “{clean(result.changed)}” make a difference?" if is_named(result) else "Did it make a difference?"


def _laid_out(result: ComparisonResult) -> str:
    """How many runs of what."""
    design = result.design
    used = [run for run in result.runs if run.used]
    if result.effects:
        return f"{counted(len(used), 'run')} with {counted(len(result.effects), 'change')} fitted or not"
    if any(run.setting for run in used):
        settings = {run.setting for run in used}
        return f"{counted(len(used), 'run')} at {counted(len(settings), 'setting')}"
    if not is_named(result):
        return f"{design.baseline_runs} before and {design.changed_runs} after the change"
    return f"{design.baseline_runs} with {_name(result.baseline)}, {design.changed_runs} with {_name(result.changed)}"


def _ordered(result: ComparisonResult) -> str:
    """The order driven, with what its letters mean."""
    order = clean(result.design.order)
    if not order:
        return "as in the table of the runs" if all(r.order is not None for r in result.runs if r.used) else ""
    return f"{order} (A {clean(result.baseline)}, B {clean(result.changed)})" if result.baseline else order


def _tested(result: ComparisonResult) -> tuple[tuple[str, str], ...]:
    """How the comparison was laid out, in ten lines at most."""
    design = result.design
    used = [run for run in result.runs if run.used]
    dates = sorted({run.date for run in used if run.date})
    warm = [run.temperature_C for run in used if run.temperature_C is not None]
    left = f", {design.left_out} left out" if design.left_out else ""
    found = [
        ("Vehicle", clean(result.vehicle)),
        ("Runs", f"{_laid_out(result)}{left}"),
        ("Declared beforehand", counted(design.planned, "run") if design.planned is not None else "no number of runs"),
        ("Days", f"{dates[0]} to {dates[-1]}, {len(dates)} days" if len(dates) > 1 else "".join(dates)),
        ("Order", _ordered(result) or "not written down"),
        ("In turns", {True: "yes", False: "no", None: "not known"}[design.interleaved] if result.baseline else ""),
        ("Did the driver know?", {True: "no", False: "yes", None: "not written down"}[design.blind]),
        ("Air", f"{number(min(warm), 0)} to {number(max(warm), 0)} °C" if warm else ""),
        ("Compared", f"{result.basis}, as logarithms of fuel per distance"),
        ("Scatter from run to run", _scatter(result)),
    ]
    return tuple((what, how) for what, how in found if how)


def _name(name: str) -> str:
    """A name in quotes; before and after are none."""
    return clean(name) if name in (BEFORE, AFTER) else f"“{clean(name)}”"


def _scatter(result: ComparisonResult) -> str:
    if result.scatter is None:
        return ""
    found = result.scatter.found
    return f"{number(found.value, 1)} %, from {number(found.low, 1)} to {number(found.high, 1)}"


def _table(sheet: Sheet, *titles: str) -> Table | None:
    """The first table of the sheet under one of these titles."""
    for title in titles:
        for block in sheet.blocks:
            if isinstance(block, Table) and block.title == title:
                return block
    return None


def _answer(result: ComparisonResult, sheet: Sheet) -> Section | None:
    """The change as driven and corrected side by side, both sides, and what such a test can see."""
    blocks: list[Block] = []
    if result.effects or result.sweep is not None:
        table = _table(sheet, "Each change by itself", "Fuel over the setting")
        return Section(title="The answer", blocks=(_untitled(table),)) if table is not None else None
    if result.stories:
        rows = tuple(
            (clean(story.name), percent_of(story.change_percent), span(story.change_percent))
            for story in result.stories
        )
        columns = (Column("figures"), Column("fuel", "right"), Column("somewhere"))
        blocks.append(Table(title="", columns=columns, rows=rows))
    pairs = [
        (f"{_name(name)}, L/100 km", amount(figure, most_decimals=2))
        for name, figure in (
            (result.baseline, result.baseline_L_per_100km),
            (result.changed, result.changed_L_per_100km),
        )
        if figure is not None
    ]
    if result.mpg_change_percent is not None:
        pairs.append(("Distance on the same fuel", percent_of(result.mpg_change_percent)))
    if result.probability_less_fuel is not None:
        pairs.append(("Chance of less fuel", chance_words(result.probability_less_fuel)))
    if result.smallest_detectable_percent is not None:
        pairs.append(("Smallest change it would see", f"{number(result.smallest_detectable_percent, 1)} %"))
    if pairs:
        blocks.append(Facts(tuple(pairs)))
    return Section(title="As driven, and corrected", blocks=tuple(blocks), half=True) if blocks else None


def _whole(table: Table | None) -> Section | None:
    return Section(title=table.title, blocks=(_untitled(table),)) if table is not None else None


def _untitled(table: Table) -> Table:
    return msgspec.structs.replace(table, title="")


def _runs(sheet: Sheet) -> Section | None:
    """The table of the runs, raw and corrected side by side. It is the last to leave the first page."""
    for block in sheet.blocks:
        if isinstance(block, Table) and block.title.startswith("The runs"):
            return Section(title=block.title, blocks=(_untitled(block),), rank=1)
    return None


def _doubt(result: ComparisonResult) -> Section | None:
    chart = doubt_chart(result.budget, "difference", DOUBTS)
    if chart is None:
        return None
    return Section(title="Where the doubt comes from", blocks=(Picture(chart),), half=True)


def _drawn(title: str, chart: Chart | None) -> Section | None:
    return Section(title=title, blocks=(Picture(chart),)) if chart is not None else None


def _changed(report: ComparisonReport) -> Section | None:
    result = report.result
    if not result.baseline:
        return None
    lead = f"From {_name(result.baseline)} to {_name(result.changed)}" if is_named(result) else ""
    if not report.differs:
        said = "The files of the first run on each side name no difference."
        if lead:
            said = f"{lead}; the files of the first run on each side name no other difference."
        return Section(title="What changed", blocks=(Paragraph(said),), rank=4)
    items = [Item(text=clean(line)) for line in report.differs[:MOST_CHANGES]]
    more = len(report.differs) - MOST_CHANGES
    if more > 0:
        items.append(Item(text=f"{more} more in the files"))
    blocks: tuple[Block, ...] = (
        Paragraph(f"{lead}. Between the first run on each side the files differ in:".removeprefix(". ")),
        Listing(tuple(items)),
    )
    return Section(title="What changed", blocks=blocks, rank=4)


def _better(result: ComparisonResult) -> Section:
    """How many more runs, and what the doubt hangs on."""
    items = []
    aim, needed = result.aim_percent, result.runs_needed
    if aim is not None and needed is None:
        items.append(Item(lead=f"{aim:g} % is out of reach for runs like these.", text="Let the scatter be smaller."))
    elif aim is not None and needed:
        lead = f"{needed} more runs, both sides in turns." if needed > 1 else "One more run."
        items.append(Item(lead=lead, text=f"Then a change of {aim:g} % is seen four times in five."))
    elif aim is not None:
        items.append(Item(lead="Enough runs.", text=f"A change of {aim:g} % is seen four times in five."))
    if result.design.interleaved is False:
        items.append(Item(lead="Drive both in turns.", text="What changes slowly then falls on both alike."))
    if result.design.planned is None:
        items.append(Item(lead="Declare the number of runs beforehand.", text="Nobody can say you stopped early."))
    large = [clean(line.source) for line in result.budget[:2] if line.share >= 0.15]
    if large:
        items.append(Item(lead="Most of the doubt:", text=f"{listed(large)}. What makes that smaller helps most."))
    blocks: tuple[Block, ...] = (Listing(tuple(items)),) if items else (Paragraph("Nothing stands out."),)
    return Section(title="What would make it better", blocks=blocks, rank=3)


def _method(result: ComparisonResult, sheet: Sheet) -> Section:
    """How it was found, as the sheet says it, with the sources."""
    lines = [
        line
        for block in sheet.blocks
        if isinstance(block, Prose) and block.title == "How it was found"
        for line in block.lines
        if not line.startswith(f"{result.provenance.program} ")  # that is said under where it comes from
    ]
    own = "Few runs are treated exactly (Student’s t). What all runs share cancels, draw by draw."
    blocks: tuple[Block, ...] = (
        Listing(tuple(Item(text=line) for line in (*lines, own))),
        Listing(tuple(Item(text=source) for source in SOURCES)),
    )
    return Section(title="The method in short", blocks=blocks)


def _budget(result: ComparisonResult) -> Section | None:
    table = pieces.budget_table(result.budget, "")
    return Section(title="Doubt of the difference", blocks=(table,)) if table is not None else None
