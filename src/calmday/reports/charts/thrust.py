"""Thrust of every gear against the resistance of the road: where they cross, a gear holds that speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.axes import Field, lying_scale, standing_scale, tick_room
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import panel_height
from calmday.reports.charts.lettering import ASCENT, width
from calmday.reports.charts.palette import DASHES, SERIES
from calmday.reports.charts.scale import Scale
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.gears_sentence import KMH_PER_MPH, here_words, ordinal
from calmday.reports.words import amount, number

if TYPE_CHECKING:
    from calmday.procedures.gears_result import Gear, GearsResult, ThrustCurve

FloatArray = NDArray[np.float64]
Box = tuple[float, float, float, float]

USUAL_HEIGHT: Final = 340.0
_STYLES: Final = 4
"""Gears take the colours and dashes of four series in turn; the road is the heavy solid line."""
_HEADROOM: Final = 1.2


def thrust_chart(result: GearsResult, units: ReaderUnits = METRIC) -> Chart:
    """Bands are 95 % intervals; first gear leaves the picture at the top, so that the gears that matter can be seen."""
    shown = units.speed
    factor = 1.0 if shown == "km/h" else 1 / KMH_PER_MPH
    top = _top(result)
    right = factor * _fastest(result)

    def draw(canvas: Canvas) -> None:
        y = canvas.heading(title, note)
        size = canvas.frame.number
        height = panel_height(canvas, 1, y, USUAL_HEIGHT)
        head = 1.25 * canvas.frame.text
        left = canvas.left + tick_room(0.0, top, height - head, size) + 0.5 * size
        field = Field(Scale(0.0, right, left, canvas.right - 0.4 * size), Scale(0.0, top, y + height, y + head))
        canvas.text(field.left, field.top - 0.4 * canvas.frame.text, "force at the tyres, N", bold=True)
        standing_scale(canvas, field)
        _draw(canvas, field, result, factor, top)
        canvas.bottom(lying_scale(canvas, field, "road speed", shown))

    title, note = "Thrust against the road", f"Full load{here_words(result.asked)}; bands hold 95 in 100"
    return Chart(
        name="thrust",
        title=title,
        note=note,
        description=_description(result, factor, shown),
        table=_table(result, factor, shown),
        draw=draw,
    )


def _top(result: GearsResult) -> float:
    """Height of the field: second gear and twice what the road asks for at most, not all of first gear."""
    peaks = [max(curve.high) for curve in result.thrust]
    if len(peaks) < 3:
        return _HEADROOM * max(peaks)
    asked = (
        max(_road_at(result, gear.sustained_speed.value) for gear in result.gears if gear.sustained_speed)
        if any(gear.sustained_speed for gear in result.gears)
        else 0.0
    )
    return _HEADROOM * max(min(peaks[1], peaks[0]), 2 * peaks[-1], 1.2 * asked, 1.0)


def _fastest(result: GearsResult) -> float:
    """The end of the speed scale, km/h: a little beyond what the gears hold, not the end of a gear nobody can use."""
    held = [gear.sustained_speed.high for gear in result.gears if gear.sustained_speed is not None]
    ends = [curve.speed[-1] for curve in result.thrust]
    wanted = 1.15 * max([*held, result.asked.speed.value])
    return float(min(max(ends), max(wanted, min(ends))))


def _road_at(result: GearsResult, speed_kmh: float) -> float:
    return float(np.interp(speed_kmh, result.road_load.speed, result.road_load.mean))


def _draw(canvas: Canvas, field: Field, result: GearsResult, factor: float, top: float) -> None:
    road = result.road_load
    room = _Room(field)
    with _inside(canvas, field):
        for place, curve in enumerate(result.thrust):
            _band(canvas, field, factor, curve.speed, curve.low, curve.high, SERIES[place % _STYLES])
        _band(canvas, field, factor, road.speed, road.low, road.high, "ink")
        at = field.x(min(factor * result.asked.speed.value, field.x.high))
        canvas.line(at, field.top, at, field.bottom, "plain", 1.5, "2 4")
        for place, curve in enumerate(result.thrust):
            x, y = _places(field, factor, curve.speed, curve.mean)
            style = place % _STYLES
            canvas.curve(x, y, SERIES[style], 2.6, DASHES[style])
            room.line(x, y)
        x, y = _places(field, factor, road.speed, road.mean)
        canvas.curve(x, y, "ink", 3.0)
        room.line(x, y)
    for gear in result.gears:
        _mark(canvas, field, result, gear, factor, room)
    for place, curve in enumerate(result.thrust):
        _name(canvas, field, curve, factor, top, place % _STYLES, room)
    _name_road(canvas, field, result, factor, room)


class _inside:  # noqa: N801  (reads as a word at the place of use)
    """Everything drawn within is cut off at the edges of the field."""

    def __init__(self, canvas: Canvas, field: Field) -> None:
        self._canvas = canvas
        self._field = field

    def __enter__(self) -> None:
        field, canvas = self._field, self._canvas
        canvas.add(
            f'<svg x="{field.left:.1f}" y="{field.top:.1f}" width="{field.right - field.left:.1f}" '
            f'height="{field.bottom - field.top:.1f}" viewBox="{field.left:.1f} {field.top:.1f} '
            f'{field.right - field.left:.1f} {field.bottom - field.top:.1f}" overflow="hidden">'
        )

    def __exit__(self, *_: object) -> None:
        self._canvas.add("</svg>")


def _places(
    field: Field, factor: float, speed: Sequence[float], force: Sequence[float]
) -> tuple[FloatArray, FloatArray]:
    x = np.array([field.x(factor * value) for value in speed])
    return x, np.array([field.y(value) for value in force])


def _band(
    canvas: Canvas, field: Field, factor: float, speed: Sequence[float], low: Sequence[float], high: Sequence[float],
    paint: str,
) -> None:  # fmt: skip
    x, bottom = _places(field, factor, speed, low)
    canvas.band(x, bottom, _places(field, factor, speed, high)[1], paint)


class _Room:
    """What is taken in the field already: labels, which nothing may touch, and lines, which labels should not cross."""

    def __init__(self, field: Field) -> None:
        self._field = field
        self._labels: list[Box] = []
        self._lines: list[tuple[FloatArray, FloatArray]] = []

    def line(self, x: FloatArray, y: FloatArray) -> None:
        """A line is drawn here."""
        places = np.linspace(0.0, x.size - 1.0, 240)
        rows = np.arange(x.size)
        self._lines.append((np.interp(places, rows, x), np.interp(places, rows, y)))

    def best(self, boxes: Sequence[Box], most: int = 10_000) -> int:
        """The first place that crosses no line, else the one that crosses least, `most` points of lines at worst;
        -1 where none is free. The place is then taken."""
        found = [(self._crossed(box), i) for i, box in enumerate(boxes) if self._free(box)]
        if not found or min(found)[0] > most:
            return -1
        place = min(found)[1]
        self._labels.append(boxes[place])
        return place

    def _free(self, box: Box) -> bool:
        field = self._field
        inside = box[0] >= field.left and box[2] <= field.right and box[1] >= field.top and box[3] <= field.bottom
        return inside and not any(
            box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]
            for other in self._labels
        )

    def _crossed(self, box: Box) -> int:
        return sum(
            int(np.count_nonzero((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3]))) for x, y in self._lines
        )


def _mark(canvas: Canvas, field: Field, result: GearsResult, gear: Gear, factor: float, room: _Room) -> None:
    """Where a gear's thrust meets the road, with the speed it holds; nothing where the governor stops it first."""
    held = gear.sustained_speed
    if held is None or gear.limit == "governor" or factor * held.value > field.x.high:
        return
    size = canvas.frame.number
    x, y = field.x(factor * held.value), field.y(_road_at(result, held.value))
    canvas.marker("circle", x, y, 0.3 * size, "ink", hollow=True)
    speed, r = number(factor * held.value, 0), 0.55 * size
    for text in (f"{ordinal(gear.gear)} {speed}", speed):
        half = width(text, size, True) / 2
        under, over = y + r + ASCENT * size, y - r
        places = [
            (x + r + half, y + 0.36 * size), (x + half, under), (x, under), (x - half, over), (x, over),
            (x + r + half, under + size), (x - r - half, over - size), (x + half, under + 2.1 * size),
        ]  # fmt: skip
        at = room.best([(cx - half, base - ASCENT * size, cx + half, base + 0.15 * size) for cx, base in places], 12)
        if at >= 0:
            canvas.text(*places[at], text, size=size, anchor="middle", bold=True)
            return


