"""What will a test tell? Tests to be driven, entered here, worked out, and printed for the day."""

from __future__ import annotations

from functools import partial
from importlib.util import find_spec
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.plan_sheet import plan_sheet
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
    from calmday.procedures.plan_result import PlanResult
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

NOTHING_YET = "A plan tells what a test will be worth before you drive it: write down the question, the lap, the scale."
PAPERS = (("a4", "A4"), ("a5", "A5"))


class PlansPage(Context, frozen=True, kw_only=True):
    """Every planned test of a vehicle."""

    template: ClassVar[str] = "plans.html"
    sentence: str
    found: tuple[DocumentLine, ...]


class PlanPage(Context, frozen=True, kw_only=True):
    """One planned test: what it will tell, and what was written down. `failed` why it could not be worked out.

    `papers` addresses of the sheets to print with their words; empty where the typesetter is not installed.
    """

    template: ClassVar[str] = "plan.html"
    sentence: str
    stale: bool
    failed: tuple[str, ...]
    chart: ChartView | None
    blocks: tuple[BlockView, ...]
    papers: tuple[tuple[str, str], ...]
    json: str
    form: FormView


def plans(asked: Asked) -> Response:
    """The planned tests of a vehicle."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, "plan", vehicle.id)
    return page(
        PlansPage(
            frame=frame(asked, "What will a test tell?", tab="plan", vehicle=vehicle),
            sentence=newest_words(asked, found, NOTHING_YET),
            found=lines(spec_of("plan"), found),
        )
    )


def plan_document(asked: Asked) -> Response:
    """One planned test, to fill in and to read."""
    found, spec = document_of(asked, "plan"), spec_of("plan")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("plan_document", document=found.id, done="saved")
    return _page(asked, found)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    from calmday.operations.logbook import plan_is_stale, plan_result_of  # noqa: PLC0415  (with the database layer)

    spec = spec_of("plan")
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    stored = newest_result(asked, found)
    result = plan_result_of(stored) if stored is not None else None
    shown = plan_sheet(result) if result is not None else None
    return page(
        PlanPage(
            frame=frame(asked, found.name or "Test without a name", tab="plan", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else "Write down what you know, then work it out.",
            stale=stored is not None and plan_is_stale(asked.desk.book, found.id, stored),
            failed=failed_words(asked, found, spec),
            chart=_chart(asked, found, result) if result is not None else None,
            blocks=tuple(block for block in blocks_of(shown) if block.kind != "bars") if shown is not None else (),
            papers=_papers(found) if stored is not None else (),
            json=address("plan_json", document=found.id) if stored is not None else "",
            form=form_view(asked, found, spec, kept=kept),
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _papers(found: Subject) -> tuple[tuple[str, str], ...]:
    if find_spec("typst") is None:
        return ()
    return tuple(
        (address("plan_sheets", document=found.id, paper=paper), f"The sheets for the day, {words}")
        for paper, words in PAPERS
    )


def _result(asked: Asked) -> PlanResult:
    from calmday.operations.logbook import plan_result_of  # noqa: PLC0415

    stored = newest_result(asked, document_of(asked, "plan"))
    if stored is None:
        raise HTTPException(404)
    return plan_result_of(stored)


def _chart(asked: Asked, found: Subject, result: PlanResult) -> ChartView | None:
    from calmday.reports.charts.plan_laps import plan_laps_chart  # noqa: PLC0415  (drawing needs numpy)

    chart = plan_laps_chart(result, units_of(asked.habits.units))
    if chart is None:
        return None
    view = chart_view(chart)
    return msgspec.structs.replace(view, downloads=pictures_to_take(view.title, partial(_picture, found.id)))


def _picture(document: str, form: str) -> str:
    return address("plan_chart", document=document, form=form)


def plan_json(asked: Asked) -> Response:
    """The result as `calmday plan --json` prints it."""
    stored = newest_result(asked, document_of(asked, "plan"))
    if stored is None:
        raise HTTPException(404)
    return Response(stored.content, media_type="application/json")


def plan_chart(asked: Asked) -> Response:
    """The picture of a plan to take along."""
    from calmday.reports.charts.plan_laps import plan_laps_chart  # noqa: PLC0415

    chart = plan_laps_chart(_result(asked), units_of(asked.habits.units))
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))


def plan_sheets(asked: Asked) -> Response:
    """Every sheet of the test day as one PDF."""
    from calmday.operations import field_sheets_pdf  # noqa: PLC0415  (the typesetter only here)

    paper = asked.part("paper")
    if paper not in ("a4", "a5"):
        raise HTTPException(404)
    data = field_sheets_pdf(_result(asked), "a5" if paper == "a5" else "a4")
    named = f'attachment; filename="test-day-{paper}.pdf"'
    return Response(data, media_type="application/pdf", headers={"Content-Disposition": named})
