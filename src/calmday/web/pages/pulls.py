"""Pulls and hills: the engine's power found on the road, entered here and worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from starlette.responses import Response

from calmday.procedures.pull_result import PullResult
from calmday.reports.pull_sheet import pull_sheet
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
)
from calmday.web.render import Context, Frame
from calmday.web.stored import units_of

if TYPE_CHECKING:
    from calmday.web.asked import Asked

Ways = tuple[tuple[str, str], ...]
"""Words and addresses of the other pages about power."""


class PullsPage(Context, frozen=True, kw_only=True):
    """Every day of pulls of a vehicle."""

    template: ClassVar[str] = "pulls.html"
    listing: Listing
    links: Ways


class PullPage(Context, frozen=True, kw_only=True):
    """One day of pulls."""

    template: ClassVar[str] = "pull.html"
    worked: Worked
    links: Ways


def _readers() -> Readers[PullResult]:
    from calmday.operations.logbook import pull_result_of, pulls_are_stale  # noqa: PLC0415  (with the database layer)

    return Readers(pull_result_of, pulls_are_stale)


def _charts(asked: Asked, found: Found[PullResult], _taken: bool) -> Drawers:
    from calmday.reports.charts.pull_power import pull_power_chart  # noqa: PLC0415  (drawing needs numpy)
    from calmday.reports.charts.pull_rows import each_pull_chart, pull_doubt_chart  # noqa: PLC0415

    units = units_of(asked.habits.units)
    return {
        "power": partial(pull_power_chart, found.result, units),
        "each": partial(each_pull_chart, found.result, units),
        "doubt": partial(pull_doubt_chart, found.result),
    }


OWN: Final = WorkedKind(
    kind="pull",
    tab="pulls",
    question="What does the engine give?",
    title="Pulls and hills",
    heading="Days of pulls",
    begin="Write down a day of pulls",
    every="All pulls and hills of this vehicle",
    nothing_yet="A pull tells what the engine really gives: full throttle in one gear, recorded by the receiver.",
    nameless="Pulls without a name",
    json="pull_json",
    chart="pull_chart",
    readers=_readers,
    sheet=pull_sheet,
    charts=_charts,
)


def _links(head: Frame) -> Ways:
    if head.vehicle is None:
        return ()
    return (
        ("What each gear holds", address("gears", vehicle=head.vehicle.id)),
        ("When to change gear", address("shifts", vehicle=head.vehicle.id)),
        ("Pulls and hills", address("pulls", vehicle=head.vehicle.id)),
    )


def pulls(asked: Asked) -> Response:
    """The days of pulls of a vehicle."""
    return list_answer(asked, OWN, lambda head, listing: PullsPage(frame=head, listing=listing, links=_links(head)))


def pull(asked: Asked) -> Response:
    """One day of pulls, to fill in and to read."""
    return document_answer(asked, OWN, lambda head, worked, _: PullPage(frame=head, worked=worked, links=_links(head)))


def pull_json(asked: Asked) -> Response:
    """The result as `calmday pull --json` prints it."""
    return json_answer(asked, OWN)


def pull_chart(asked: Asked) -> Response:
    """A picture of a day of pulls to take along."""
    return chart_answer(asked, OWN)
