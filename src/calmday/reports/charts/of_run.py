"""Every chart of a weighed run, in the order of its sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from calmday.reports.charts.chart import Chart
from calmday.reports.charts.comparison import Guess, comparison_chart
from calmday.reports.charts.cruise import cruise_chart
from calmday.reports.charts.day_cost import day_cost_chart
from calmday.reports.charts.doubt import doubt_chart
from calmday.reports.charts.fuel_shares import fuel_shares_chart
from calmday.reports.charts.legs import legs_chart
from calmday.reports.charts.parameters import parameters_chart
from calmday.reports.charts.quantities import QuantityKey
from calmday.reports.charts.route import route_chart
from calmday.reports.charts.traces import Over, traces_chart
from calmday.reports.charts.units import METRIC, ReaderUnits

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive
    from calmday.procedures.weighed_run_result import RunResult


def charts_of_run(
    result: RunResult,
    along: AlongTheDrive | None = None,
    guesses: Sequence[Guess] = (),
    units: ReaderUnits = METRIC,
    by: QuantityKey = "speed",
    over: Over = "distance",
) -> tuple[Chart, ...]:
    """The charts there is something to show in: a run without a track has no route, one without a calm day no cost."""
    which = "calm-day figure" if result.budget else "as-driven figure"
    found = (
        comparison_chart(result, guesses, units),
        None if along is None else route_chart(along, by, units),
        None if along is None else traces_chart(along, over, units),
        day_cost_chart(result, units),
        fuel_shares_chart(result.energy),
        doubt_chart(result.budget or result.budget_as_driven, which),
        legs_chart(result.legs, units),
        cruise_chart(result.level_cruise, units),
        parameters_chart(result.estimates),
    )
    return tuple(chart for chart in found if chart is not None)
