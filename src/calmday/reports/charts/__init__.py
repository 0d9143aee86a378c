"""The pictures of a run as our own SVG: pure functions from results to charts, no script needed to read them."""

from __future__ import annotations

from calmday.reports.charts.card import headline_card
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.comparison import Guess, comparison_chart, guesses_of
from calmday.reports.charts.cruise import cruise_chart
from calmday.reports.charts.day_cost import day_cost_chart
from calmday.reports.charts.doubt import doubt_chart
from calmday.reports.charts.frames import SIZES, Size
from calmday.reports.charts.fuel_shares import fuel_shares_chart
from calmday.reports.charts.full_load import full_load_chart
from calmday.reports.charts.guess_board import guess_board_chart
from calmday.reports.charts.history import ChangeMark, HistoryPoint, history_chart
from calmday.reports.charts.legs import legs_chart
from calmday.reports.charts.of_run import charts_of_run
from calmday.reports.charts.palette import Theme, stylesheet
from calmday.reports.charts.parameters import parameters_chart
from calmday.reports.charts.picture import png
from calmday.reports.charts.power_trace import power_trace_chart
from calmday.reports.charts.pull_power import pull_power_chart
from calmday.reports.charts.pull_rows import each_pull_chart, pull_doubt_chart
from calmday.reports.charts.quantities import QUANTITY_KEYS, QuantityKey
from calmday.reports.charts.route import route_chart
from calmday.reports.charts.thrust import thrust_chart
from calmday.reports.charts.traces import traces_chart
from calmday.reports.charts.units import METRIC, ReaderUnits

__all__ = [
    "METRIC",
    "QUANTITY_KEYS",
    "SIZES",
    "ChangeMark",
    "Chart",
    "DataColumn",
    "DataTable",
    "Guess",
    "HistoryPoint",
    "QuantityKey",
    "ReaderUnits",
    "Size",
    "Theme",
    "charts_of_run",
    "comparison_chart",
    "cruise_chart",
    "day_cost_chart",
    "doubt_chart",
    "each_pull_chart",
    "fuel_shares_chart",
    "full_load_chart",
    "guess_board_chart",
    "guesses_of",
    "headline_card",
    "history_chart",
    "legs_chart",
    "parameters_chart",
    "png",
    "power_trace_chart",
    "pull_doubt_chart",
    "pull_power_chart",
    "route_chart",
    "stylesheet",
    "thrust_chart",
    "traces_chart",
]
