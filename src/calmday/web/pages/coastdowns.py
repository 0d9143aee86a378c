"""Coastdowns: rolls in neutral entered here and worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from starlette.responses import Response

from calmday.procedures.coastdown_result import CoastdownResult
from calmday.reports.coastdown_sheet import coastdown_sheet
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
from calmday.web.render import Context

if TYPE_CHECKING:
    from calmday.web.asked import Asked


class CoastdownsPage(Context, frozen=True, kw_only=True):
    """Every day of coastdowns of a vehicle."""

    template: ClassVar[str] = "coastdowns.html"
    listing: Listing


class CoastdownPage(Context, frozen=True, kw_only=True):
    """One day of coastdowns."""

    template: ClassVar[str] = "coastdown.html"
    worked: Worked


def _readers() -> Readers[CoastdownResult]:
    from calmday.operations.logbook.coastdowns import (  # noqa: PLC0415  (with the database layer)
        coastdown_is_stale,
        coastdown_result_of,
    )

    return Readers(coastdown_result_of, coastdown_is_stale)


def _charts(_: Asked, found: Found[CoastdownResult], _taken: bool) -> Drawers:
    from calmday.reports.charts import coastdown as drawn  # noqa: PLC0415  (drawing needs numpy)

    return {
        "road-load": partial(drawn.road_load_chart, found.result),
        "residuals": partial(drawn.residual_chart, found.result),
        "own-force": partial(drawn.own_force_chart, found.result),
        "doubt": partial(drawn.coastdown_doubt_chart, found.result),
    }


OWN: Final = WorkedKind(
    kind="coastdown",
    tab="coastdowns",
    question="How much is air, how much tyres?",
    title="Coastdowns",
    heading="Days of coastdowns",
    begin="Write down a day of coastdowns",
    every="All coastdowns of this vehicle",
    nothing_yet="Rolls in neutral tell air drag from rolling resistance: let it slow down out of gear, both ways.",
    nameless="Coastdowns without a name",
    json="coastdown_json",
    chart="coastdown_chart",
    readers=_readers,
    sheet=coastdown_sheet,
    charts=_charts,
)


def coastdowns(asked: Asked) -> Response:
    """The days of coastdowns of a vehicle."""
    return list_answer(asked, OWN, lambda head, listing: CoastdownsPage(frame=head, listing=listing))


def coastdown(asked: Asked) -> Response:
    """One day of coastdowns, to fill in and to read."""
    return document_answer(asked, OWN, lambda head, worked, _: CoastdownPage(frame=head, worked=worked))


def coastdown_json(asked: Asked) -> Response:
    """The result as `calmday coastdown --json` prints it."""
    return json_answer(asked, OWN)


def coastdown_chart(asked: Asked) -> Response:
    """A picture of a day of coastdowns to take along."""
    return chart_answer(asked, OWN)
