"""Plot fields one below the other on a shared lying scale, with names and direct labels at the ends of their curves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from calmday.reports.charts.axes import Field, lying_scale_height, standing_scale, tick_room
from calmday.reports.charts.canvas import Canvas, FloatArray
from calmday.reports.charts.lettering import fitted, width
from calmday.reports.charts.palette import DASHES, SERIES
from calmday.reports.charts.placing import spread
from calmday.reports.charts.scale import Scale, extent
from calmday.reports.charts.thinning import kept_samples, outline

PITCH = 1.5
"""Width along x that a thinned line gives one place, in view box units at a page's width."""


class Curve(msgspec.Struct, frozen=True, kw_only=True):
    """A curve of a panel, arrays (n,) over the shared x; `low`, `high` its band. `style` picks colour and dashes."""

    label: str
    y: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    style: int = 0


class Panel(msgspec.Struct, frozen=True, kw_only=True):
    """One field: what is shown in which unit, its curves; `zero` when the scale must reach zero; `peak` a number
    said at the right of the heading, `brief_peak` where room is dear."""

    name: str
    unit: str
    curves: tuple[Curve, ...]
    zero: bool = False
    peak: str = ""
    brief_peak: str = ""

    @property
    def heading(self) -> str:
        return f"{self.name}, {self.unit}" if self.unit else self.name

    def range(self) -> tuple[float, float]:
        parts = [curve.y for curve in self.curves]
        for curve in self.curves:
            parts += [side for side in (curve.low, curve.high) if side is not None]
        values = np.concatenate(parts) if parts else np.zeros(0)
        values = values[np.isfinite(values)]
        ends = [float(values.min()), float(values.max())] if values.size else []
        return extent(ends, zero=self.zero)


def lay_panels(
    canvas: Canvas, panels: Sequence[Panel], x_range: tuple[float, float], top: float, high: float
) -> list[Field]:
    """Fields for the panels, each `high` with its heading line; numbers left, room for the curves' names right."""
    frame = canvas.frame
    head = max(1.25 * frame.text, 1.1 * frame.number if any(panel.peak for panel in panels) else 0.0)
    gap = 0.35 * frame.number
    numbers = max(tick_room(*panel.range(), high - head, frame.number) for panel in panels)
    names = max((name_room(canvas, panel) for panel in panels), default=0.0)
    left, right = canvas.left + numbers + 0.5 * frame.number, canvas.right - max(names, 0.4 * frame.number)
    fields = []
    for index, panel in enumerate(panels):
        y = top + index * (high + gap)
        low, most = panel.range()
        fields.append(Field(Scale(*x_range, left, right), Scale(low, most, y + high, y + head)))
    return fields


def panel_height(canvas: Canvas, count: int, top: float, usual: float) -> float:
    """Height of each of `count` panels: `usual` where the picture grows, an even share where it does not."""
    frame = canvas.frame
    if frame.height is None:
        return usual
    room = frame.height - frame.bottom - top - lying_scale_height(canvas)
    return room / count - 0.35 * frame.number * (count - 1) / count


def name_room(canvas: Canvas, panel: Panel) -> float:
    """Width the curves' names need right of the field; a lone curve is named by the heading."""
    if len(panel.curves) < 2:
        return 0.0
    size = canvas.frame.text
    return max(width(curve.label, size) for curve in panel.curves) + 1.2 * size


def draw_panel(canvas: Canvas, field: Field, panel: Panel, x: FloatArray, breaks: Sequence[int] = ()) -> None:
    """Scale, heading, bands, curves and their names; no line runs into a sample of `breaks`."""
    standing_scale(canvas, field)
    _heading(canvas, field, panel)
    pitch = PITCH * max(canvas.frame.width / 720, 1.0)
    crowded = x.size > 1.5 * (field.right - field.left) / pitch
    for curve in panel.curves:
        if curve.low is not None and curve.high is not None:
            places, low, high = _opened(breaks, _across(field, x), _down(field, curve.low), _down(field, curve.high))
            if np.nanmedian(low - high) > 1.5 * canvas.frame.stroke:
                band = outline(places, high, low, pitch)
                canvas.band(band[0], band[2], band[1], SERIES[curve.style])
    for curve in panel.curves:
        places, y = _opened(breaks, _across(field, x), _down(field, curve.y))
        kept = kept_samples(places, y, pitch)
        canvas.curve(places[kept], y[kept], SERIES[curve.style], 1.5 if crowded else 2.2, DASHES[curve.style])
    if len(panel.curves) > 1:
        draw_names(canvas, field, [(c.label, last_known(_down(field, c.y)), c.style) for c in panel.curves])


def _heading(canvas: Canvas, field: Field, panel: Panel) -> None:
    size = canvas.frame.text
    room = canvas.right - field.left
    if panel.peak:
        peak = panel.brief_peak if canvas.frame.stacked else panel.peak
        canvas.text(canvas.right, field.top - 0.4 * size, peak, size=canvas.frame.number, anchor="end", bold=True)
        room -= width(peak, canvas.frame.number, True) + 0.5 * size
    canvas.text(field.left, field.top - 0.4 * size, fitted(panel.heading, room, size, True), bold=True)


def _opened(breaks: Sequence[int], *series: FloatArray) -> list[FloatArray]:
    """The series with a NaN put in before each sample of `breaks`."""
    return [np.insert(one, list(breaks), np.nan) if breaks else one for one in series]


def draw_names(canvas: Canvas, field: Field, names: Sequence[tuple[str, float, int]]) -> None:
    """The curves' names at their right ends, moved apart, each behind a piece of its line."""
    size = canvas.frame.text
    shown = [(label, y, style) for label, y, style in names if math.isfinite(y)]
    low, high = field.top - 0.3 * size, max(field.bottom + 0.3 * size, field.top + 1.15 * size * len(shown))
    places = spread([y for _, y, _ in shown], 1.15 * size, low, high)
    for (label, _, style), y in zip(shown, places, strict=True):
        start = field.right + 0.25 * size
        canvas.line(start, y, start + 0.7 * size, y, SERIES[style], 2.6, DASHES[style])
        canvas.text(start + 0.85 * size, y + 0.36 * size, label)


def last_known(values: FloatArray) -> float:
    """The last value that is known; NaN without any."""
    found = np.flatnonzero(np.isfinite(values))
    return float(values[found[-1]]) if found.size else math.nan


def _across(field: Field, x: FloatArray) -> FloatArray:
    scale = field.x
    return np.asarray(scale.start + (x - scale.low) / (scale.high - scale.low) * (scale.stop - scale.start))


def _down(field: Field, y: FloatArray) -> FloatArray:
    scale = field.y
    return np.asarray(scale.start + (y - scale.low) / (scale.high - scale.low) * (scale.stop - scale.start))
