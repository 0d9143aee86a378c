"""Pulls and hills: the engine's power found on the road, entered here and worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.pull_sheet import pull_sheet
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
from calmday.web.stored import units_of

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.pull_result import PullResult
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

CHARTS = ("power", "each", "doubt")
NOTHING_YET = "A pull tells what the engine really gives: full throttle in one gear, recorded by the receiver."


class PullsPage(Context, frozen=True, kw_only=True):
    """Every day of pulls of a vehicle."""

    template: ClassVar[str] = "pulls.html"
    sentence: str
    found: tuple[DocumentLine, ...]
    links: tuple[tuple[str, str], ...]


class PullPage(Context, frozen=True, kw_only=True):
    """One day of pulls: what was found, and what was written down. `failed` why it could not be worked out."""

    template: ClassVar[str] = "pull.html"
    sentence: str
    stale: bool
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    form: FormView
    links: tuple[tuple[str, str], ...]


def pulls(asked: Asked) -> Response:
    """The days of pulls of a vehicle."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, "pull", vehicle.id)
    return page(
        PullsPage(
            frame=frame(asked, "Pulls and hills", tab="pulls", vehicle=vehicle),
            sentence=newest_words(asked, found, NOTHING_YET),
            found=lines(spec_of("pull"), found),
            links=_links(vehicle.id),
        )
    )


def _links(vehicle_id: str) -> tuple[tuple[str, str], ...]:
    return (
        ("What each gear holds", address("gears", vehicle=vehicle_id)),
        ("When to change gear", address("shifts", vehicle=vehicle_id)),
        ("Pulls and hills", address("pulls", vehicle=vehicle_id)),
    )


def pull(asked: Asked) -> Response:
    """One day of pulls, to fill in and to read."""
    found, spec = document_of(asked, "pull"), spec_of("pull")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("pull", document=found.id, done="saved")
    return _page(asked, found)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    from calmday.operations.logbook import pull_result_of, pulls_are_stale  # noqa: PLC0415  (with the database layer)

    spec = spec_of("pull")
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    stored = newest_result(asked, found)
    result = pull_result_of(stored) if stored is not None else None
    shown = pull_sheet(result) if result is not None else None
    return page(
        PullPage(
            frame=frame(asked, found.name or "Pulls without a name", tab="pulls", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else "Write down what you know, keep the recordings, work it out.",
            stale=stored is not None and pulls_are_stale(asked.desk.book, found.id, stored),
            failed=failed_words(asked, found, spec),
            charts=_charts(asked, found, result) if result is not None else (),
            blocks=tuple(block for block in blocks_of(shown) if block.kind != "bars") if shown is not None else (),
            json=address("pull_json", document=found.id) if stored is not None else "",
            form=form_view(asked, found, spec, kept=kept),
            links=_links(found.parent) if found.parent else (),
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _chart(asked: Asked, name: str, result: PullResult) -> Chart | None:
    if name == "power":
        from calmday.reports.charts.pull_power import pull_power_chart  # noqa: PLC0415  (drawing needs numpy)

        return pull_power_chart(result, units_of(asked.habits.units))
    from calmday.reports.charts.pull_rows import each_pull_chart, pull_doubt_chart  # noqa: PLC0415

    return each_pull_chart(result, units_of(asked.habits.units)) if name == "each" else pull_doubt_chart(result)


def _charts(asked: Asked, found: Subject, result: PullResult) -> tuple[ChartView, ...]:
    views = []
    for name in CHARTS:
        chart = _chart(asked, name, result)
        if chart is not None:
            view = chart_view(chart)
            taken = pictures_to_take(view.title, partial(_picture, found.id, name))
            views.append(msgspec.structs.replace(view, downloads=taken))
    return tuple(views)


def _picture(document: str, chart: str, form: str) -> str:
    return address("pull_chart", document=document, chart=chart, form=form)


def pull_json(asked: Asked) -> Response:
    """The result as `calmday pull --json` prints it."""
    stored = newest_result(asked, document_of(asked, "pull"))
    if stored is None:
        raise HTTPException(404)
    return Response(stored.content, media_type="application/json")


def pull_chart(asked: Asked) -> Response:
    """A picture of a day of pulls to take along."""
    from calmday.operations.logbook import pull_result_of  # noqa: PLC0415

    stored = newest_result(asked, document_of(asked, "pull"))
    if stored is None or asked.part("chart") not in CHARTS:
        raise HTTPException(404)
    chart = _chart(asked, asked.part("chart"), pull_result_of(stored))
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))
