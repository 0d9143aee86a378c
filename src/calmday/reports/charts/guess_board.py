"""The guess board as a picture: every guess on one scale, the result as a band through them, large for a room."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.lettering import fitted, plain, width
from calmday.reports.charts.rows import Row, draw_marks, lay_out, room_for
from calmday.reports.charts.scale import Scale
from calmday.reports.guess_sentence import RULE_WORDS, in_steps
from calmday.reports.words import amount, number, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.procedures.guess_result import GuessBoard, GuessRow


def guess_board_chart(board: GuessBoard) -> Chart:
    """Places from the nearest down, the result with its band on top."""
    unit = unit_words(board.unit)
    result = Row(
        label="the result", value=board.result.value, low=board.result.low, high=board.result.high, start=math.nan,
        text=amount(board.result), paint="first", marker="circle", strong=True,
    )  # fmt: skip
    rows = [_row(board, row) for row in board.guesses]
    title = "Who guessed best?"
    note = f"{unit}, nearest by {RULE_WORDS[board.rule]}"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        if canvas.frame.height is not None:
            _places(canvas, board, top, unit)
            return
        since = canvas.drawn
        shown = [result, *_fitting(rows, room_for(canvas, top, True) - 1)]
        lanes = lay_out(canvas, shown, top, axis=True)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        with canvas.beneath(since):
            low, high = lanes.x(board.result.low), lanes.x(board.result.high)
            canvas.rect(low, lanes.top, high - low, lanes.bottom - lanes.top, "shade")
        canvas.bottom(lying_scale(canvas, field, "", unit))
        draw_marks(canvas, lanes)

    return Chart(
        name="guess-board",
        title=title,
        note=note,
        description=_description(board, unit),
        table=DataTable(
            (DataColumn("place"), DataColumn("who"), DataColumn("guess", unit), DataColumn("off", board.off_unit)),
            tuple((row.place, row.by, row.shown, row.off_by) for row in board.guesses),
        ),
        draw=draw,
    )


def _places(canvas: Canvas, board: GuessBoard, top: float, unit: str) -> None:
    """A still picture for a room: the result, then as many places as there is room for, in one column or two."""
    size = canvas.frame.number
    result = amount(board.result) if canvas.frame.stacked else f"{amount(board.result)} {unit}"
    canvas.text(canvas.left, top + 1.1 * size, fitted(result, canvas.frame.inner, 1.25 * size, True),
                size=1.25 * size, bold=True)  # fmt: skip
    start, pitch = top + 1.75 * size, 1.42 * size
    assert canvas.frame.height is not None
    lines = max(1, int((canvas.frame.height - canvas.frame.bottom - start) / pitch))
    columns = 1 if canvas.frame.stacked or len(board.guesses) <= lines else 2
    most = lines * columns
    shown = list(board.guesses) if len(board.guesses) <= most else list(board.guesses[: most - 1])
    gap = size if columns == 2 else 0.0
    wide = (canvas.frame.inner - gap) / columns
    for index, row in enumerate(shown):
        column, line = divmod(index, lines)
        left, base = canvas.left + column * (wide + gap), start + line * pitch + size
        first = row.place == 1
        if first:
            canvas.rect(left - 0.15 * size, base - 0.98 * size, wide + 0.3 * size, 1.3 * size, "shade", edge="ink")
        value = in_steps(row.shown, board.result)
        canvas.text(left, base, f"{row.place}.", size=size, bold=True)
        name = left + width("00.", size, True) + 0.2 * size
        room = left + wide - name - width(value, size, first) - 0.5 * size
        canvas.text(name, base, fitted(plain(row.by) or "somebody", room, size, first), size=size, bold=first)
        canvas.text(left + wide, base, value, size=size, anchor="end", bold=first)
    if len(shown) < len(board.guesses):
        column, line = divmod(len(shown), lines)
        left = canvas.left + column * (wide + gap)
        rest = f"and {len(board.guesses) - len(shown)} more"
        canvas.text(left, start + line * pitch + size, rest, size=size, colour="soft")


def _row(board: GuessBoard, row: GuessRow) -> Row:
    first = row.place == 1
    return Row(
        label=f"{row.place}. {row.by or 'somebody'}", value=row.shown, start=math.nan,
        text=in_steps(row.shown, board.result), paint="second" if first else "soft",
        marker="square" if row.own else "diamond", hollow=not first, strong=first,
    )  # fmt: skip


def _fitting(rows: Sequence[Row], room: int) -> list[Row]:
    """As many as there is room for, the nearest; the rest is counted."""
    if len(rows) <= room:
        return list(rows)
    kept = list(rows[: max(room - 1, 0)])
    return [*kept, Row(label=f"and {len(rows) - len(kept)} more", value=math.nan, start=math.nan, text="")]


def _description(board: GuessBoard, unit: str) -> str:
    said = f"The result is {amount(board.result)} {unit}"
    told = [f"{row.place}. {plain(row.by) or 'somebody'} {in_steps(row.shown, board.result)}" for row in board.guesses]
    if board.crowd is not None:
        said += f"; the middle of {board.crowd.count} guesses is {number(board.crowd.median, 1)}"
    return f"{said}; {', '.join(told[:12])}."
