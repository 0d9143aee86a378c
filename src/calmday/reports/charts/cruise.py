"""Level cruise: consumption over steady speed on the calm standard day, with its band."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.lettering import ASCENT, width
from calmday.reports.charts.saying import brief, in_plain_words
from calmday.reports.charts.scale import extent
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.run_tables import FEW_HOLD_IT
from calmday.reports.words import is_known, number, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import CruisePoint

USUAL_HEIGHT = 300.0


def cruise_chart(level_cruise: Sequence[CruisePoint], units: ReaderUnits = METRIC) -> Chart | None:
    """The cruise curve in L/100 km, or in miles per gallon where the reader uses them; None without points."""
    key = units.consumption if units.consumption in ("mpg_us", "mpg_imp") else "L_per_100km"
    points = [point for point in level_cruise if is_known(getattr(point, key))]
    if not points:
        return None
    figures: list[Figure] = [getattr(point, key) for point in points]
    words = unit_words(figures[0].unit)
    speed = units.show("speed")
    x = np.array([point.speed.value / 3.6 for point in points]) * speed.factor
    y = np.array([figure.value for figure in figures])
    low, high = np.array([f.low for f in figures]), np.array([f.high for f in figures])
    panel = Panel(name=words, unit="", curves=(Curve(label="", y=y, low=low, high=high),))

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(x.tolist(), pad=0.05), top, height)[0]
        draw_panel(canvas, field, panel, x)
        _marks(canvas, field, x, points, figures)
        canvas.bottom(lying_scale(canvas, field, "speed", speed.unit))

    title, note = "Level cruise", "Steady speed on the level on the calm day, with give-or-take"
    return Chart(
        name="cruise",
        title=title,
        note=note,
        description=_description(points, figures, x, words, speed.unit),
        table=_table(points, figures, x, words, speed.unit),
        draw=draw,
    )


def _marks(
    canvas: Canvas, field: Field, x: np.ndarray, points: Sequence[CruisePoint], figures: Sequence[Figure]
) -> None:
    """A mark per speed, hollow where the engine probably does not hold it, and its number where there is room."""
    size = canvas.frame.number
    for i, point in enumerate(points):
        hollow = point.sustainable < FEW_HOLD_IT
        canvas.marker("circle", field.x(float(x[i])), field.y(figures[i].value), 0.28 * size, "first", hollow)
    taken: list[tuple[float, float, float, float]] = []
    rising = figures[-1].value >= figures[0].value
    for i in sorted(range(len(points)), key=lambda i: (i != len(points) - 1, i % 2, i)):
        text = brief(figures[i])
        half = width(text, size, True) / 2
        # beside the upper rim of the band on the side where the curve falls away, else under the lower rim
        lean = (-1 if rising else 1) * min(half, 0.3 * size if len(points) < 3 else half * 0.6)
        for place, base in (
            (field.x(float(x[i])) + lean, field.y(figures[i].high) - 0.35 * size),
            (field.x(float(x[i])) - lean, field.y(figures[i].low) + 1.1 * size),
        ):
            box = (place - half, base - ASCENT * size, place + half, base + 0.1 * size)
            inside = box[1] >= field.top and box[3] <= field.bottom and box[0] >= field.left and box[2] <= canvas.right
            if inside and not any(_touch(box, other) for other in taken):
                taken.append(box)
                canvas.text(place, base, text, size=size, anchor="middle", bold=True)
                break


def _touch(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _description(points: Sequence[CruisePoint], figures: Sequence[Figure], x: np.ndarray, words: str, unit: str) -> str:
    first = f"At a steady {number(float(x[0]), 0)} {unit} on the level {in_plain_words(figures[0], words)}"
    if len(points) == 1:
        return f"{first}."
    last = f"at {number(float(x[-1]), 0)} {unit} {in_plain_words(figures[-1], words)}"
    unsure = [value for value, point in zip(x, points, strict=True) if point.sustainable < FEW_HOLD_IT]
    tail = f"; from {number(float(min(unsure)), 0)} {unit} the engine probably does not hold it" if unsure else ""
    return f"{first}, {last}{tail}."


def _table(points: Sequence[CruisePoint], figures: Sequence[Figure], x: np.ndarray, words: str, unit: str) -> DataTable:
    columns = (
        DataColumn("speed", unit),
        DataColumn("used", words),
        DataColumn("at least", words),
        DataColumn("at most", words),
        DataColumn("engine speed", "rpm"),
        DataColumn("chance the engine holds it", "%"),
    )
    rows = tuple(
        (
            round(float(speed), 1),
            known_or_none(f.value),
            known_or_none(f.low),
            known_or_none(f.high),
            known_or_none(point.engine_speed.value) if point.engine_speed is not None else None,
            round(100 * point.sustainable),
        )
        for point, f, speed in zip(points, figures, x, strict=True)
    )
    return DataTable(columns, rows)
