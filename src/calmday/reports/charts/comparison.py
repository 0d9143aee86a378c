"""As driven against the calm day, with what people guessed and what is published as marks on the same scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.rows import Lanes, Row, draw_marks, lay_out, room_for
from calmday.reports.charts.saying import brief, in_plain_words
from calmday.reports.charts.scale import Scale
from calmday.reports.charts.units import METRIC, ReaderUnits, consumption_in
from calmday.reports.words import amount, is_known, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import RunResult
    from calmday.records.run import Prediction, Published


class Guess(msgspec.Struct, frozen=True, kw_only=True):
    """A figure to hold the result against: whose it is and its value in `unit`, a consumption unit of the result."""

    by: str
    value: float
    unit: str
    published: bool = False


def guesses_of(predictions: Sequence[Prediction], published: Published | None = None) -> tuple[Guess, ...]:
    """Guesses and the published figure as a run file declares them."""
    found = [Guess(by=p.by, value=p.value, unit=p.unit) for p in predictions]
    if published is not None:
        kind = f"published, {published.kind}" if published.kind else "published"
        found.append(Guess(by=kind, value=published.value, unit=published.unit, published=True))
    return tuple(found)


def comparison_chart(result: RunResult, guesses: Sequence[Guess] = (), units: ReaderUnits = METRIC) -> Chart:
    """As driven, calm day, guesses."""
    words = units.consumption_words
    driven: Figure = getattr(result.as_driven, units.consumption)
    calm: Figure | None = getattr(result.calm_day, units.consumption) if result.calm_day is not None else None
    rows = [_figure_row("as driven", driven, "second", "square")]
    if calm is not None:
        rows.append(_figure_row("calm day", calm, "first", "circle"))
    measured = len(rows)
    best = calm if calm is not None and is_known(calm) else driven
    marks = _guess_rows(guesses, units, result, best)

    def draw(canvas: Canvas) -> None:
        top = canvas.heading("As driven and on a calm day", f"{words}, with give-or-take")
        since = canvas.drawn
        shown = [*rows, *_fitting(marks, room_for(canvas, top, True) - measured, best)]
        lanes = lay_out(canvas, shown, top, axis=True)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        with canvas.beneath(since):
            _shade(canvas, lanes, best)
        canvas.bottom(lying_scale(canvas, field, "", words))
        draw_marks(canvas, lanes)

    return Chart(
        name="comparison",
        title="As driven and on a calm day",
        note=f"{words}, with give-or-take",
        description=_description(driven, calm, words, marks, best),
        table=_table([*rows, *marks], words),
        draw=draw,
    )


def _figure_row(label: str, figure: Figure, paint: str, marker: str) -> Row:
    return Row(
        label=label, value=figure.value, low=figure.low, high=figure.high, start=math.nan, paint=paint,
        text=amount(figure), brief=brief(figure), marker=marker, strong=True,
    )  # fmt: skip


def _guess_rows(guesses: Sequence[Guess], units: ReaderUnits, result: RunResult, best: Figure) -> list[Row]:
    rows = []
    half = (best.high - best.low) / 2
    for guess in guesses:
        if not (math.isfinite(guess.value) and guess.value > 0):
            continue
        value = consumption_in(guess.value, guess.unit, units.consumption, result.as_driven)
        decimals = 0 if half >= 1 else 1
        rows.append(
            Row(
                label=guess.by, value=value, start=math.nan, text=number(value, decimals), paint="soft",
                marker="triangle" if guess.published else "diamond", hollow=True,
            )
        )  # fmt: skip
    return sorted(rows, key=lambda row: row.value)


def _fitting(marks: Sequence[Row], room: int, best: Figure) -> list[Row]:
    """As many guesses as there is room for, those nearest to the result; the rest is counted."""
    if len(marks) <= room:
        return list(marks)
    if room < 2:
        return []
    near = sorted(marks, key=lambda row: abs(row.value - best.value))[: room - 1]
    rest = Row(label=f"and {len(marks) - len(near)} more", value=math.nan, start=math.nan, text="")
    return [*sorted(near, key=lambda row: row.value), rest]


def _shade(canvas: Canvas, lanes: Lanes, best: Figure) -> None:
    """The interval of the best figure down through all rows, to hold the guesses against."""
    if is_known(best) and len(lanes.lanes) > 1:
        low, high = lanes.x(best.low), lanes.x(best.high)
        canvas.rect(low, lanes.top, high - low, lanes.bottom - lanes.top, "shade")


def _description(driven: Figure, calm: Figure | None, words: str, marks: Sequence[Row], best: Figure) -> str:
    said = f"As driven {in_plain_words(driven, words)}"
    said += f"; on the calm day {in_plain_words(calm, words)}" if calm is not None else "; no calm-day figure"
    if marks and is_known(best):
        nearest = min(marks, key=lambda row: abs(row.value - best.value))
        said += f"; of {len(marks)} guesses {plain(nearest.label)} with {nearest.text} is nearest"
    return f"{said}."


def _table(rows: Sequence[Row], words: str) -> DataTable:
    columns = (
        DataColumn("what"),
        DataColumn("value", words),
        DataColumn("at least", words),
        DataColumn("at most", words),
    )
    cells = tuple((r.label, known_or_none(r.value), known_or_none(r.low), known_or_none(r.high)) for r in rows)
    return DataTable(columns, cells)
