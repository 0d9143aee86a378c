"""Pulls and hills: the engine's power found on the road, entered here and worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

from calmday.procedures.pull_result import PullResult
from calmday.reports.pull_sheet import pull_sheet
from calmday.web.addresses import address
from calmday.web.pages.worked import Answers, Drawers, Found, Readers, WorkedKind
from calmday.web.stored import units_of

if TYPE_CHECKING:
    from calmday.web.asked import Asked


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


def _ways(vehicle: str) -> tuple[tuple[str, str], ...]:
    return (
        ("What each gear holds", address("gears", vehicle=vehicle)),
        ("When to change gear", address("shifts", vehicle=vehicle)),
        ("Pulls and hills", address("pulls", vehicle=vehicle)),
    )


ANSWERS: Final = Answers(
    WorkedKind(
        kind="pull",
        tab="pulls",
        question="What does the engine give?",
        title="Pulls and hills",
        heading="Days of pulls",
        begin="Write down a day of pulls",
        every="All pulls and hills of this vehicle",
        how="How a pull is done",
        steps=(
            "Warm engine and tyres, windows shut, a straight and empty stretch that is as level as can be, or a long "
            "even hill.",
            "Start the recording, best at five or ten fixes a second.",
            "Pull: one gear, from low speed, full throttle until near governed speed. Lift, turn, the same the other "
            "way. Three each way.",
            "Hill: one gear, full throttle, until the speed stays. Record it, or time it between two marks of known "
            "rise and distance.",
        ),
        caution="A road is no test track: keep within its limits and the law of the place, use a closed course where "
        "there is one, let somebody else work the recorder, and leave it at once when anyone comes.",
        nothing_yet="A pull tells what the engine really gives: full throttle in one gear, recorded by the receiver.",
        nameless="Pulls without a name",
        json="pull_json",
        chart="pull_chart",
        readers=_readers,
        sheet=pull_sheet,
        charts=_charts,
        ways=_ways,
    )
)
