"""Coastdowns: rolls in neutral entered here and worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.coastdown_sheet import coastdown_sheet
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    DocumentLine,
    FormView,
    document_of,
    documents_of,
    failed_words,
    form_view,
    keep_document,
    lines,
    newest_result,
    newest_words,
    spec_of,
)
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.coastdown_result import CoastdownResult
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

CHARTS = ("road-load", "residuals", "own-force", "doubt")
NOTHING_YET = "Rolls in neutral tell air drag from rolling resistance: let it slow down out of gear, both ways."


class CoastdownsPage(Context, frozen=True, kw_only=True):
    """Every day of coastdowns of a vehicle."""

    template: ClassVar[str] = "coastdowns.html"
    sentence: str
    found: tuple[DocumentLine, ...]


class CoastdownPage(Context, frozen=True, kw_only=True):
    """One day of coastdowns: what was found, and what was written down. `failed` why it could not be worked out."""

    template: ClassVar[str] = "coastdown.html"
    sentence: str
    stale: bool
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    form: FormView
    home: str


def coastdowns(asked: Asked) -> Response:
    """The days of coastdowns of a vehicle."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, "coastdown", vehicle.id)
    return page(
        CoastdownsPage(
            frame=frame(asked, "Coastdowns", tab="coastdowns", vehicle=vehicle),
            sentence=newest_words(asked, found, NOTHING_YET),
            found=lines(spec_of("coastdown"), found),
        )
    )


def coastdown(asked: Asked) -> Response:
    """One day of coastdowns, to fill in and to read."""
    found, spec = document_of(asked, "coastdown"), spec_of("coastdown")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("coastdown", document=found.id, done="saved")
    return _page(asked, found)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    from calmday.operations.logbook.coastdowns import (  # noqa: PLC0415  (with the database layer)
        coastdown_is_stale,
        coastdown_result_of,
    )

    spec = spec_of("coastdown")
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    stored = newest_result(asked, found)
    result = coastdown_result_of(stored) if stored is not None else None
    shown = coastdown_sheet(result) if result is not None else None
    return page(
        CoastdownPage(
            frame=frame(asked, found.name or "Coastdowns without a name", tab="coastdowns", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else "Write down what you know, keep the recordings, work it out.",
            stale=stored is not None and coastdown_is_stale(asked.desk.book, found.id, stored),
            failed=failed_words(asked, found, spec),
            charts=_charts(found, result) if result is not None else (),
            blocks=tuple(block for block in blocks_of(shown) if block.kind != "bars") if shown is not None else (),
            json=address("coastdown_json", document=found.id) if stored is not None else "",
            form=form_view(asked, found, spec, kept=kept),
            home=address("coastdowns", vehicle=found.parent) if found.parent else "",
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _chart(name: str, result: CoastdownResult) -> Chart | None:
    from calmday.reports.charts import coastdown as drawn  # noqa: PLC0415  (drawing needs numpy)

    makers = {
        "road-load": drawn.road_load_chart, "residuals": drawn.residual_chart, "own-force": drawn.own_force_chart,
        "doubt": drawn.coastdown_doubt_chart,
    }  # fmt: skip
    return makers[name](result)


def _charts(found: Subject, result: CoastdownResult) -> tuple[ChartView, ...]:
    views = []
    for name in CHARTS:
        chart = _chart(name, result)
        if chart is not None:
            view = chart_view(chart)
            taken = pictures_to_take(view.title, partial(_picture, found.id, name))
            views.append(msgspec.structs.replace(view, downloads=taken))
    return tuple(views)


def _picture(document: str, chart: str, form: str) -> str:
    return address("coastdown_chart", document=document, chart=chart, form=form)


def coastdown_json(asked: Asked) -> Response:
    """The result as `calmday coastdown --json` prints it."""
    stored = newest_result(asked, document_of(asked, "coastdown"))
    if stored is None:
        raise HTTPException(404)
    return Response(stored.content, media_type="application/json")


def coastdown_chart(asked: Asked) -> Response:
    """A picture of a day of coastdowns to take along."""
    from calmday.operations.logbook.coastdowns import coastdown_result_of  # noqa: PLC0415

    stored = newest_result(asked, document_of(asked, "coastdown"))
    if stored is None or asked.part("chart") not in CHARTS:
        raise HTTPException(404)
    chart = _chart(asked.part("chart"), coastdown_result_of(stored))
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))
