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
)
from calmday.web.render import Context, Frame, page

if TYPE_CHECKING:
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked


class ComparisonsPage(Context, frozen=True, kw_only=True):
    """Every comparison of a vehicle."""

    template: ClassVar[str] = "comparisons.html"
    listing: Listing


class ComparisonPage(Context, frozen=True, kw_only=True):
    """One comparison. `show` where it is shown to others, `order` where an order is drawn by lot."""

    template: ClassVar[str] = "comparison.html"
    worked: Worked
    show: str
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


OWN: Final = WorkedKind(
    kind="comparison",
    tab="comparisons",
    title="Did it make a difference?",
    heading="Comparisons",
    begin="Begin a comparison",
    every="All comparisons of this vehicle",
    nothing_yet="Weigh a few runs before the change and a few after it, best in turns. Then compare them here.",
    nameless="Comparison without a name",
    first="Say of each run whether it was before or after the change, then work it out.",
    json="comparison_json",
    chart="comparison_chart",
    readers=_readers,
    sheet=comparison_sheet,
    charts=_charts,
    bars=True,
    form=comparison_form,
)


def comparisons(asked: Asked) -> Response:
    """The comparisons of a vehicle."""
    return list_answer(asked, OWN, lambda head, listing: ComparisonsPage(frame=head, listing=listing))


def comparison(asked: Asked) -> Response:
    """One comparison, to fill in and to read."""
    return document_answer(asked, OWN, _page)


def _page(head: Frame, worked: Worked, found: Found[ComparisonResult] | None) -> ComparisonPage:
    return ComparisonPage(
        frame=head,
        worked=worked,
        show=address("comparison_show", document=found.document.id) if found is not None else "",
        order=address("comparison_order", document=worked.form.id),
    )


def comparison_json(asked: Asked) -> Response:
    """The result as `calmday compare --json` prints it."""
    return json_answer(asked, OWN)


def comparison_chart(asked: Asked) -> Response:
    """A picture of a comparison to take along."""
    return chart_answer(asked, OWN)


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