def _name(canvas: Canvas, field: Field, curve: ThrustCurve, factor: float, top: float, style: int, room: _Room) -> None:
    """The name of a gear beside its curve, where there is room: along its left half first."""
    size = canvas.frame.text
    text = ordinal(curve.gear)
    wide = width(text, size, True)
    speed, force = np.array(curve.speed), np.array(curve.mean)
    seen = np.flatnonzero((force < 0.985 * top) & (factor * speed < field.x.high))
    if seen.size == 0:
        return
    places = []
    for share in (0.3, 0.15, 0.5, 0.0, 0.7, 0.85, 1.0):
        i = int(seen[min(int(share * (seen.size - 1)), seen.size - 1)])
        x, y = field.x(factor * float(speed[i])), field.y(float(force[i]))
        places += [(x - wide / 2, y - 0.5 * size), (x - wide / 2, y + 1.25 * size), (x + 0.4 * size, y - 0.2 * size)]
    _write(canvas, room, text, places)


def _name_road(canvas: Canvas, field: Field, result: GearsResult, factor: float, room: _Room) -> None:
    size = canvas.frame.text
    text = "what the road asks"
    wide = width(text, size, True)
    places = []
    for share in (0.02, 0.12, 0.25, 0.4, 0.6):
        x = field.left + share * (field.right - field.left)
        ends = [field.y(_road_at(result, _value(field, place) / factor)) for place in (x, min(x + wide, field.right))]
        places += [(x, max(ends) + 1.35 * size), (x, min(ends) - 0.6 * size)]
    _write(canvas, room, text, places)


