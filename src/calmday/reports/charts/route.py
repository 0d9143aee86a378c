"""The route to scale, coloured by a quantity, with the wind: no map under it and none needed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.canvas import Canvas, broken_line, num
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.lettering import ASCENT, DESCENT, plain, width
from calmday.reports.charts.palette import RAMP
from calmday.reports.charts.quantities import Quantity, QuantityKey, linked_samples, mean_in, quantity, stretches
from calmday.reports.charts.route_key import Classes, classes_of, draw_key, draw_scale_bar, key_height, key_width
from calmday.reports.charts.saying import in_plain_words
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.run_tables import compass
from calmday.reports.words import number

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive

FloatArray = NDArray[np.float64]

PIECE = 6.0
"""Length of the pieces that carry one colour, in view box units of a page."""
MOST_LANES = 4
"""Laps drawn side by side; more of them are drawn on each other."""
THINNEST, THICKER = 2.6, 0.75
"""Width of the lowest class of colour, and what each class adds: the picture reads in greyscale as well."""


class _Map(msgspec.Struct, frozen=True):
    """Places of the samples in the view box, units per metre, and the box they fill."""

    x: FloatArray
    y: FloatArray
    per_metre: float
    left: float
    top: float
    right: float
    bottom: float


def route_chart(along: AlongTheDrive, by: QuantityKey = "speed", units: ReaderUnits = METRIC) -> Chart:
    """The route coloured by a quantity; by speed where the drive does not know the one asked for."""
    shown = quantity(along, by, units) or quantity(along, "speed", units)
    assert shown is not None
    classes = classes_of(shown, along.distance_m)

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, "" if canvas.frame.stacked else note)
        _draw(canvas, top, along, shown, classes, units)

    title, note = "The route", f"Colour and thickness: {shown.words}, {shown.unit}"
    return Chart(
        name=f"route-{shown.key.replace('_', '-')}",
        title=title,
        note=note,
        description=_description(along, shown, units),
        table=_table(along, shown, units),
        draw=draw,
    )


def _draw(
    canvas: Canvas, top: float, along: AlongTheDrive, shown: Quantity, classes: Classes, units: ReaderUnits
) -> None:
    frame = canvas.frame
    key = key_height(canvas)
    if frame.stacked:
        wide = frame.inner
        height = _grown(along, wide, 330) if frame.height is None else frame.height - frame.bottom - top - key
        key_left, key_top = canvas.left, top + height
    else:
        wide = frame.inner - key_width(canvas) - 1.5 * frame.text
        height = _grown(along, wide, 430) if frame.height is None else frame.height - frame.bottom - top
        height = max(height, key) if frame.height is None else height
        key_left, key_top = canvas.right - key_width(canvas), top
    foot = 1.4 * frame.number
    area = _map(canvas, along, canvas.left, top, wide, height - foot)
    samples = linked_samples(along.east_m.size)
    with canvas.group(
        kind="chart-samples",
        data_i=" ".join(map(str, samples.tolist())),
        data_x=" ".join(num(v) for v in area.x[samples].tolist()),
        data_y=" ".join(num(v) for v in area.y[samples].tolist()),
    ):
        _ribbons(canvas, along, area, shown, classes)
        _marks(canvas, along, area)
        canvas.add(
            f'<circle class="chart-cursor" cx="0" cy="0" r="{num(0.5 * frame.text)}" fill="none" '
            f'stroke="{canvas.colour("ink")}" stroke-width="{num(3 * frame.stroke)}" visibility="hidden"/>'
        )
    draw_scale_bar(canvas, canvas.left, top + height, wide, area.per_metre, units)
    ends = draw_key(canvas, key_left, key_top, shown, classes, along.wind, units)
    canvas.bottom(max(ends, top + height))


def _grown(along: AlongTheDrive, wide: float, most: float) -> float:
    """Height of the map where the picture may grow: as the route asks, within reason."""
    east, north = np.ptp(along.east_m), np.ptp(along.north_m)
    wanted = wide * float(north / east) if east > 0 else most
    return min(max(wanted + 60, 170.0), most)


def _map(canvas: Canvas, along: AlongTheDrive, left: float, top: float, wide: float, high: float) -> _Map:
    """Fit the route into a box with the same scale both ways, north up."""
    rim = (1.6 if canvas.frame.height is None else 0.9) * canvas.frame.text
    east, north = along.east_m, along.north_m
    width_m, height_m = max(float(np.ptp(east)), 1.0), max(float(np.ptp(north)), 1.0)
    per_metre = min((wide - 2 * rim) / width_m, (high - 2 * rim) / height_m)
    x0 = left + wide / 2 - per_metre * float(east.max() + east.min()) / 2
    y0 = top + high / 2 + per_metre * float(north.max() + north.min()) / 2
    return _Map(x0 + per_metre * east, y0 - per_metre * north, per_metre, left, top, left + wide, top + high)


def _lanes(canvas: Canvas, along: AlongTheDrive, area: _Map) -> tuple[FloatArray, FloatArray]:
    """Places moved to the right of the way, a lane further with every lap, so that laps lie side by side."""
    laps = along.laps
    if not 1 < len(laps) <= MOST_LANES or canvas.frame.size == "9:16":
        return area.x, area.y
    pitch = (THINNEST + THICKER * len(RAMP) + 1.0) * canvas.frame.stroke
    lane = np.zeros(area.x.size)
    for index, lap in enumerate(laps):
        lane[lap.start : lap.stop] = index - (len(laps) - 1) / 2
    lane[laps[-1].stop :] = lane[max(laps[-1].stop - 1, 0)]
    lane[: laps[0].start] = lane[laps[0].start]
    # the direction over some lengths of a lane: a corner is to bend the lanes, not to knot them
    reach = max(1, round(2.0 * pitch / max(_step_length(area), 1e-6)))
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    ahead = np.convolve(np.pad(np.sin(along.heading_rad), reach, mode="edge"), kernel, "valid")
    up = np.convolve(np.pad(np.cos(along.heading_rad), reach, mode="edge"), kernel, "valid")
    smooth = np.convolve(np.pad(lane, reach, mode="edge"), kernel, "valid")
    return area.x + pitch * smooth * up, area.y + pitch * smooth * ahead


def _step_length(area: _Map) -> float:
    """Usual length of a moving step in the picture."""
    steps = np.hypot(np.diff(area.x), np.diff(area.y))
    moving = steps[steps > 0.02 * steps.max()] if steps.size and steps.max() > 0 else steps
    return float(np.median(moving)) if moving.size else 1.0


def _ribbons(canvas: Canvas, along: AlongTheDrive, area: _Map, shown: Quantity, classes: Classes) -> None:
    """The way in pieces of one colour and thickness, on a casing that keeps light pieces visible."""
    x, y = _lanes(canvas, along, area)
    kept = _spaced(x, y, 0.8 * canvas.frame.stroke, along.segment)
    breaks = (np.flatnonzero(np.diff(along.segment[kept])) + 1).tolist()
    line = broken_line(np.insert(x[kept], breaks, np.nan), np.insert(y[kept], breaks, np.nan))
    widest = THINNEST + THICKER * (len(RAMP) - 1)
    canvas.path(line, edge="ink", wide=widest * 0.5 + 2.6)
    for start, stop, rank in _pieces(x, y, shown.mean, classes, along.segment, PIECE * canvas.frame.stroke):
        inside = kept[(kept > start) & (kept < stop)]
        path = np.concatenate([[start], inside, [stop]])
        paint = "plain" if rank < 0 else RAMP[classes.ramp(rank)]
        wide = 1.6 if rank < 0 else THINNEST + THICKER * classes.ramp(rank)
        canvas.path(broken_line(x[path], y[path]), edge=paint, wide=wide)


def _spaced(x: FloatArray, y: FloatArray, least: float, segment: NDArray[np.int64]) -> NDArray[np.int64]:
    """Samples at least `least` apart along the way, with the first and last of every segment."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    first = np.concatenate([[True], np.diff(np.floor(way / max(least, 1e-9))) > 0])
    edge = np.concatenate([[True], np.diff(segment) != 0])
    return np.flatnonzero(first | edge | np.concatenate([edge[1:], [True]]))


