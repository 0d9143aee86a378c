"""A field to plot in: frame of two scales with their ticks, numbers and units."""

from __future__ import annotations

import math

import msgspec

from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.lettering import ASCENT, width
from calmday.reports.charts.placing import without_crowding
from calmday.reports.charts.scale import Scale, readable_ticks, tick_label


class Field(msgspec.Struct, frozen=True):
    """A plot field: scales to places; `left`, `right`, `top`, `bottom` its edges."""

    x: Scale
    y: Scale

    @property
    def left(self) -> float:
        return min(self.x.start, self.x.stop)

    @property
    def right(self) -> float:
        return max(self.x.start, self.x.stop)

    @property
    def top(self) -> float:
        return min(self.y.start, self.y.stop)

    @property
    def bottom(self) -> float:
        return max(self.y.start, self.y.stop)


def upright_ticks(low: float, high: float, room: float, size: float) -> tuple[tuple[float, ...], float]:
    """Values and step of ticks that fit one above the other in `room`."""
    most = max(1, min(6, math.floor(room / (1.7 * size))))
    return readable_ticks(low, high, most)


def tick_room(low: float, high: float, room: float, size: float) -> float:
    """Width that the numbers of a standing scale need."""
    values, step = upright_ticks(low, high, room, size)
    return max((width(tick_label(value, step), size) for value in values), default=0.0)


def standing_scale(canvas: Canvas, field: Field) -> None:
    """Numbers left of the field and faint lines across it."""
    size = canvas.frame.number
    values, step = upright_ticks(field.y.low, field.y.high, field.bottom - field.top, size)
    for value in values:
        y = field.y(value)
        canvas.line(field.left, y, field.right, y, "rule")
        # the lowest and highest number stay level with the field, so that stacked fields do not touch
        base = min(max(y + 0.36 * size, field.top + ASCENT * size), field.bottom)
        canvas.text(field.left - 0.4 * size, base, tick_label(value, step), size=size, anchor="end", colour="soft")


def lying_scale(canvas: Canvas, field: Field, name: str, unit: str, *, lines: bool = False) -> float:
    """Numbers under the field, then the quantity with its unit; gives the height where they end."""
    size = canvas.frame.number
    room = field.right - field.left
    low, high = field.x.low, field.x.high
    most = max(2, min(9, math.floor(room / (3.4 * size))))
    values, step = readable_ticks(low, high, most)
    labels = [tick_label(value, step) for value in values]
    halves = [width(label, size) / 2 for label in labels]
    places = [field.x(value) for value in values]
    inside = [
        min(max(place, canvas.left + half), canvas.right - half) for place, half in zip(places, halves, strict=True)
    ]
    shown = set(
        without_crowding(
            [place - half for place, half in zip(inside, halves, strict=True)],
            [place + half for place, half in zip(inside, halves, strict=True)],
            0.5 * size,
        )
    )
    canvas.line(field.left, field.bottom, field.right, field.bottom, "plain", 1.2)
    y = field.bottom + 0.35 * size + ASCENT * size
    for index, place in enumerate(places):
        if lines:
            canvas.line(place, field.top, place, field.bottom, "rule")
        canvas.line(place, field.bottom, place, field.bottom + 0.25 * size, "plain", 1.2)
        if index in shown:
            canvas.text(inside[index], y, labels[index], size=size, anchor="middle", colour="soft")
    y += 0.4 * size + canvas.frame.text * ASCENT
    words = f"{name}, {unit}" if name and unit else name or unit
    canvas.text((field.left + field.right) / 2, y, words, anchor="middle", colour="soft")
    return y + 0.25 * canvas.frame.text


def lying_scale_height(canvas: Canvas) -> float:
    """Height that `lying_scale` takes under a field."""
    size, text = canvas.frame.number, canvas.frame.text
    return (0.35 + ASCENT + 0.4) * size + (ASCENT + 0.25) * text
