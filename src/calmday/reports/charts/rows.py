"""Rows: a label, a bar or mark with its interval, and the number beside it. Half of the charts are made of these."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from calmday.reports.charts.axes import lying_scale_height
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.lettering import plain, width, wrapped
from calmday.reports.charts.scale import Scale, extent, known


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """One row. `low`, `high` NaN: no interval; `text` the number as printed, `brief` where room is dear.

    `start` is where a bar begins, NaN for a mark; `holds` what else the scale must reach, `line` where a line stands
    that the number must not cross.
    """

    label: str
    value: float
    text: str
    low: float = math.nan
    high: float = math.nan
    start: float = 0.0
    paint: str = "first"
    brief: str = ""
    marker: str = "circle"
    hollow: bool = False
    strong: bool = False
    holds: tuple[float, ...] = ()
    line: float = math.nan

    def number(self, canvas: Canvas) -> str:
        """The number as printed in this frame: a tall picture has room for the value alone."""
        return self.brief if self.brief and canvas.frame.size == "9:16" else self.text

    @property
    def reach(self) -> list[float]:
        return known((self.start, self.value, self.low, self.high, self.line, *self.holds))


class Lane(msgspec.Struct, frozen=True):
    """Where one row is drawn: `middle` of its bar, half its `thickness`."""

    row: Row
    middle: float
    half: float


class Lanes(msgspec.Struct, frozen=True):
    """Rows laid out. `x` the scale of their values; `top` and `bottom` of them all."""

    lanes: tuple[Lane, ...]
    x: Scale
    top: float
    bottom: float


_LABEL_SHARE = 0.36
_STEP = 1.12
"""From line to line of a label, of the size."""
_BAR = 0.5
"""Thickness of a bar under its label, of the numbers' size."""


def room_for(canvas: Canvas, top: float, axis: bool) -> int:
    """How many rows fit under `top`."""
    frame = canvas.frame
    if frame.height is None:
        return frame.rows
    return max(1, min(frame.rows, int(_room(canvas, top, axis) / _least(canvas))))


def _room(canvas: Canvas, top: float, axis: bool) -> float:
    frame = canvas.frame
    assert frame.height is not None
    return frame.height - frame.bottom - top - (lying_scale_height(canvas) if axis else 0.0)


def _least(canvas: Canvas) -> float:
    """Least height of a row in a picture of fixed height."""
    frame = canvas.frame
    if frame.stacked:
        return _STEP * 2 * frame.text + _BAR * frame.number + 0.3 * frame.text
    return max(1.4 * frame.number, 2 * _STEP * frame.text)


def lay_out(canvas: Canvas, rows: Sequence[Row], top: float, *, axis: bool = False, zero: bool = False) -> Lanes:
    """Rows from `top` downwards with their labels and numbers drawn; `axis` leaves room for a scale under them."""
    frame = canvas.frame
    low, high = extent([value for row in rows for value in row.reach], zero=zero, pad=0.04)
    gap = 0.5 * frame.number
    if frame.stacked:
        x = Scale(low, high, canvas.left + 0.4 * frame.number, canvas.right - 0.4 * frame.number)
    else:
        numbers = max((width(row.number(canvas), frame.number, row.strong) for row in rows), default=0.0)
        longest = max((width(plain(row.label), frame.text, row.strong) for row in rows), default=0.0)
        labels = min(longest, _LABEL_SHARE * frame.inner)
        x = Scale(low, high, canvas.left + labels + 1.5 * gap, canvas.right - numbers - 2 * gap)
    lanes = []
    y = top
    for row in rows:
        room = _label_room(canvas, row) if frame.stacked else x.start - canvas.left - gap
        lines = wrapped(plain(row.label), room, frame.text, 2, row.strong)
        pitch = _own_height(canvas, len(lines)) if frame.height is None else _shared(canvas, len(rows), top, axis)
        place = _stacked if frame.stacked else _beside
        lanes.append(place(canvas, row, lines, y, pitch, x))
        y += pitch
    return Lanes(tuple(lanes), x, top, y)


def _label_room(canvas: Canvas, row: Row) -> float:
    frame = canvas.frame
    return frame.inner - width(row.number(canvas), frame.number, row.strong) - 0.6 * frame.number


def _shared(canvas: Canvas, count: int, top: float, axis: bool) -> float:
    """Height of each row where the picture's height is given."""
    most = 1.6 if canvas.frame.stacked else 1.7
    return min(_room(canvas, top, axis) / max(count, 1), most * _least(canvas))


def _own_height(canvas: Canvas, lines: int) -> float:
    """Height of a row where the picture grows with its rows."""
    frame = canvas.frame
    if frame.stacked:
        return _STEP * lines * frame.text + (_BAR + 0.75) * frame.number
    return max(1.9 * frame.number, _STEP * lines * frame.text + 0.3 * frame.text)


