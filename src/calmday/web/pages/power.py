"""What a run says about power: engine speed and load along the drive, where it was held back, and by what."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.along_sheet import along_blocks, along_sentence
from calmday.reports.sheet import Sheet
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, run_of
from calmday.web.pages.gears import unit_of
from calmday.web.render import Context, page
from calmday.web.stored import units_of
from calmday.web.vehicle_history import faults_told

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.gears_result import AlongRun
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked

MOST_RUNS = 30


class PowerPage(Context, frozen=True, kw_only=True):
    """Load and engine speed along a run. `others` further runs of the vehicle; `faults` why nothing can be said."""

    template: ClassVar[str] = "power.html"
    sentence: str
    chart: ChartView | None
    blocks: tuple[BlockView, ...]
    links: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]
    faults: tuple[str, ...]


def power(asked: Asked) -> Response:
    """Engine speed and load along a run."""
    run = run_of(asked)
    if not run.parent:
        return _page(asked, run, "Nobody said yet which vehicle this was.", faults=())
    try:
        along = _along(asked, run)
    except InputError as error:
        words = faults_told(error)
        return _page(asked, run, "It cannot be worked out yet.", faults=words)
    if along is None:
        return _page(asked, run, "This run has no track that could be driven again, or its entries have a fault.")
    view = chart_view(_drawn(asked, along))
    taken = pictures_to_take(view.title, lambda form: address("power_chart", run=run.id, form=form))
    blocks = blocks_of(Sheet(title="", lead="", blocks=tuple(along_blocks(along, unit_of(asked)))))
    return _page(
        asked, run, along_sentence(along, unit_of(asked)), msgspec.structs.replace(view, downloads=taken), blocks
    )


def _along(asked: Asked, run: Subject) -> AlongRun | None:
    along: AlongRun | None = asked.desk.studies.of_run(asked.desk.book, run.parent, run.id).study.run
    return along


def _drawn(asked: Asked, along: AlongRun) -> Chart:
    from calmday.reports.charts.power_trace import power_trace_chart  # noqa: PLC0415  (drawing needs numpy)

    return power_trace_chart(along, units_of(asked.habits.units))


def _page(
    asked: Asked,
    run: Subject,
    sentence: str,
    chart: ChartView | None = None,
    blocks: tuple[BlockView, ...] = (),
    faults: tuple[str, ...] = (),
) -> Response:
    others = (
        [each for each in asked.desk.runs_of(run.parent) if each.id != run.id and not each.void] if run.parent else []
    )
    links = [("What did it use?", address("sheet", run=run.id))]
    if run.parent:
        links = [
            ("What each gear holds", address("gears", vehicle=run.parent)),
            ("When to change gear", address("shifts", vehicle=run.parent)),
            ("Pulls and hills", address("pulls", vehicle=run.parent)),
            *links,
        ]
    return page(
        PowerPage(
            frame=frame(asked, "What the run says about power", tab="gears", run=run, wide=True),
            sentence=sentence,
            chart=chart,
            blocks=blocks,
            links=tuple(links),
            others=tuple(
                (each.name or "Run without a name", address("power", run=each.id))
                for each in list(reversed(others))[:MOST_RUNS]
            ),
            faults=faults,
        ),
        422 if faults else 200,
    )


def power_chart(asked: Asked) -> Response:
    """The picture of engine speed and load along a run, to take along."""
    run = run_of(asked)
    along = _along(asked, run) if run.parent else None
    if along is None:
        raise HTTPException(404)
    return picture_of(_drawn(asked, along), asked.part("form"))
