"""Dials against the truth: how much the speedometer reads high, and what the fuel needle means."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from calmday.reports.charts.axes import lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.scale import extent
from calmday.reports.words import amount, number

if TYPE_CHECKING:
    from calmday.procedures.dials_result import DialsResult

USUAL_HEIGHT = 280.0


def speedometer_chart(result: DialsResult) -> Chart | None:
    """How much the dial reads high over the speed it shows, between what UN R39 allows; None without readings."""
    found = result.speedometer
    if found is None:
        return None
    x = np.array([s.indicated.value for s in found.speeds])
    high = np.array([s.error.value for s in found.speeds])
    low_end, high_end = np.array([s.error.low for s in found.speeds]), np.array([s.error.high for s in found.speeds])
    most = np.array([s.upper_limit.value - s.true_speed.value for s in found.speeds])
    panel = Panel(
        name="reads high by",
        unit="km/h",
        zero=True,
        curves=(
            Curve(label="this dial", y=high, low=low_end, high=high_end, style=0),
            Curve(label="most allowed", y=most, style=1),
        ),
    )
    title, note = "Speedometer", "Below zero it would show less than you drive; UN R39 allows neither"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(x.tolist(), pad=0.03), top, height)[0]
        draw_panel(canvas, field, panel, x)
        canvas.bottom(lying_scale(canvas, field, "speed on the dial", "km/h"))

    near = min(found.speeds, key=lambda s: abs(s.indicated.value - 80))
    return Chart(
        name="speedometer",
        title=title,
        note=note,
        description=(
            f"At {number(near.indicated.value, 0)} km/h on the dial it reads high by "
            f"{amount(near.error, most_decimals=1)} km/h; UN R39 allows up to "
            f"{number(near.upper_limit.value - near.true_speed.value, 0)}."
        ),
        table=DataTable(
            (
                DataColumn("dial", "km/h"), DataColumn("true", "km/h"), DataColumn("at least", "km/h"),
                DataColumn("at most", "km/h"), DataColumn("most allowed on the dial", "km/h"),
            ),
            tuple(
                (
                    round(s.indicated.value, 1), known_or_none(s.true_speed.value), known_or_none(s.true_speed.low),
                    known_or_none(s.true_speed.high), known_or_none(s.upper_limit.value),
                )
                for s in found.speeds
            ),
        ),
        draw=draw,
    )  # fmt: skip


def fuel_gauge_chart(result: DialsResult) -> Chart | None:
    """What is in the tank over the place of the needle; None without readings."""
    found = result.fuel_gauge
    if found is None:
        return None
    x = np.array([100 * p.needle for p in found.points])
    y = np.array([p.content.value for p in found.points])
    low, high = np.array([p.content.low for p in found.points]), np.array([p.content.high for p in found.points])
    even = np.array([p.needle * found.capacity.value for p in found.points])
    panel = Panel(
        name="in the tank",
        unit="L",
        zero=True,
        curves=(
            Curve(label="this gauge", y=y, low=low, high=high, style=0),
            Curve(label="an even one", y=even, style=1),
        ),
    )
    title, note = "Fuel gauge", "What the needle means, with give-or-take; marks are your readings"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(x.tolist(), pad=0.03), top, height)[0]
        draw_panel(canvas, field, panel, x)
        for point in found.read:
            place = min(max(field.y(point.content.value), field.top), field.bottom)
            canvas.marker("circle", field.x(100 * point.needle), place, 0.26 * canvas.frame.number, "first", True)
        canvas.bottom(lying_scale(canvas, field, "needle, from empty to full", "%"))

    half = next(p for p in found.points if p.needle == 0.5)
    return Chart(
        name="fuel-gauge",
        title=title,
        note=note,
        description=f"With the needle in the middle {amount(half.content, most_decimals=0)} L are in the tank.",
        table=DataTable(
            (DataColumn("needle", "%"), DataColumn("in the tank", "L"), DataColumn("at least", "L"),
             DataColumn("at most", "L")),
            tuple(
                (
                    round(100 * p.needle, 1), known_or_none(p.content.value), known_or_none(p.content.low),
                    known_or_none(p.content.high),
                )
                for p in found.points
            ),
        ),
        draw=draw,
    )  # fmt: skip
