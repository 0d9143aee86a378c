"""What a test gives with each number of laps: the give-or-take to expect, and what weighing alone would leave."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.scale import extent
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.plan_sentence import laps_words, percent_words

if TYPE_CHECKING:
    from calmday.procedures.plan_result import PlanResult

USUAL_HEIGHT = 280.0
_WANTED = "6 4"


def plan_laps_chart(result: PlanResult, units: ReaderUnits = METRIC) -> Chart | None:
    """Give-or-take over the distance driven; None where there is only one number of laps to look at."""
    options = result.by_laps
    if len(options) < 2:
        return None
    unit = units.show("distance")
    x = np.array([1000 * option.distance.value * unit.factor for option in options])
    panel = Panel(
        name="give or take of the figure",
        unit="%",
        zero=True,
        curves=(
            Curve(
                label="calm day",
                y=np.array([option.uncertainty_percent for option in options]),
                low=np.array([option.low_percent for option in options]),
                high=np.array([option.high_percent for option in options]),
            ),
            Curve(label="as driven", y=np.array([option.as_driven_percent for option in options]), style=1),
            Curve(label="weighing", y=np.array([option.weighing_percent for option in options]), style=2),
        ),
    )

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(x.tolist(), pad=0.02), top, height)[0]
        draw_panel(canvas, field, panel, x)
        _wanted(canvas, field, result, x)
        canvas.bottom(lying_scale(canvas, field, "distance driven", unit.unit))

    title, note = (
        "How sure with how many laps",
        "A mark for each number of laps, full: as planned; band: nine days in ten",
    )
    return Chart(name="laps", title=title, note=note, description=_says(result), table=_table(result), draw=draw)


def _wanted(canvas: Canvas, field: Field, result: PlanResult, x: np.ndarray) -> None:
    """The give-or-take wanted as a dashed line, and the laps planned as a mark."""
    if result.question in ("baseline", "cost") and field.y.low <= result.wanted_percent <= field.y.high:
        y = field.y(result.wanted_percent)
        canvas.line(field.left, y, field.right, y, "ink", 1.4, _WANTED)
        size = canvas.frame.number
        canvas.text(field.right - 0.4 * size, y - 0.35 * size, "wanted", size=size, anchor="end")
    for place, option in zip(x, result.by_laps, strict=True):
        size, hollow = 0.25 * canvas.frame.number, option.laps != result.laps
        canvas.marker("circle", field.x(float(place)), field.y(option.uncertainty_percent), size, "first", hollow)


def _says(result: PlanResult) -> str:
    first, last = result.by_laps[0], result.by_laps[-1]
    chosen = next(option for option in result.by_laps if option.laps == result.laps)
    middle = (
        f", with {laps_words(chosen.laps)} {percent_words(chosen.uncertainty_percent)}"
        if chosen.laps not in (first.laps, last.laps)
        else ""
    )
    return (
        f"With {laps_words(first.laps)} the calm-day figure is good to {percent_words(first.uncertainty_percent)}"
        f"{middle}, with {laps_words(last.laps)} {percent_words(last.uncertainty_percent)}."
    )


def _table(result: PlanResult) -> DataTable:
    columns = (
        DataColumn("laps"),
        DataColumn("distance", "km"),
        DataColumn("calm day", "%"),
        DataColumn("nine in ten from", "%"),
        DataColumn("to", "%"),
        DataColumn("as driven", "%"),
        DataColumn("weighing alone", "%"),
    )
    rows = tuple(
        (
            option.laps,
            option.distance.value,
            option.uncertainty_percent,
            option.low_percent,
            option.high_percent,
            option.as_driven_percent,
            option.weighing_percent,
        )
        for option in result.by_laps
    )
    return DataTable(columns, rows)
