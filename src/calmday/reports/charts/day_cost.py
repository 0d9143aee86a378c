"""From as driven down to the calm day: what each condition of the day cost, step by step."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from calmday.metrology.rounding import listed
from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.rows import Lanes, Row, draw_interval, lay_out, mark_radius
from calmday.reports.charts.saying import brief
from calmday.reports.charts.scale import Scale
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.words import amount, number, percent

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import RunResult


def day_cost_chart(result: RunResult, units: ReaderUnits = METRIC) -> Chart | None:
    """Steps in percent of the calm-day fuel; None where there is no calm day."""
    costs, calm = result.penalties, result.calm_day
    if costs is None or calm is None:
        return None
    steps = (
        ("wind", costs.wind),
        ("thick air" if costs.air_density.value > 0 else "thin air", costs.air_density),
        ("cold engine", costs.cold_engine),
        ("cold tyres", costs.cold_tyres),
    )
    driven_figure: Figure = getattr(result.as_driven, units.consumption)
    calm_figure: Figure = getattr(calm, units.consumption)
    rows = _rows(steps, driven_figure, calm_figure, units.consumption_words)
    total = sum(figure.value for _, figure in steps)

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        axis = canvas.frame.size != "9:16"  # six rows fill a tall picture; their numbers say it all
        lanes = lay_out(canvas, rows, top, axis=axis)
        _draw_steps(canvas, lanes)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, "", "% of the calm-day fuel") if axis else lanes.bottom)

    title, note = "What the day cost", "From as driven down to the calm day"
    said = listed([f"{name} {percent(figure, signed=True)}" for name, figure in steps])
    return Chart(
        name="day-cost",
        title=title,
        note=note,
        description=f"The day cost {number(total, 0)} % of the calm-day fuel: {said}.",
        table=_table(steps),
        draw=draw,
    )


def _rows(steps: Sequence[tuple[str, Figure]], driven: Figure, calm: Figure, words: str) -> list[Row]:
    level = 100 + sum(figure.value for _, figure in steps)
    rows = [_total("as driven", level, driven, words, "second")]
    for name, figure in steps:
        after = level - figure.value
        # the interval is that of the step, drawn at its far end
        rows.append(
            Row(
                label=name, start=level, value=after, text=percent(figure, signed=True),
                low=level - figure.high, high=level - figure.low,
                brief=f"{brief(figure, most_decimals=1, signed=True)} %",
                paint="fourth" if figure.value >= 0 else "third", hollow=figure.value < 0,
            )
        )  # fmt: skip
        level = after
    rows.append(_total("calm day", 100.0, calm, words, "first"))
    return rows


def _total(label: str, level: float, figure: Figure, words: str, paint: str) -> Row:
    return Row(
        label=label, value=level, start=math.nan, text=f"{amount(figure)} {words}", brief=brief(figure), paint=paint,
        marker="square" if paint == "second" else "circle", strong=True,
    )  # fmt: skip


def _draw_steps(canvas: Canvas, lanes: Lanes) -> None:
    rows = lanes.lanes
    for lane, below in pairwise(rows):
        if math.isfinite(lane.row.value) and not canvas.frame.stacked:
            x = lanes.x(lane.row.value)
            canvas.line(x, lane.middle, x, below.middle, "plain", 1.2, "3 3")
    for lane in rows:
        row = lane.row
        if not math.isfinite(row.value):
            continue
        if row.strong:
            canvas.marker(row.marker, lanes.x(row.value), lane.middle, mark_radius(canvas), row.paint)
            continue
        a, b = sorted((lanes.x(row.start), lanes.x(row.value)))
        fill, edge = ("none", row.paint) if row.hollow else (row.paint, "none")
        canvas.rect(a, lane.middle - lane.half, max(b - a, canvas.frame.stroke), 2 * lane.half, fill, edge=edge)
        draw_interval(canvas, lanes, lane)


def _table(steps: Sequence[tuple[str, Figure]]) -> DataTable:
    unit = "% of calm-day fuel"
    columns = (DataColumn("condition"), DataColumn("cost", unit), DataColumn("at least"), DataColumn("at most"))
    rows = tuple((n, known_or_none(f.value), known_or_none(f.low), known_or_none(f.high)) for n, f in steps)
    return DataTable(columns, rows)
