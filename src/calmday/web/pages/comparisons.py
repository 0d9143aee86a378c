"""Did it make a difference? Runs before and after a change, ticked here and compared."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, Final

from starlette.responses import Response

from calmday.errors import InputError
from calmday.procedures.comparison_result import ComparisonResult
from calmday.reports.comparison_sheet import comparison_sheet
from calmday.web.addresses import address
from calmday.web.pages.common import frame, subject
from calmday.web.pages.comparison_form import comparison_form
from calmday.web.pages.documents import document_of
from calmday.web.pages.worked import Answers, Drawers, Found, Readers, Way, Worked, WorkedKind
from calmday.web.render import Context, Frame, page

if TYPE_CHECKING:
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked


class ComparisonPage(Context, frozen=True, kw_only=True):
    """One comparison. `order` where an order is drawn by lot."""

    template: ClassVar[str] = "comparison.html"
    worked: Worked
    order: str


class OrderPage(Context, frozen=True, kw_only=True):
    """An order drawn by lot, shown once: `digest` for everybody, `line` for the helper alone, `steps` one by one."""

    template: ClassVar[str] = "sealed_order.html"
    digest: str
    line: str
    steps: tuple[str, ...]
    back: str


def _readers() -> Readers[ComparisonResult]:
    from calmday.operations.logbook import comparison_is_stale, comparison_result_of  # noqa: PLC0415  (the database)

    return Readers(comparison_result_of, comparison_is_stale)


def _charts(_: Asked, found: Found[ComparisonResult], _taken: bool) -> Drawers:
    from calmday.reports.charts.compared import charts_of_comparison  # noqa: PLC0415  (drawing needs numpy)

    return {chart.name: _drawn(chart) for chart in charts_of_comparison(found.result)}


def _drawn(chart: Chart) -> Callable[[], Chart]:
    return lambda: chart


def _show(found: Found[ComparisonResult]) -> tuple[Way, ...]:
    return (Way("Show it to others", address("comparison_show", document=found.document.id), "plain button"),)


def _page(head: Frame, worked: Worked) -> Context:
    return ComparisonPage(frame=head, worked=worked, order=address("comparison_order", document=worked.form.id))


ANSWERS: Final = Answers(
    WorkedKind(
        kind="comparison",
        tab="comparisons",
        title="Did it make a difference?",
        heading="Comparisons",
        begin="Begin a comparison",
        every="All comparisons of this vehicle",
        how="How a fair test is driven",
        steps=(
            "Write down what you want to know, how many runs you will drive, and the smallest change that would "
            "matter.",
            "Change one thing. Same road, same speed by satellite, same load, one batch of fuel, warm engine.",
            "Drive in turns: before, after, after, before. Whatever drifts through the day then falls out.",
            "Weigh every run like any other. Leave a run out only for what happened on the road, and decide that "
            "before you weigh.",
        ),
        caution="Never change brakes, steering or tyres to unsafe values for a test, and keep to the limits of the "
        "road.",
        nothing_yet="Weigh a few runs before the change and a few after it, best in turns. Then compare them here.",
        nameless="Comparison without a name",
        unworked="Say of each run whether it was before or after the change, then work it out.",
        json="comparison_json",
        chart="comparison_chart",
        readers=_readers,
        sheet=comparison_sheet,
        charts=_charts,
        bars=True,
        taken=_show,
        form=comparison_form,
        page=_page,
    )
)


def comparison_order(asked: Asked) -> Response:
    """Draw an order by lot: its digest is kept with the comparison, the line that opens it is shown once."""
    from calmday.operations import sealed_order  # noqa: PLC0415

    found = document_of(asked, "comparison")
    typed = asked.form.get("runs", "").strip()
    if not typed.isdecimal() or len(typed) > 3:
        raise InputError.one("form", "runs", "is not a whole number", "an even number from 2 to 60, such as 8")
    drawn = sealed_order(int(typed))
    asked.desk.book.write(
        found.kind, found.id, {"sealed_order": drawn.digest, "sealed_with": None}, asked.habits.by, device=asked.device
    )
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    words = {"A": "before the change", "B": "after the change"}
    return page(
        OrderPage(
            frame=frame(asked, "An order drawn by lot", tab="comparisons", vehicle=vehicle),
            digest=drawn.digest,
            line=drawn.sealed_with,
            steps=tuple(words[letter] for letter in drawn.order.split("-")),
            back=address("comparison", document=found.id),
        )
    )
