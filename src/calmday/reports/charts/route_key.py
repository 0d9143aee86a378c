"""What stands beside a route: the scale of its colours, the wind with its doubt, north and a bar of known length."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.canvas import Canvas, num
from calmday.reports.charts.lettering import ASCENT, fitted, width
from calmday.reports.charts.palette import RAMP
from calmday.reports.charts.placing import without_crowding
from calmday.reports.charts.quantities import Quantity
from calmday.reports.charts.scale import nice_step, tick_label
from calmday.reports.charts.units import ReaderUnits
from calmday.reports.run_tables import compass
from calmday.reports.words import amount

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import WindMet

FloatArray = NDArray[np.float64]

_TAILS = (0.1, 0.9)
_CRAWL_M = 0.5
"""Samples that get less far than this are standing and have no place on a route of their own."""


class Classes(msgspec.Struct, frozen=True):
    """Classes of a quantity: below the first bound, between bounds, above the last."""

    bounds: tuple[float, ...]
    step: float

    def rank(self, value: float) -> int:
        """Class of a value, 0 to len(bounds)."""
        return sum(value >= bound for bound in self.bounds)

    def ramp(self, rank: int) -> int:
        """Which colour of the ramp a class has: the ends of the ramp are used whatever the number of classes."""
        count = len(self.bounds)
        return rank * (len(RAMP) - 1) // count if count else 2


def classes_of(shown: Quantity, distance_m: FloatArray) -> Classes:
    """At most five classes with round bounds, laid where four in five metres of the way are."""
    driven = np.diff(distance_m, prepend=distance_m[:1]) > _CRAWL_M
    known = shown.mean[np.isfinite(shown.mean) & driven]
    if known.size < 2:
        known = shown.mean[np.isfinite(shown.mean)]
    low, high = (float(v) for v in np.quantile(known, _TAILS))
    if high - low <= 1e-9 * max(abs(high), 1.0):
        return Classes((), 1.0)
    step = nice_step(high - low, len(RAMP))
    first, last = math.floor(low / step) + 1, math.ceil(high / step) - 1
    bounds = tuple(index * step for index in range(first, last + 1))
    return Classes(bounds[: len(RAMP) - 1], step)


def key_width(canvas: Canvas) -> float:
    """Width of the key beside a map."""
    return 0.3 * canvas.frame.inner


def key_height(canvas: Canvas) -> float:
    """Height of the key."""
    frame = canvas.frame
    return 1.5 * frame.text + 2.9 * frame.number + _rose_height(canvas)


def _rose_height(canvas: Canvas) -> float:
    frame = canvas.frame
    text = 1.3 * frame.text + 1.4 * frame.number
    return max(text, 2.2 * _rose_radius(canvas)) if frame.stacked else text + 2 * _rose_radius(canvas) + frame.text


def _rose_radius(canvas: Canvas) -> float:
    frame = canvas.frame
    return (1.9 if frame.stacked else 2.6) * frame.text


def draw_key(
    canvas: Canvas, left: float, top: float, shown: Quantity, classes: Classes, wind: WindMet, units: ReaderUnits
) -> float:
    """Colours, then the wind; gives the height where it ends."""
    frame = canvas.frame
    wide = frame.inner if frame.stacked else key_width(canvas)
    y = top + 1.2 * frame.text
    canvas.text(left, y, fitted(f"{shown.words}, {shown.unit}", wide, frame.text, True), bold=True)
    y = _bar(canvas, left, y + 0.3 * frame.text, wide, classes)
    return _wind(canvas, left, y + 0.6 * frame.number, wide, wind, units)


def _bar(canvas: Canvas, left: float, y: float, wide: float, classes: Classes) -> float:
    """The colours as blocks that thicken as the ribbons do, their bounds under the joints."""
    size = canvas.frame.number
    count = len(classes.bounds) + 1
    block = wide / count
    base = y + 0.9 * size
    for rank in range(count):
        place = classes.ramp(rank)
        high = size * (0.35 + 0.13 * place)
        canvas.rect(left + rank * block, base - high, block, high, RAMP[place], edge="ink")
    labels = [tick_label(bound, classes.step) for bound in classes.bounds]
    places = [left + (index + 1) * block for index in range(len(labels))]
    halves = [width(label, size) / 2 for label in labels]
    starts = [place - half for place, half in zip(places, halves, strict=True)]
    stops = [place + half for place, half in zip(places, halves, strict=True)]
    for index in without_crowding(starts, stops, 0.35 * size):
        canvas.text(places[index], base + 0.3 * size + ASCENT * size, labels[index], size=size, anchor="middle")
    return base + 1.35 * size


def _wind(canvas: Canvas, left: float, top: float, wide: float, wind: WindMet, units: ReaderUnits) -> float:
    """An arrow the way the air moved, on the fan of directions it may have had, and the numbers."""
    frame = canvas.frame
    radius = _rose_radius(canvas)
    x, y = left + radius, top + radius
    beside = frame.stacked
    text_left = left + 2 * radius + 0.8 * frame.text if beside else left
    line = top + 1.0 * frame.text if beside else top + 2 * radius + 1.5 * frame.text
    room = canvas.right - text_left
    if not wind.known:
        canvas.text(text_left if not beside else left, line, fitted("wind not known", wide, frame.text), bold=True)
        return line + 1.4 * frame.text
    towards = compass(wind.from_deg)
    # degrees are numerals, and numerals in a still picture are larger than this line
    words = f"wind from {towards if frame.height is None else towards.partition(' ')[0]}"
    canvas.text(text_left, line, fitted(words, room, frame.text, True), bold=True)
    _rose(canvas, x, y, radius, wind)
    show = units.show("wind")
    speed = wind.speed.scaled(show.factor, show.unit)
    line += 1.15 * frame.number
    canvas.text(text_left, line, fitted(f"{amount(speed)} {show.unit}", room, frame.number), size=frame.number)
    return max(line + 0.3 * frame.number, y + radius + 0.3 * frame.text)


def _rose(canvas: Canvas, x: float, y: float, radius: float, wind: WindMet) -> None:
    half = min(wind.from_half_width_deg, 179.9)
    to = wind.from_deg + 180
    ends = [math.radians(to - half), math.radians(to + half)]
    points = [(x + radius * math.sin(a), y - radius * math.cos(a)) for a in ends]
    large = 1 if half > 90 else 0
    canvas.path(
        f"M{num(x)} {num(y)}L{num(points[0][0])} {num(points[0][1])}"
        f"A{num(radius)} {num(radius)} 0 {large} 1 {num(points[1][0])} {num(points[1][1])}Z",
        paint="plain",
        opacity=0.35,
    )
    angle = math.radians(to)
    sin, cos = math.sin(angle), math.cos(angle)

    def at(ahead: float, beside: float) -> tuple[float, float]:
        return x + radius * (ahead * sin + beside * cos), y - radius * (ahead * cos - beside * sin)

    tail, neck = at(-0.95, 0), at(0.55, 0)
    canvas.line(*tail, *neck, "ink", 3)
    head = [at(0.98, 0), at(0.45, 0.26), at(0.45, -0.26)]
    canvas.path("M" + "L".join(f"{num(a)} {num(b)}" for a, b in head) + "Z", paint="ink")


def draw_scale_bar(
    canvas: Canvas, left: float, bottom: float, wide: float, per_metre: float, units: ReaderUnits
) -> None:
    """A bar of a round length, and an arrow to the north."""
    size = canvas.frame.number
    shown = units.show("distance")
    unit, per_unit = shown.unit, per_metre / shown.factor
    small = units.show("height")
    if 0.3 * wide / per_unit < 0.5:
        unit, per_unit = small.unit, per_metre / small.factor
    length = nice_step(0.3 * wide / per_unit, 1) / 1.0
    if length * per_unit > 0.42 * wide:
        length = nice_step(0.12 * wide / per_unit, 1)
    base = bottom - 0.45 * size
    stop = left + length * per_unit
    canvas.line(left, base - 0.3 * size, left, base, "ink", 2)
    canvas.line(left, base, stop, base, "ink", 2)
    canvas.line(stop, base - 0.3 * size, stop, base, "ink", 2)
    label = f"{tick_label(length, length)} {unit}"
    canvas.text(stop + 0.4 * size, base, label, size=size)
    x = left + wide - 0.8 * size
    high = 0.95 * size
    canvas.path(
        f"M{num(x)} {num(base - high)}L{num(x + 0.3 * size)} {num(base)}L{num(x)} {num(base - 0.22 * size)}"
        f"L{num(x - 0.3 * size)} {num(base)}Z",
        paint="ink",
    )
    canvas.text(x - 0.5 * size, base, "N", size=size, anchor="end", bold=True)