def _write(canvas: Canvas, room: _Room, text: str, places: Sequence[tuple[float, float]]) -> None:
    size = canvas.frame.text
    wide = width(text, size, True)
    at = room.best([(x, base - ASCENT * size, x + wide, base + 0.15 * size) for x, base in places])
    if at >= 0:
        canvas.text(*places[at], text, bold=True)


def _value(field: Field, place: float) -> float:
    scale = field.x
    return scale.low + (place - scale.start) / (scale.stop - scale.start) * (scale.high - scale.low)


def _description(result: GearsResult, factor: float, unit: str) -> str:
    held = [
        f"{ordinal(gear.gear)} {amount(gear.sustained_speed.scaled(factor, unit), most_decimals=0)} {unit}"
        for gear in result.gears
        if gear.sustained_speed is not None and math.isfinite(gear.sustained_speed.value)
    ]
    said = ", ".join(held) if held else "no gear any speed"
    return (
        f"Where a gear’s line meets the heavy line, thrust and road are in balance and the gear holds that speed:"
        f" {said}."
    )


def _table(result: GearsResult, factor: float, unit: str) -> DataTable:
    """Thrust of every gear and resistance at round speeds; empty where the engine cannot turn so."""
    top = factor * _fastest(result)
    step = 10.0 if top > 40 else 5.0
    speeds = np.arange(step, top + 0.5 * step, step)
    columns = (
        DataColumn("speed", unit),
        DataColumn("road", "N"),
        *(DataColumn(ordinal(curve.gear), "N") for curve in result.thrust),
    )
    rows = []
    for speed in speeds.tolist():
        kmh = speed / factor
        cells: list[float | str] = [speed, float(round(_road_at(result, kmh)))]
        for curve in result.thrust:
            inside = curve.speed[0] <= kmh <= curve.speed[-1]
            cells.append(float(round(float(np.interp(kmh, curve.speed, curve.mean)))) if inside else "-")
        rows.append(tuple(cells))
    return DataTable(columns, tuple(rows))
