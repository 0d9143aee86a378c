"""A comparison drawn: the change with its interval from each set of figures, every run, and the curve of a setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.compared_runs import compared_runs_chart
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.lettering import plain, width
from calmday.reports.charts.rows import Lanes, Row, draw_marks, lay_out, room_for
from calmday.reports.charts.scale import Scale, extent
from calmday.reports.comparison_sentence import places, same_to_us, span, way
from calmday.reports.words import number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.comparison_result import ComparisonResult, Sweep

USUAL_HEIGHT = 300.0
SAME = "same to us"
_LOOKS = {True: ("first", "circle"), False: ("second", "square")}


def charts_of_comparison(result: ComparisonResult) -> tuple[Chart, ...]:
    """Every chart there is something to show in."""
    found = (compared_chart(result), setting_chart(result), compared_runs_chart(result))
    return tuple(chart for chart in found if chart is not None)


def compared_chart(result: ComparisonResult) -> Chart | None:
    """The change in per cent of fuel, from each set of figures or of each change by itself, beside no change at all."""
    rows = _answers(result)
    if not rows:
        return None
    title, note = "The change", "Change in fuel for the same distance, %, with give-or-take"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        since = canvas.drawn
        shown = rows[-room_for(canvas, top, True) :]
        lanes = lay_out(canvas, shown, top, axis=True, zero=True)
        with canvas.beneath(since):
            _line_of_zero(canvas, lanes)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, _sides(canvas), "%"))
        draw_marks(canvas, lanes)

    columns = tuple(
        DataColumn(name, unit) for name, unit in (("figures", ""), ("change", "%"), ("from", "%"), ("to", "%"))
    )
    cells = tuple((r.label, known_or_none(r.value), known_or_none(r.low), known_or_none(r.high)) for r in rows)
    return Chart(
        name="compared",
        title=title,
        note=note,
        description=_said(rows, result),
        table=DataTable(columns, cells),
        draw=draw,
    )


def _sides(canvas: Canvas) -> str:
    """Which side is which, as long as there is room for."""
    whole = "less fuel on the left, more on the right"
    fits = width(f"{whole}, %", canvas.frame.text) <= canvas.frame.inner
    return whole if fits else "less fuel on the left"


def _answers(result: ComparisonResult) -> list[Row]:
    if result.effects:
        return [
            _answer(effect.name, effect.change_percent, True)
            for effect in result.effects
            if effect.change_percent is not None and not effect.tied_to
        ]
    return [_answer(story.name, story.change_percent, story.headline) for story in result.stories]


def _answer(name: str, change: Figure, headline: bool) -> Row:
    paint, marker = _LOOKS[headline]
    shown = number(change.value, places(change))
    plus = "+" if change.value > 0 and shown.strip("0.") else ""
    return Row(
        label=name, value=change.value, low=change.low, high=change.high, start=math.nan, paint=paint, marker=marker,
        text=f"{plus}{shown} %", brief=f"{plus}{shown} %", strong=headline, line=0.0,
    )  # fmt: skip


def _line_of_zero(canvas: Canvas, lanes: Lanes) -> None:
    x = lanes.x(0.0)
    if not canvas.frame.stacked:
        canvas.line(x, lanes.top, x, lanes.bottom, "plain", 2.0, "5 4")
        return
    for lane in lanes.lanes:
        canvas.line(x, lane.middle - 1.5 * lane.half, x, lane.middle + 1.5 * lane.half, "plain", 2.0, "5 4")


def _said(rows: Sequence[Row], result: ComparisonResult) -> str:
    told = []
    figures = (
        [e.change_percent for e in result.effects] if result.effects else [s.change_percent for s in result.stories]
    )
    known = [figure for figure in figures if figure is not None]
    for row, figure in zip(rows, known, strict=False):
        told.append(
            f"{plain(row.label)}: {number(abs(figure.value), places(figure))} % {way(figure.value)}, {span(figure)}"
        )
    said = "; ".join(told)
    return f"{said[:1].upper()}{said[1:]}."


def setting_chart(result: ComparisonResult) -> Chart | None:
    """The fitted curve of a setting with its band, and each setting tried."""
    sweep = result.sweep
    if sweep is None:
        return None
    title, note = "Fuel over the setting", "More fuel than at the best, %, with give-or-take"
    x = np.array([point.setting for point in sweep.curve])
    y = np.array([point.above_best_percent.value for point in sweep.curve])
    low = np.array([point.above_best_percent.low for point in sweep.curve])
    high = np.array([point.above_best_percent.high for point in sweep.curve])
    panel = Panel(name="more than the best", unit="%", curves=(Curve(label="", y=y, low=low, high=high),))

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(x.tolist(), pad=0.06), top, height)[0]
        since = canvas.drawn
        draw_panel(canvas, field, panel, x)
        with canvas.beneath(since):
            _equal_band(canvas, field, sweep)
        for point in sweep.points:
            place = field.x(point.setting), field.y(point.above_best_percent.value)
            canvas.marker("circle", *place, 0.28 * canvas.frame.number, "first", not point.equal)
        canvas.bottom(lying_scale(canvas, field, "setting", plain(sweep.unit)))

    columns = (DataColumn("setting", sweep.unit), DataColumn("more than the best", "%"), DataColumn("same to us"))
    cells = tuple((p.setting, p.above_best_percent.value, same_to_us(sweep, p)) for p in sweep.points)
    return Chart(
        name="setting",
        title=title,
        note=note,
        description=f"{sweep.best_words} From {sweep.equal_from:.3g} to {sweep.equal_to:.3g} {plain(sweep.unit)} the "
        f"settings are the same to us (the shaded band); hollow marks are settings that used more.",
        table=DataTable(columns, cells),
        draw=draw,
    )


def _equal_band(canvas: Canvas, field: Field, sweep: Sweep) -> None:
    left, right = field.x(sweep.equal_from), field.x(sweep.equal_to)
    canvas.rect(left, field.top, right - left, field.bottom - field.top, "shade")
    if width(SAME, canvas.frame.text) <= right - left:
        canvas.text((left + right) / 2, field.bottom - 0.6 * canvas.frame.text, SAME, anchor="middle")
