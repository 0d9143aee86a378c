"""How the calm-day figure moved over the dates, with each change to the vehicle marked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from calmday.reports.charts.axes import Field, standing_scale, tick_room
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.frames import Size
from calmday.reports.charts.lettering import ASCENT, fitted, plain, width, wrapped
from calmday.reports.charts.placing import without_crowding
from calmday.reports.charts.saying import brief, in_plain_words
from calmday.reports.charts.scale import Scale, extent
from calmday.reports.words import is_known, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure

USUAL_HEIGHT = 280.0


class HistoryPoint(msgspec.Struct, frozen=True, kw_only=True):
    """The figure of one run. `void`: shown, but not counted."""

    date: dt.date
    label: str
    figure: Figure
    void: bool = False


class ChangeMark(msgspec.Struct, frozen=True, kw_only=True):
    """A change to the vehicle and its date."""

    date: dt.date
    what: str


def history_chart(points: Sequence[HistoryPoint], changes: Sequence[ChangeMark] = ()) -> Chart | None:
    """Figures over dates; None without a known figure. All figures must be in one unit."""
    known = sorted((p for p in points if is_known(p.figure)), key=lambda p: p.date)
    if not known:
        return None
    marks = sorted(changes, key=lambda change: change.date)
    words = unit_words(known[0].figure.unit)
    days = [p.date.toordinal() for p in known] + [c.date.toordinal() for c in marks]
    span = (min(days) - 1.0, max(days) + 1.0) if max(days) - min(days) < 14 else extent(days, pad=0.03)
    low, high = extent([value for p in known for value in (p.figure.low, p.figure.high)])
    y_range = (low, high + 0.18 * (high - low))  # room for a number above the last interval

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        field = _field(canvas, top, span, y_range, marks)
        standing_scale(canvas, field)
        size = canvas.frame.text
        canvas.text(field.left, field.top - 0.4 * size, words, bold=True)
        _changes(canvas, field, marks)
        _points(canvas, field, known)
        canvas.bottom(_legend(canvas, _dates(canvas, field, known), marks))

    title, note = "Calm-day figure over time", f"{words}, with give-or-take; numbered lines: changes"
    return Chart(
        name="history",
        title=title,
        note=note,
        description=_description(known, marks, words),
        table=_table(known, marks, words),
        draw=draw,
    )


def _field(
    canvas: Canvas, top: float, span: tuple[float, float], y_range: tuple[float, float], marks: Sequence[ChangeMark]
) -> Field:
    frame = canvas.frame
    head = 1.25 * frame.text + (1.3 * frame.number if marks else 0.0)
    height = USUAL_HEIGHT
    if frame.height is not None:
        foot = 1.45 * frame.number + (1.2 * _legend_lines(canvas, marks) + 0.4) * frame.text
        height = frame.height - frame.bottom - top - foot
    left = canvas.left + tick_room(*y_range, height - head, frame.number) + 0.5 * frame.number
    right = canvas.right - 0.6 * frame.number
    return Field(Scale(*span, left, right), Scale(*y_range, top + height, top + head))


def _legend_lines(canvas: Canvas, marks: Sequence[ChangeMark]) -> int:
    return min(len(marks), 3 if canvas.frame.height is not None else len(marks))


def _changes(canvas: Canvas, field: Field, marks: Sequence[ChangeMark]) -> None:
    """A dashed line per change, numbered above the field where the numbers do not crowd."""
    size = canvas.frame.number
    places = [field.x(mark.date.toordinal()) for mark in marks]
    halves = [width(str(i + 1), size, True) / 2 for i in range(len(marks))]
    kept = set(
        without_crowding(
            [p - h for p, h in zip(places, halves, strict=True)],
            [p + h for p, h in zip(places, halves, strict=True)],
            0.3 * size,
        )
    )
    for index, place in enumerate(places):
        canvas.line(place, field.top, place, field.bottom, "second", 2.0, "6 4")
        if index in kept:
            base = field.top - 0.35 * size - 1.25 * canvas.frame.text
            canvas.text(place, base, str(index + 1), size=size, anchor="middle", bold=True)


def _points(canvas: Canvas, field: Field, known: Sequence[HistoryPoint]) -> None:
    size = canvas.frame.number
    for point in known:
        x = field.x(point.date.toordinal())
        figure = point.figure
        paint = "plain" if point.void else "first"
        canvas.upright(x, field.y(figure.low), field.y(figure.high), 0.25 * size, paint, 2.2)
        canvas.marker("cross" if point.void else "circle", x, field.y(figure.value), 0.28 * size, paint)
    sound = [point for point in known if not point.void]
    if not sound:
        return
    last = sound[-1]
    text = brief(last.figure)
    x, y = field.x(last.date.toordinal()), field.y(last.figure.high)
    half = width(text, size, True) / 2
    above = y - 0.4 * size
    base = max(above, field.top + ASCENT * size)
    x = min(max(x, field.left + half + 0.1 * size), canvas.right - half)
    canvas.text(x, base, text, size=size, anchor="middle", bold=True)


def _dates(canvas: Canvas, field: Field, known: Sequence[HistoryPoint]) -> float:
    """Dates under the field: first and last always, others where there is room."""
    size = canvas.frame.number
    unique = sorted({point.date for point in known})
    canvas.line(field.left, field.bottom, field.right, field.bottom, "plain", 1.2)
    y = field.bottom + 0.35 * size + ASCENT * size
    labels = [_date_text(date, canvas.frame.size) for date in unique]
    halves = [width(label, size) / 2 for label in labels]
    places = [
        min(max(field.x(date.toordinal()), canvas.left + half), canvas.right - half)
        for date, half in zip(unique, halves, strict=True)
    ]
    order = [0, len(unique) - 1, *range(1, len(unique) - 1)] if len(unique) > 1 else [0]
    taken: list[tuple[float, float]] = []
    for index in order:
        start, stop = places[index] - halves[index], places[index] + halves[index]
        if all(stop + 0.5 * size <= a or start >= b + 0.5 * size for a, b in taken):
            taken.append((start, stop))
            canvas.text(places[index], y, labels[index], size=size, anchor="middle", colour="soft")
    return y + 0.3 * size


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _date_text(date: dt.date, size: Size = "page") -> str:
    month = _MONTHS[date.month - 1]
    if size == "9:16":
        return f"{month} ’{date.year % 100:02d}"
    return f"{date.day} {month} {date.year}" if size != "narrow" else f"{date.day} {month} ’{date.year % 100:02d}"


def _legend(canvas: Canvas, y: float, marks: Sequence[ChangeMark]) -> float:
    """What the numbered changes were."""
    size = canvas.frame.text
    most = _legend_lines(canvas, marks)
    shown = marks if len(marks) <= most else marks[:most]
    for index, mark in enumerate(shown):
        y += 1.2 * size
        line = f"{index + 1}: {_date_text(mark.date)}, {plain(mark.what)}"
        if index == most - 1 and len(marks) > most:
            line = f"and {len(marks) - most + 1} more changes"
        if canvas.frame.height is None:
            lines = wrapped(line, canvas.frame.inner, size, 3)
        else:
            lines = [fitted(line, canvas.frame.inner, size)]
        for part, text in enumerate(lines):
            y += 1.15 * size if part else 0.0
            canvas.text(canvas.left, y, text)
    return y + 0.3 * size


def _description(known: Sequence[HistoryPoint], marks: Sequence[ChangeMark], words: str) -> str:
    sound = [point for point in known if not point.void] or list(known)
    first, last = sound[0], sound[-1]
    said = f"{_date_text(first.date)}: {in_plain_words(first.figure, words)}"
    if last is not first:
        said += f"; {_date_text(last.date)}: {in_plain_words(last.figure, words)}"
    count = f"{len(sound)} runs" if len(sound) != 1 else "one run"
    changes = f" and {len(marks)} changes" if len(marks) > 1 else " and one change" if marks else ""
    return f"{count}{changes}; {said}."


def _table(known: Sequence[HistoryPoint], marks: Sequence[ChangeMark], words: str) -> DataTable:
    columns = (
        DataColumn("date"),
        DataColumn("what"),
        DataColumn("calm day", words),
        DataColumn("at least", words),
        DataColumn("at most", words),
        DataColumn("counts"),
    )
    runs = [
        (
            p.date.isoformat(),
            p.label,
            known_or_none(p.figure.value),
            known_or_none(p.figure.low),
            known_or_none(p.figure.high),
            "void" if p.void else "yes",
        )
        for p in known
    ]
    changes = [(m.date.isoformat(), m.what, None, None, None, "change") for m in marks]
    return DataTable(columns, tuple(sorted([*runs, *changes], key=lambda row: (row[0], row[5]))))