def _stacked(canvas: Canvas, row: Row, lines: Sequence[str], y: float, pitch: float, _: Scale) -> Lane:
    """Label and number on one line, the bar under them."""
    frame = canvas.frame
    block = max(_STEP * len(lines) * frame.text, frame.number)
    spare = max(pitch - block - (_BAR + 0.15) * frame.number, 0.0) if frame.height is not None else 0.0
    base = y + 0.3 * spare + block - 0.12 * frame.number
    canvas.text(canvas.right, base, row.number(canvas), size=frame.number, anchor="end", bold=row.strong)
    for index, line in enumerate(reversed(lines)):
        canvas.text(canvas.left, base - index * _STEP * frame.text, line, bold=row.strong)
    half = 0.5 * _BAR * frame.number
    return Lane(row, base + 0.3 * frame.number + half, half)


def _beside(canvas: Canvas, row: Row, lines: Sequence[str], y: float, pitch: float, x: Scale) -> Lane:
    """Label left of the bar, number right of where the bar or its interval ends."""
    frame = canvas.frame
    middle = y + pitch / 2
    first = middle + 0.36 * frame.text - (len(lines) - 1) * _STEP / 2 * frame.text
    for index, line in enumerate(lines):
        canvas.text(canvas.left, first + _STEP * index * frame.text, line, bold=row.strong)
    own = known((row.start, row.value, row.low, row.high, *row.holds))
    end = max((x(value) for value in own), default=x.start)
    base = middle + 0.36 * frame.number
    clear = (0.5 if math.isfinite(row.start) or known((row.low, row.high)) else 0.85) * frame.number
    room = width(row.number(canvas), frame.number, row.strong) + 2 * clear
    if math.isfinite(row.line) and end <= x(row.line) <= end + room:
        end = x(row.line)
    canvas.text(end + clear, base, row.number(canvas), size=frame.number, bold=row.strong)
    return Lane(row, middle, min(0.32 * pitch, 0.55 * frame.number))


def draw_bars(canvas: Canvas, lanes: Lanes) -> None:
    """A bar per row from its start, its interval over it, and the line of zero."""
    for lane in lanes.lanes:
        row = lane.row
        if not math.isfinite(row.value):
            continue
        a, b = sorted((lanes.x(row.start), lanes.x(row.value)))
        least = canvas.frame.stroke
        canvas.rect(
            a, lane.middle - lane.half, max(b - a, least), 2 * lane.half,
            "none" if row.hollow else row.paint, edge=row.paint if row.hollow else "none",
        )  # fmt: skip
        draw_interval(canvas, lanes, lane)
    if lanes.x.low <= 0 <= lanes.x.high:
        _zero_line(canvas, lanes)


def _zero_line(canvas: Canvas, lanes: Lanes) -> None:
    zero = lanes.x(0.0)
    if not canvas.frame.stacked:
        canvas.line(zero, lanes.top, zero, lanes.bottom, "plain", 1.2)
        return
    for lane in lanes.lanes:  # between the labels only, so that no line runs through a word
        canvas.line(zero, lane.middle - 1.25 * lane.half, zero, lane.middle + 1.25 * lane.half, "plain", 1.2)


def draw_interval(canvas: Canvas, lanes: Lanes, lane: Lane) -> None:
    """The interval of a row, with a rim of paper so that it is seen on a bar as well."""
    row = lane.row
    if not (math.isfinite(row.low) and math.isfinite(row.high)) or row.high <= row.low:
        return
    low, high = lanes.x(row.low), lanes.x(row.high)
    reach = 0.55 * lane.half
    canvas.interval(low, high, lane.middle, reach, "paper", 4.5)
    canvas.interval(low, high, lane.middle, reach, "ink", 2.0)


def draw_marks(canvas: Canvas, lanes: Lanes) -> None:
    """A mark per row with its interval."""
    for lane in lanes.lanes:
        row = lane.row
        if math.isfinite(row.low) and math.isfinite(row.high) and row.high > row.low:
            low, high = lanes.x(row.low), lanes.x(row.high)
            canvas.interval(low, high, lane.middle, 0.25 * canvas.frame.number, row.paint, 2.6)
        if math.isfinite(row.value):
            canvas.marker(row.marker, lanes.x(row.value), lane.middle, mark_radius(canvas), row.paint, row.hollow)


def mark_radius(canvas: Canvas) -> float:
    """Size of a row's mark."""
    return 0.3 * canvas.frame.number


def fewer(rows: Sequence[Row], most: int, rest: str) -> list[Row]:
    """At most `most` rows: the largest, and the others added up in one row named `rest` without interval."""
    if len(rows) <= most:
        return list(rows)
    ranked = sorted(range(len(rows)), key=lambda i: -abs(rows[i].value) if math.isfinite(rows[i].value) else 1.0)
    kept = sorted(ranked[: most - 1])
    left = [rows[i].value for i in ranked[most - 1 :] if math.isfinite(rows[i].value)]
    total = sum(left)
    pooled = Row(label=f"{len(rows) - len(kept)} {rest}", value=total, text=_share(total), paint="plain")
    return [*(rows[i] for i in kept), pooled]


def _share(value: float) -> str:
    return f"{value:.0f} %".replace("-", "−") if abs(value) >= 0.5 else "under 0.5 %"
