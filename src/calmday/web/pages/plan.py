"""What will a test tell? Tests to be driven, entered here, worked out, and printed for the day."""

from __future__ import annotations

from functools import partial
from importlib.util import find_spec
from typing import TYPE_CHECKING, Final

from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.procedures.plan_result import PlanResult
from calmday.reports.plan_sheet import plan_sheet
from calmday.web.addresses import address
from calmday.web.pages.worked import Answers, Drawers, Found, Readers, Way, WorkedKind, needed
from calmday.web.stored import units_of

if TYPE_CHECKING:
    from calmday.web.asked import Asked

PAPERS: Final = (("a4", "A4"), ("a5", "A5"))


def _readers() -> Readers[PlanResult]:
    from calmday.operations.logbook import plan_is_stale, plan_result_of  # noqa: PLC0415  (with the database layer)

    return Readers(plan_result_of, plan_is_stale)


def _charts(asked: Asked, found: Found[PlanResult], _taken: bool) -> Drawers:
    from calmday.reports.charts.plan_laps import plan_laps_chart  # noqa: PLC0415  (drawing needs numpy)

    return {"laps": partial(plan_laps_chart, found.result, units_of(asked.habits.units))}


def _papers(found: Found[PlanResult]) -> tuple[Way, ...]:
    """The sheets to print; none where the typesetter is not installed."""
    if find_spec("typst") is None:
        return ()
    return tuple(
        Way(
            f"The sheets for the day, {words}",
            address("plan_sheets", document=found.document.id, paper=paper),
            "button",
            taken=True,
        )
        for paper, words in PAPERS
    )


OWN: Final = WorkedKind(
    kind="plan",
    tab="plan",
    title="What will a test tell?",
    heading="Planned tests",
    begin="Plan a test",
    every="All planned tests of this vehicle",
    how="How a plan is made",
    steps=(
        "Write the question down. What difference would matter to you?",
        "Give the lap: a track of it, or its length. The forecast, the scale, the can, the fuel on board.",
        "Work it out. The test is driven on paper a hundred times and worked out each time, as a weighed run is.",
        "Read go or no go, print the sheets, and drive; or do not, and do what would answer it instead.",
    ),
    caution="A plan is no permission: the law of the road, the weather of the day and a rested driver come first. The "
    "passenger writes, the driver drives. Fuel is weighed outside, engine off, an extinguisher at hand.",
    nothing_yet="A plan tells what a test will be worth before you drive it: write down the question, the lap, "
    "the scale.",
    nameless="Test without a name",
    unworked="Write down what you know, then work it out.",
    json="plan_json",
    chart="plan_chart",
    readers=_readers,
    sheet=plan_sheet,
    charts=_charts,
    first=_papers,
)
ANSWERS: Final = Answers(OWN)


def plan_sheets(asked: Asked) -> Response:
    """Every sheet of the test day as one PDF."""
    from calmday.operations import field_sheets_pdf  # noqa: PLC0415  (the typesetter only here)

    paper = asked.part("paper")
    if paper not in ("a4", "a5"):
        raise HTTPException(404)
    data = field_sheets_pdf(needed(asked, OWN).result, "a5" if paper == "a5" else "a4")
    named = f'attachment; filename="test-day-{paper}.pdf"'
    return Response(data, media_type="application/pdf", headers={"Content-Disposition": named})
