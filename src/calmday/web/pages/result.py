"""What did it use, and how do I know? The sheet of a run, its pictures, and every figure opened."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.guess_sheet import rule_words
from calmday.reports.run_sheet import run_sheet
from calmday.reports.sheet import Remarks
from calmday.reports.words import amount, amount_unit, unit_words
from calmday.web.addresses import address
from calmday.web.chart_view import PNG_SIZES, ChartView, picture_of
from calmday.web.figure_list import CONDITIONS
from calmday.web.pages.board import BoardLine, board_lines, board_of_run
from calmday.web.pages.checking import BlockView, FaultLines, blocks_of, fault_lines
from calmday.web.pages.common import frame, go, run_of, when
from calmday.web.render import Context, page
from calmday.web.stored import COLOURS, MAKERS, Drawn

if TYPE_CHECKING:
    from calmday.logbook.records import StoredResult, Subject
    from calmday.procedures.weighed_run_result import Consumption, RunResult
    from calmday.web.asked import Asked

FIRST: Final = ("fuel-shares", "doubt")
THEN: Final = ("day-cost", "legs", "level-cruise", "parameters")
IN_CHARTS: Final = frozenset({"What it used", "On the road and with fuel"})


class Side(msgspec.Struct, frozen=True, kw_only=True):
    """One side of the comparison: as driven or calm day."""

    kind: str
    title: str
    amount: str
    unit: str
    more: tuple[str, ...]
    where: str


class ResultLine(msgspec.Struct, frozen=True, kw_only=True):
    """One computed result of the run."""

    when: str
    program: str
    inputs: str
    driven: str
    calm: str


class SheetBlock(msgspec.Struct, frozen=True, kw_only=True):
    """A table or some words of the sheet; `links` the address behind the first cell of each row, where it has one."""

    block: BlockView
    links: tuple[str, ...]


class SheetPage(Context, frozen=True, kw_only=True):
    """The sheet of a run. `stale` why it is not the newest; `charts_along` are linked place by place."""

    template: ClassVar[str] = "sheet.html"
    void: str
    stale: str
    lead: str
    under: tuple[str, ...]
    stops: Remarks | None
    remarks: Remarks | None
    sides: tuple[Side, ...]
    charts_along: tuple[ChartView, ...]
    colours: tuple[tuple[str, str], ...]
    colour: str
    charts_first: tuple[ChartView, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[SheetBlock, ...]
    guesses: tuple[BoardLine, ...]
    guess_rule: str
    results: tuple[ResultLine, ...]


class NoSheetPage(Context, frozen=True, kw_only=True):
    """Why there is no sheet yet, and where to go. `results` what was worked out before, with what the newest `said`."""

    template: ClassVar[str] = "no_sheet.html"
    words: str
    faults: FaultLines
    said: str
    results: tuple[ResultLine, ...]


def sheet(asked: Asked) -> Response:
    """The sheet of a run, worked out first where there is none yet."""
    run = run_of(asked)
    results = asked.desk.book.results(run.id)
    drawn = asked.desk.gallery.get(asked.desk.book, results[0].id, asked.habits.units) if results else None
    if drawn is None:
        return _without_sheet(asked, run, results)
    colour = asked.query("by")
    if colour not in dict(COLOURS):
        colour = COLOURS[0][0]
    shown = run_sheet(drawn.result)
    blocks = blocks_of(shown)
    stops = _remarks(blocks, "Before anything else")
    board = board_of_run(asked, run)
    views = [drawn.view(f"route:{colour}"), drawn.view("traces")]
    return page(
        SheetPage(
            frame=frame(asked, "What did it use?", tab="sheet", run=run, wide=True),
            void=run.void,
            stale=_stale(asked, run, results[0]),
            lead=shown.lead,
            under=shown.under,
            stops=stops,
            remarks=_remarks(blocks, "Worth knowing"),
            sides=_sides(run.id, drawn.result),
            charts_along=tuple(view for view in views if view is not None),
            colours=COLOURS,
            colour=colour,
            charts_first=_views(drawn, FIRST),
            charts=_views(drawn, THEN),
            blocks=tuple(
                SheetBlock(block=b, links=_links(run.id, b.block.title, drawn.result))
                for b in blocks
                if b.kind in ("table", "prose") and b.block.title not in IN_CHARTS
            ),
            guesses=board_lines(board),
            guess_rule=rule_words(board) if board is not None else "",
            results=tuple(_result_line(each) for each in results[:20]),
        )
    )


def _remarks(blocks: Sequence[BlockView], title: str) -> Remarks | None:
    return next((b.block for b in blocks if isinstance(b.block, Remarks) and b.block.title == title), None)


def _views(drawn: Drawn, names: Sequence[str]) -> tuple[ChartView, ...]:
    return tuple(view for name in names if (view := drawn.view(name)) is not None)


def _links(run_id: str, title: str, result: RunResult) -> tuple[str, ...]:
    """Where each row of a table of the sheet opens."""
    names = {
        "Laps": [f"laps.{i}" for i in range(len(result.laps))],
        "Legs and wind": [f"legs.{i}" for i in range(len(result.legs))],
        "What the day cost": [f"penalties.{name}" for name, _ in CONDITIONS],
        "The vehicle, as this run sees it": [f"estimates.{name}" for name in result.estimates],
        "What went in": [
            "distance",
            *(["moving_time"] if result.moving_time is not None else []),
            *("fuel_mass", "fuel_volume", "fuel_volume_60F", "fuel_density_15C"),
        ],
    }.get(title, [])
    return tuple(address("figure", run=run_id, figure=name) for name in names)


def _without_sheet(asked: Asked, run: Subject, results: Sequence[StoredResult]) -> Response:
    """Why there is no sheet: nobody asked yet, it is being worked out, it could not be, or another version of the
    program worked it out in another form."""
    last = asked.desk.jobs.last_of(run.id)
    if last is not None and not last.over:
        return go("job", job=last.id)
    words, said = "It has not been worked out yet.", ""
    faults: FaultLines = ()
    if results:
        words = (
            f"Version {results[0].version} of the program worked this out, in a form that this one does not read: work "
            "it out again. Nothing is lost."
        )
        said = str(results[0].summary.get("sentence", ""))
    if last is not None and last.state == "failed":
        words, faults = "It cannot be worked out yet.", fault_lines(run, last.faults)
    return page(
        NoSheetPage(
            frame=frame(asked, "What did it use?", tab="sheet", run=run),
            words=words,
            faults=faults,
            said=said,
            results=tuple(_result_line(each) for each in results[:20]),
        )
    )


STALE: Final = {
    "": "",
    "inputs": "something was written down or changed after it was worked out.",
    "program": "another version of the program worked it out.",
}


def _stale(asked: Asked, run: Subject, stored: StoredResult) -> str:
    """Why the newest result is not what would come out now; empty where it is."""
    from calmday.operations.logbook import why_stale  # noqa: PLC0415  (with the database layer)

    return STALE[why_stale(asked.desk.book, run.id, stored)]


def _sides(run_id: str, result: RunResult) -> tuple[Side, ...]:
    sides = [_side(run_id, "driven", "As driven", "as_driven", result.as_driven)]
    if result.calm_day is not None:
        sides.append(_side(run_id, "calm", "On a calm day", "calm_day", result.calm_day))
    else:
        sides.append(Side(kind="calm", title="On a calm day", amount="we can’t tell", unit="", more=(), where=""))
    return tuple(sides)


def _side(run_id: str, kind: str, title: str, part: str, found: Consumption) -> Side:
    more = [
        f"{amount(found.mpg_us)} mpg US",
        f"{amount(found.mpg_imp)} mpg imp",
        f"{amount(found.g_per_km)} g of fuel a km",
    ]
    if found.cost_per_km is not None:
        more.append(amount_unit(found.cost_per_km))
    return Side(
        kind=kind,
        title=title,
        amount=amount(found.L_per_100km),
        unit=unit_words(found.L_per_100km.unit),
        more=tuple(more),
        where=address("figure", run=run_id, figure=f"{part}.L_per_100km"),
    )


def _result_line(stored: StoredResult) -> ResultLine:
    summary = stored.summary
    return ResultLine(
        when=when(stored.computed_at),
        program=stored.version,
        inputs=stored.inputs_sha256[:12],
        driven=str(summary.get("as_driven_words", "")),
        calm=str(summary.get("calm_day_words", "")),
    )


def sheet_json(asked: Asked) -> Response:
    """The result as `calmday reduce --json` prints it, byte for byte as it was stored. Raises 404 where there is
    none."""
    run = run_of(asked)
    results = asked.desk.book.results(run.id)
    if not results:
        raise HTTPException(404)
    stored = asked.desk.book.result(results[0].id)
    name = "".join(c if c.isascii() and c.isalnum() else "-" for c in run.name)[:60] or "run"
    return Response(
        stored.content,
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}.json"'},
    )


def newest_drawn(asked: Asked, run: Subject) -> Drawn:
    """The newest result of a run with its charts. Raises 404 where there is none that this version reads."""
    results = asked.desk.book.results(run.id)
    found = asked.desk.gallery.get(asked.desk.book, results[0].id, asked.habits.units) if results else None
    if found is None:
        raise HTTPException(404)
    return found


def chart(asked: Asked) -> Response:
    """A picture of a chart to take along."""
    run = run_of(asked)
    name, form = asked.part("chart"), asked.part("form")
    if name not in MAKERS or form not in ("svg", *PNG_SIZES):
        raise HTTPException(404)
    found = newest_drawn(asked, run).chart(name)
    if found is None:
        raise HTTPException(404)
    return picture_of(found, form)
