"""Who guessed best? The guess board of a run, large enough for a room; and the program's own guess before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.guess_sheet import guess_sheet, rule_words
from calmday.reports.json_result import json_result
from calmday.reports.words import clean, number, typed, unit_words
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, run_of
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.guess_result import GuessBoard, GuessRow
    from calmday.web.asked import Asked

PODIUM = 3


class BoardLine(msgspec.Struct, frozen=True, kw_only=True):
    """One guess on the board or on the sheet of the run. `sealed` name and guess letter by letter, as the seal has
    them."""

    place: str
    by: str
    text: str
    sealed: str
    off: str
    digest: str
    salt: str


class GuessBoardPage(Context, frozen=True, kw_only=True):
    """The board: the first places large, the picture, everything else below; `faults` why there is none yet."""

    template: ClassVar[str] = "guess_board.html"
    sentence: str
    rule: str
    first: tuple[BoardLine, ...]
    chart: ChartView | None
    blocks: tuple[BlockView, ...]
    faults: tuple[str, ...]
    json: str
    back: str


def board_of_run(asked: Asked, run: Subject) -> GuessBoard | None:
    """The board of a run; None where no guess lies open or there is no result."""
    from calmday.operations.logbook import guess_board_logged  # noqa: PLC0415  (with the database layer)

    try:
        found: GuessBoard = guess_board_logged(asked.desk.book, run.id)
    except InputError:
        return None
    return found


def board_lines(board: GuessBoard | None) -> tuple[BoardLine, ...]:
    """The guesses by place."""
    if board is None:
        return ()
    tied = {row.place for row in board.guesses if sum(other.place == row.place for other in board.guesses) > 1}
    return tuple(_line(board, row, row.place in tied) for row in board.guesses)


def _line(board: GuessBoard, row: GuessRow, tied: bool) -> BoardLine:
    places = 2 if board.off_unit == "L/100km" else 1
    return BoardLine(
        place=f"{row.place}{' =' if tied else ''}",
        by=f"{clean(row.by) or 'somebody'}{' (the program itself)' if row.own else ''}",
        text=typed(row.as_entered),
        sealed=f"{clean(row.by)}, {clean(row.as_entered)}",
        off=f"{number(row.off_by, places)} {unit_words(board.off_unit)}",
        digest=row.digest,
        salt=row.salt,
    )


def guess_board(asked: Asked) -> Response:
    """Who guessed best? Places, the crowd, the seals."""
    run = run_of(asked)
    board = board_of_run(asked, run)
    if board is None:
        words = "Guesses are opened when the can has been weighed again and the run is worked out."
        return _page(asked, run, None, (words,))
    return _page(asked, run, board, ())


def _page(asked: Asked, run: Subject, board: GuessBoard | None, faults: tuple[str, ...]) -> Response:
    view = None
    if board is not None:
        from calmday.reports.charts.guess_board import guess_board_chart  # noqa: PLC0415  (drawing needs numpy)

        plain = chart_view(guess_board_chart(board))
        taken = pictures_to_take(plain.title, lambda form: address("guess_board_chart", run=run.id, form=form))
        view = msgspec.structs.replace(plain, downloads=taken)
    lines = board_lines(board)
    return page(
        GuessBoardPage(
            frame=frame(asked, "Who guessed best?", tab="sheet", run=run),
            sentence=board.sentence if board is not None else "No guess lies open yet.",
            rule=rule_words(board) if board is not None else "",
            first=lines[:PODIUM],
            chart=view,
            blocks=blocks_of(guess_sheet(board)) if board is not None else (),
            faults=faults,
            json=address("guess_board_json", run=run.id) if board is not None else "",
            back=address("sheet", run=run.id),
        )
    )


def guess_board_json(asked: Asked) -> Response:
    """The board as `calmday guesses --json` prints it."""
    board = board_of_run(asked, run_of(asked))
    if board is None:
        raise HTTPException(404)
    return Response(json_result(board), media_type="application/json")


def guess_board_chart(asked: Asked) -> Response:
    """The board as a picture to take along."""
    from calmday.reports.charts.guess_board import guess_board_chart as drawn  # noqa: PLC0415

    board = board_of_run(asked, run_of(asked))
    if board is None:
        raise HTTPException(404)
    return picture_of(drawn(board), asked.part("form"))


def guess_own(asked: Asked) -> Response:
    """Let the program guess, unseeing, and seal it."""
    from calmday.operations.logbook import seal_own_guess  # noqa: PLC0415  (the model only here)
    from calmday.web.pages.day import step_page  # noqa: PLC0415  (the step shows what went wrong)
    from calmday.web.run_fields import step_named  # noqa: PLC0415

    run = run_of(asked)
    here = step_named("guesses")
    if here is None:
        raise HTTPException(404)
    try:
        seal_own_guess(asked.desk.book, run.id)
    except InputError as error:
        fault = error.faults[0]
        words = {"value": (f"cannot be guessed by the program ({fault.key}): {fault.wrong}", fault.right)}
        return step_page(asked, run, here, asked.desk.book.values("run", run.id), words)
    return go("step", run=run.id, step="guesses", done="sealed")
