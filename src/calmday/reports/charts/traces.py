"""The drive along the way: speed, air speed, height, power, engine speed, load and fuel rate over one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas, num
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.lettering import ASCENT, width
from calmday.reports.charts.placing import without_crowding
from calmday.reports.charts.quantities import Quantity, QuantityKey, linked_samples, mean_in, quantity, stretches
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.words import duration, number

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive

FloatArray = NDArray[np.float64]
Over = Literal["distance", "time"]

USUAL_HEIGHT = 118.0
USUAL: tuple[QuantityKey, ...] = ("speed", "height", "engine_power", "engine_speed", "load", "fuel_rate")
"""Panels from top to bottom; air speed joins the speed."""
FIRST: tuple[QuantityKey, ...] = ("speed", "engine_power", "height", "load", "engine_speed", "fuel_rate", "grade")
"""Which panels stay where there is room for few."""


class _Way(msgspec.Struct, frozen=True, kw_only=True):
    """The shared lying scale: value of every sample, `breaks` the samples before which a line stops, and what it is."""

    x: FloatArray
    name: str
    unit: str
    laps: tuple[float, ...]
    stops: tuple[tuple[float, float], ...]
    gaps: tuple[tuple[float, float], ...]
    breaks: tuple[int, ...]


def traces_chart(
    along: AlongTheDrive, over: Over = "distance", units: ReaderUnits = METRIC, shown: Sequence[QuantityKey] = USUAL
) -> Chart:
    """The traces over distance or time."""
    way = _way(along, over, units)
    found = {key: q for key in shown if (q := quantity(along, key, units)) is not None}
    air = quantity(along, "air_speed", units) if "speed" in found and "air_speed" not in shown else None
    panels = {key: _panel(q, air if key == "speed" else None) for key, q in found.items()}

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, "Bands: 95 % intervals")
        ranked = sorted(panels, key=lambda key: FIRST.index(key) if key in FIRST else len(FIRST))
        keep = set(ranked[: canvas.frame.panels])
        _draw(canvas, top, {key: panel for key, panel in panels.items() if key in keep}, way)

    title = "Along the way" if over == "distance" else "As time went by"
    everything = [*found.values(), *([air] if air is not None else [])]
    return Chart(
        name=f"traces-{over}",
        title=title,
        note="Bands: 95 % intervals",
        description=_description(along, everything, units),
        table=_table(along, everything, units),
        draw=draw,
    )


def _way(along: AlongTheDrive, over: Over, units: ReaderUnits) -> _Way:
    if over == "time":
        start = float(along.time_s[0])
        x, name, unit = (along.time_s - start) / 60, "time since the start", "min"
        gaps = tuple(((g.start_s - start) / 60, (g.end_s - start) / 60) for g in along.gaps)
    else:
        shown = units.show("distance")
        x, name, unit = shown.factor * along.distance_m, "distance", shown.unit
        gaps = tuple(_by_time(along, x, g.start_s, g.end_s) for g in along.gaps)
    last = x.size - 1
    return _Way(
        x=x,
        name=name,
        unit=unit,
        laps=tuple(float(x[min(lap.start, last)]) for lap in along.laps),
        stops=tuple((float(x[min(s.start, last)]), float(x[min(max(s.stop - 1, 0), last)])) for s in along.stops),
        gaps=gaps,
        breaks=tuple((np.flatnonzero(np.diff(along.segment)) + 1).tolist()),
    )


def _by_time(along: AlongTheDrive, x: FloatArray, start_s: float, end_s: float) -> tuple[float, float]:
    return float(np.interp(start_s, along.time_s, x)), float(np.interp(end_s, along.time_s, x))


def _panel(shown: Quantity, air: Quantity | None) -> Panel:
    curves = [Curve(label=shown.words, y=shown.mean, low=shown.low, high=shown.high)]
    name = shown.words
    if air is not None:
        curves.append(Curve(label="air", y=air.mean, low=air.low, high=air.high, style=1))
        curves[0] = msgspec.structs.replace(curves[0], label="road")
        name = "speed"
    zero = shown.key in ("speed", "engine_speed", "load", "fuel_rate")
    return Panel(name=name, unit=shown.unit, curves=tuple(curves), zero=zero)


def _draw(canvas: Canvas, top: float, panels: dict[QuantityKey, Panel], way: _Way) -> None:
    if not panels:
        canvas.bottom(top)
        return
    still = canvas.frame.height is not None  # a still picture leaves out what its few seconds cannot explain
    lap_row = 1.2 * canvas.frame.text if way.laps and not still else 0.0
    known = way.x[np.isfinite(way.x)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    x_range = (low, high if high > low else low + 1.0)
    height = panel_height(canvas, len(panels), top + lap_row, USUAL_HEIGHT)
    fields = lay_panels(canvas, list(panels.values()), x_range, top + lap_row, height)
    _spans(canvas, fields, way)
    if lap_row:
        _lap_names(canvas, fields, way, top)
    samples = linked_samples(way.x.size)
    places = [fields[0].x(float(way.x[i])) for i in samples]
    with canvas.group(
        kind="chart-samples",
        data_i=" ".join(map(str, samples.tolist())),
        data_x=" ".join(num(place) for place in places),
    ):
        for field, (key, panel) in zip(fields, panels.items(), strict=True):
            values = panel.curves[0].y[samples]
            with canvas.group(
                kind="chart-panel",
                data_quantity=key,
                data_unit=panel.unit,
                data_top=num(field.top),
                data_bottom=num(field.bottom),
                data_values=" ".join("-" if math.isnan(v) else f"{v:.4g}" for v in values.tolist()),
            ):
                draw_panel(canvas, field, panel, way.x, way.breaks)
        x = fields[0].left
        canvas.add(
            f'<line class="chart-cursor" x1="{num(x)}" x2="{num(x)}" y1="{num(fields[0].top)}" '
            f'y2="{num(fields[-1].bottom)}" stroke="{canvas.colour("ink")}" stroke-width="1.5" visibility="hidden"/>'
        )
    y = lying_scale(canvas, fields[-1], way.name, way.unit)
    canvas.bottom(y if still else _key(canvas, y, fields[0].left, way))


def _spans(canvas: Canvas, fields: Sequence[Field], way: _Way) -> None:
    """Gaps and stops shaded, laps as lines, through all fields; a stop without width gets a mark as well."""
    size = canvas.frame.text
    for field in fields:
        for start, stop in way.gaps:
            a, b = field.x(start), field.x(stop)
            canvas.rect(a, field.top, max(b - a, 2 * canvas.frame.stroke), field.bottom - field.top, "rule")
        for start, stop in way.stops:
            a, b = field.x(start), field.x(stop)
            if b - a > 2 * canvas.frame.stroke:
                canvas.rect(a, field.top, b - a, field.bottom - field.top, "shade")
        for lap in way.laps:
            canvas.line(field.x(lap), field.top, field.x(lap), field.bottom, "plain", 1.2, "2 3")
    for start, stop in way.stops:
        middle = (fields[0].x(start) + fields[0].x(stop)) / 2
        canvas.marker("triangle", middle, fields[0].bottom - 0.2 * size, 0.22 * size, "fourth")


def _lap_names(canvas: Canvas, fields: Sequence[Field], way: _Way, top: float) -> None:
    size = canvas.frame.text
    names = [f"lap {index + 1}" for index in range(len(way.laps))]
    starts = [fields[0].x(lap) for lap in way.laps]
    stops = [start + width(name, size) for start, name in zip(starts, names, strict=True)]
    for index in without_crowding(starts, stops, 0.5 * size):
        canvas.text(starts[index], top + ASCENT * size, names[index], colour="soft")


def _key(canvas: Canvas, y: float, left: float, way: _Way) -> float:
    """What the shades and triangles mean."""
    if not (way.stops or way.gaps):
        return y
    size = canvas.frame.text
    base = y + 1.1 * size
    if way.stops:
        count = len(way.stops)
        text = f"stop ({count})" if count > 1 else "stop"
        canvas.marker("triangle", left + 0.3 * size, base - 0.3 * size, 0.26 * size, "fourth")
        canvas.text(left + 0.8 * size, base, text)
        left += 1.6 * size + width(text, size)
    if way.gaps:
        canvas.rect(left, base - 0.75 * size, 1.2 * size, 0.9 * size, "rule")
        canvas.text(left + 1.5 * size, base, "nothing recorded")
    return base + 0.3 * size


def _description(along: AlongTheDrive, found: Sequence[Quantity], units: ReaderUnits) -> str:
    shown = units.show("distance")
    total = shown.factor * float(np.nanmax(along.distance_m))
    minutes = float(along.time_s[-1] - along.time_s[0])
    said = f"{number(total, 1)} {shown.unit} in {duration(minutes)}"
    for item in found:
        known = item.mean[np.isfinite(item.mean)]
        decimals = 0 if np.abs(known).max() >= 20 else 1
        low, high = number(float(known.min()), decimals), number(float(known.max()), decimals)
        said += f"; {item.words} {low} to {high} {item.unit}"
    stops = f"; {len(along.stops)} stops" if len(along.stops) > 1 else "; one stop" if along.stops else ""
    gaps = f"; {len(along.gaps)} gaps in the recording" if along.gaps else ""
    return f"{said}{stops}{gaps}."


def _table(along: AlongTheDrive, found: Sequence[Quantity], units: ReaderUnits) -> DataTable:
    """Means over stretches of a round length."""
    shown = units.show("distance")
    edges, stretch = stretches(shown.factor * along.distance_m)
    columns = (
        DataColumn("from", shown.unit),
        DataColumn("to", shown.unit),
        *(DataColumn(f"mean {item.words}", item.unit) for item in found),
    )
    rows = tuple(
        (float(edges[i]), float(edges[i + 1]), *(mean_in(item.mean, stretch, i) for item in found))
        for i in range(len(edges) - 1)
    )
    return DataTable(columns, rows)
