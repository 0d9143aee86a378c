"""Power found on the road over engine speed: engine and wheels with their doubt, against the chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.scale import extent
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.words import amount, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.metrology.figure import Figure
    from calmday.procedures.pull_result import PullResult

FloatArray = NDArray[np.float64]

USUAL_HEIGHT: Final = 300.0


def pull_power_chart(result: PullResult, units: ReaderUnits = METRIC) -> Chart | None:
    """Marks with their 95 % intervals at the engine speeds that pulls went through; None without any."""
    if not result.points:
        return None
    shown = units.show("power")
    factor = 1000 * shown.factor
    rpm = np.array([point.engine_speed.value for point in result.points])
    engine = [point.engine_power.scaled(factor, shown.unit) for point in result.points]
    wheel = [point.wheel_power.scaled(factor, shown.unit) for point in result.points]
    curves = [_curve("engine", engine, 0), _curve("at the wheels", wheel, 1)]
    chart = _chart_power(result, factor)
    if chart is not None:
        curves.append(Curve(label="chart, in this air", y=chart, style=4))
    panel = Panel(name="power", unit=shown.unit, curves=tuple(curves), zero=True)

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(rpm.tolist(), pad=0.06), top, height)[0]
        draw_panel(canvas, field, panel, rpm)
        _marks(canvas, field, rpm, engine, "circle", "first")
        _marks(canvas, field, rpm, wheel, "square", "second")
        canvas.bottom(lying_scale(canvas, field, "engine speed", "rpm"))

    title, note = "Full-load power found on the road", "In the air of the day; 95 % intervals"
    return Chart(
        name="pull-power",
        title=title,
        note=note,
        description=_description(result, factor, shown.unit),
        table=_table(result, factor, shown.unit, chart),
        draw=draw,
    )


def _curve(label: str, figures: Sequence[Figure], style: int) -> Curve:
    return Curve(
        label=label,
        y=np.array([figure.value for figure in figures]),
        low=np.array([figure.low for figure in figures]),
        high=np.array([figure.high for figure in figures]),
        style=style,
    )


def _chart_power(result: PullResult, factor: float) -> FloatArray | None:
    """The declared chart in the air of the day; None where no chart was declared."""
    ratios = [point.of_chart for point in result.points]
    if any(ratio is None for ratio in ratios):
        return None
    pairs = zip(result.points, ratios, strict=True)
    return np.array([factor * point.engine_power.value / ratio.value for point, ratio in pairs if ratio is not None])


def _marks(canvas: Canvas, field: Field, rpm: FloatArray, figures: Sequence[Figure], kind: str, paint: str) -> None:
    size = canvas.frame.number
    for x, figure in zip(rpm.tolist(), figures, strict=True):
        place = field.x(x)
        canvas.upright(place, field.y(figure.low), field.y(figure.high), 0.25 * size, paint, 1.6)
        canvas.marker(kind, place, field.y(figure.value), 0.24 * size, paint)


def _description(result: PullResult, factor: float, unit: str) -> str:
    peak = max(result.points, key=lambda point: point.engine_power.value)
    engine, wheel = (figure.scaled(factor, unit) for figure in (peak.engine_power, peak.wheel_power))
    return (
        f"At {number(peak.engine_speed.value, -1)} rpm the engine gave {amount(engine, most_decimals=1)} {unit}, of "
        f"which {amount(wheel, most_decimals=1)} {unit} came to the wheels."
    )


def _table(result: PullResult, factor: float, unit: str, chart: FloatArray | None) -> DataTable:
    columns = [
        DataColumn("engine speed", "rpm"), DataColumn("engine", unit), DataColumn("at least", unit),
        DataColumn("at most", unit), DataColumn("at the wheels", unit),
        *([DataColumn("chart, in this air", unit)] if chart is not None else []), DataColumn("pulls"),
    ]  # fmt: skip
    rows = []
    for i, point in enumerate(result.points):
        power = point.engine_power
        cells = [round(point.engine_speed.value), factor * power.value, factor * power.low, factor * power.high]
        cells.append(factor * point.wheel_power.value)
        rows.append((*cells, *([float(chart[i])] if chart is not None else []), point.pulls))
    return DataTable(tuple(columns), tuple(rows))