def _pieces(
    x: FloatArray, y: FloatArray, values: FloatArray, classes: Classes, segment: NDArray[np.int64], length: float
) -> list[tuple[int, int, int]]:
    """Stretches (first sample, last sample, class) of about `length` or more; class -1 where nothing is known."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    label = np.floor(way / length) + 1e6 * segment
    starts = np.concatenate([[0], np.flatnonzero(np.diff(label)) + 1])
    stops = np.concatenate([starts[1:], [x.size]])
    known = np.isfinite(values)
    totals = np.add.reduceat(np.where(known, values, 0.0), starts)
    counts = np.add.reduceat(known.astype(np.int64), starts)
    pieces: list[tuple[int, int, int]] = []
    for start, stop, total, count in zip(
        starts.tolist(), stops.tolist(), totals.tolist(), counts.tolist(), strict=True
    ):
        rank = classes.rank(total / count) if count else -1
        last = stop if stop < x.size and segment[stop] == segment[start] else stop - 1
        if pieces and pieces[-1][2] == rank and pieces[-1][1] == start:
            pieces[-1] = (pieces[-1][0], last, rank)
        else:
            pieces.append((start, last, rank))
    return pieces


def _marks(canvas: Canvas, along: AlongTheDrive, area: _Map) -> None:
    """Start, and arrows in the direction of travel."""
    size = canvas.frame.text
    x, y = _lanes(canvas, along, area)
    # on the last lap drawn, which lies on top or outermost
    lap = along.laps[-1] if along.laps else None
    first, last = (lap.start, min(lap.stop, x.size - 1)) if lap is not None else (0, x.size - 1)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x[first : last + 1]), np.diff(y[first : last + 1])))])
    if way[-1] > 6 * size:
        count = max(3, min(8, round(way[-1] / (9 * size))))
        for share in (np.arange(count) + 0.5) / count:
            index = first + int(np.searchsorted(way, share * way[-1]))
            _arrow(canvas, float(x[index]), float(y[index]), float(along.heading_rad[index]))
    a, b = float(x[0]), float(y[0])
    canvas.marker("circle", a, b, 0.42 * size, "ink", True)
    left, base = _clear_place(x, y, area, a, b, width("start", size, True), size)
    canvas.text(left, base, "start", bold=True)


def _clear_place(
    x: FloatArray, y: FloatArray, area: _Map, a: float, b: float, wide: float, size: float
) -> tuple[float, float]:
    """Left end and base line for a word beside the place (a, b) where it covers least of the way."""
    gap = 0.75 * size
    found: list[tuple[int, int, float, float]] = []
    for left in (a + gap, a - gap - wide, a - wide / 2):
        for base in (b + 0.36 * size, b + 1.5 * size, b - 0.7 * size):
            level = abs(base - b - 0.36 * size) < 0.1 * size
            if level and left == a - wide / 2:
                continue  # on the mark itself
            top, bottom = base - ASCENT * size, base + DESCENT * size
            if left < area.left or left + wide > area.right or top < area.top or bottom > area.bottom:
                continue
            rim = 0.5 * size
            covered = (x > left - rim) & (x < left + wide + rim) & (y > top - rim) & (y < bottom + rim)
            found.append((int(covered.sum()), len(found), left, base))
    _, _, left, base = min(found, default=(0, 0, a + gap, b + 0.36 * size))
    return left, base


def _arrow(canvas: Canvas, x: float, y: float, heading_rad: float) -> None:
    size = 0.52 * canvas.frame.text
    sin, cos = math.sin(heading_rad), math.cos(heading_rad)

    def at(ahead: float, beside: float) -> str:
        return f"{num(x + size * (ahead * sin + beside * cos))} {num(y - size * (ahead * cos - beside * sin))}"

    d = f"M{at(1.1, 0)}L{at(-0.8, 0.8)}L{at(-0.4, 0)}L{at(-0.8, -0.8)}Z"
    canvas.path(d, paint="ink", edge="paper", wide=1.0)


def _description(along: AlongTheDrive, shown: Quantity, units: ReaderUnits) -> str:
    distance = units.show("distance")
    total = number(distance.factor * float(np.nanmax(along.distance_m)), 1)
    known = shown.mean[np.isfinite(shown.mean)]
    decimals = 0 if np.abs(known).max() >= 20 else 1
    laps = f", {len(along.laps)} laps" if len(along.laps) > 1 else ""
    said = (
        f"Route of {total} {distance.unit}{laps}; {shown.words} from {number(float(known.min()), decimals)} to "
        f"{number(float(known.max()), decimals)} {shown.unit}"
    )
    wind = along.wind
    if not wind.known:
        return f"{said}; the wind is not known."
    show = units.show("wind")
    speed = wind.speed.scaled(show.factor, show.unit)
    return plain(f"{said}; wind {in_plain_words(speed, show.unit)}, from {compass(wind.from_deg)}.")


def _table(along: AlongTheDrive, shown: Quantity, units: ReaderUnits) -> DataTable:
    distance = units.show("distance")
    edges, stretch = stretches(distance.factor * along.distance_m)
    columns = (
        DataColumn("from", distance.unit),
        DataColumn("to", distance.unit),
        DataColumn(f"mean {shown.words}", shown.unit),
    )
    rows = tuple((float(edges[i]), float(edges[i + 1]), mean_in(shown.mean, stretch, i)) for i in range(len(edges) - 1))
    return DataTable(columns, rows)
