"""What will a test tell? Tests to be driven, entered here, worked out, and printed for the day."""

from __future__ import annotations

from functools import partial
from importlib.util import find_spec
from typing import TYPE_CHECKING, ClassVar, Final

from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.procedures.plan_result import PlanResult
from calmday.reports.plan_sheet import plan_sheet
from calmday.web.addresses import address
from calmday.web.pages.worked import (
    Drawers,
    Found,
    Listing,
    Readers,
    Worked,
    WorkedKind,
    chart_answer,
    document_answer,
    json_answer,
    list_answer,
    needed,
)
from calmday.web.render import Context, Frame
from calmday.web.stored import units_of

if TYPE_CHECKING:
    from calmday.web.asked import Asked

PAPERS: Final = (("a4", "A4"), ("a5", "A5"))


class PlansPage(Context, frozen=True, kw_only=True):
    """Every planned test of a vehicle."""

    template: ClassVar[str] = "plans.html"
    listing: Listing


class PlanPage(Context, frozen=True, kw_only=True):
    """One planned test.

    `papers` addresses of the sheets to print with their words; empty where the typesetter is not installed.
    """

    template: ClassVar[str] = "plan.html"
    worked: Worked
    papers: tuple[tuple[str, str], ...]


def _readers() -> Readers[PlanResult]:
    from calmday.operations.logbook import plan_is_stale, plan_result_of  # noqa: PLC0415  (with the database layer)

    return Readers(plan_result_of, plan_is_stale)


def _charts(asked: Asked, found: Found[PlanResult], _taken: bool) -> Drawers:
    from calmday.reports.charts.plan_laps import plan_laps_chart  # noqa: PLC0415  (drawing needs numpy)

    return {"laps": partial(plan_laps_chart, found.result, units_of(asked.habits.units))}


OWN: Final = WorkedKind(
    kind="plan",
    tab="plan",
    title="What will a test tell?",
    heading="Planned tests",
    begin="Plan a test",
    every="All planned tests of this vehicle",
    nothing_yet="A plan tells what a test will be worth before you drive it: write down the question, the lap, "
    "the scale.",
    nameless="Test without a name",
    first="Write down what you know, then work it out.",
    json="plan_json",
    chart="plan_chart",
    readers=_readers,
    sheet=plan_sheet,
    charts=_charts,
)


def plans(asked: Asked) -> Response:
    """The planned tests of a vehicle."""
    return list_answer(asked, OWN, lambda head, listing: PlansPage(frame=head, listing=listing))


def plan_document(asked: Asked) -> Response:
    """One planned test, to fill in and to read."""
    return document_answer(asked, OWN, _page)


def _page(head: Frame, worked: Worked, found: Found[PlanResult] | None) -> PlanPage:
    return PlanPage(frame=head, worked=worked, papers=_papers(found.document.id) if found is not None else ())


def _papers(document: str) -> tuple[tuple[str, str], ...]:
    if find_spec("typst") is None:
        return ()
    return tuple(
        (address("plan_sheets", document=document, paper=paper), f"The sheets for the day, {words}")
        for paper, words in PAPERS
    )


def plan_json(asked: Asked) -> Response:
    """The result as `calmday plan --json` prints it."""
    return json_answer(asked, OWN)


def plan_chart(asked: Asked) -> Response:
    """The picture of a plan to take along."""
    return chart_answer(asked, OWN)


def plan_sheets(asked: Asked) -> Response:
    """Every sheet of the test day as one PDF."""
    from calmday.operations import field_sheets_pdf  # noqa: PLC0415  (the typesetter only here)

    paper = asked.part("paper")
    if paper not in ("a4", "a5"):
        raise HTTPException(404)
    data = field_sheets_pdf(needed(asked, OWN).result, "a5" if paper == "a5" else "a4")
    named = f'attachment; filename="test-day-{paper}.pdf"'
    return Response(data, media_type="application/pdf", headers={"Content-Disposition": named})
