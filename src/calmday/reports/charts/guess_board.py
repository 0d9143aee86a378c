"""The guess board as a picture: every guess on one scale, the result as a band through them, large for a room."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.lettering import plain
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
