"""Coastdowns: rolls in neutral entered here and worked out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

from calmday.procedures.coastdown_result import CoastdownResult
from calmday.reports.coastdown_sheet import coastdown_sheet
from calmday.web.pages.worked import Answers, Drawers, Found, Readers, WorkedKind

if TYPE_CHECKING:
    from calmday.web.asked import Asked


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


ANSWERS: Final = Answers(
    WorkedKind(
        kind="coastdown",
        tab="coastdowns",
        question="How much is air, how much tyres?",
        title="Coastdowns",
        heading="Days of coastdowns",
        begin="Write down a day of coastdowns",
        every="All coastdowns of this vehicle",
        how="How a coastdown is done",
        steps=(
            "Warm up for twenty minutes. Tyres at the usual pressure, windows shut, the vehicle weighed.",
            "A straight, even and empty stretch. Start the recording.",
            "As fast as is allowed, then gear out, clutch up, foot off: let it roll down to 30 km/h or less. Turn, the "
            "same the other way. Three each way.",
            "With a recording of places, begin each pair 150 to 300 m further along the road than the one before: only "
            "so are its rises and dips told from the air.",
            "On a short road: roll the upper half of the speeds in some passes, the lower half in others.",
            "Read the wind for two minutes before and after.",
        ),
        caution="Rolling out of gear is restricted on public roads in some places: the law of the place comes first. "
        "Engine on, always: brakes and steering need it, and the steering may lock without. Nobody behind, within the "
        "limit; the passenger works the recorder.",
        nothing_yet="Rolls in neutral tell air drag from rolling resistance: let it slow down out of gear, both ways.",
        nameless="Coastdowns without a name",
        json="coastdown_json",
        chart="coastdown_chart",
        readers=_readers,
        sheet=coastdown_sheet,
        charts=_charts,
    )
)
