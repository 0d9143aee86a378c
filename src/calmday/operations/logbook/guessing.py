"""Guesses in the logbook: the program's own, sealed before the weigh-in, and the board once they lie open."""

from __future__ import annotations

from collections.abc import Mapping

from calmday.errors import InputError
from calmday.files.guess_tables import guessing, predictions
from calmday.files.run_file import run_of
from calmday.files.toml_table import FaultList, Table
from calmday.logbook import Guess, Logbook, Value
from calmday.logbook.guesses import SCORING
from calmday.operations.guesses import GuessBoard, OwnGuess, board_of, own_guess_of
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import result_of
from calmday.records.run import Run
from calmday.records.seal import MODEL_NAME
from calmday.reports.json_result import readable

__all__ = ["guess_board_logged", "seal_own_guess"]


def guess_board_logged(book: Logbook, run_id: str) -> GuessBoard:
    """The board of a run from its newest result. Raises InputError where there is no result, or no guess lies open."""
    stored = book.results(run_id, whole=True)
    if not stored:
        raise InputError.one(book.where, "result", "is missing", "the run worked out first")
    faults = FaultList(book.where)
    table = Table(book.tables("run", run_id), faults)
    told, scoring = predictions(table), guessing(table)
    faults.raise_any()
    if not told:
        raise InputError.one(book.where, "prediction", "lies open nowhere", "guesses sealed before the weigh-in")
    declared, in_time = declaration(book.values("run", run_id), book.predictions(run_id))
    result = readable(result_of, stored[0])
    if result is None:
        raise InputError.one(book.where, "result", "was kept in another form by another version", "it worked out anew")
    return board_of(result, told, scoring, declared=declared, in_time=in_time)


def declaration(values: Mapping[str, Value], guesses: tuple[Guess, ...]) -> tuple[str, bool | None]:
    """When unit and rule were declared, and whether that was before the first guess was opened (None: not known)."""
    times = [values[key].at for key in SCORING if key in values and values[key].text]
    if not times:
        return "", None
    opened = [guess.opened_at for guess in guesses if guess.opened_at]
    return max(times), max(times) <= min(opened) if opened else None


def seal_own_guess(book: Logbook, run_id: str) -> tuple[Guess, OwnGuess]:
    """Let the program guess a run and seal it like any other guess. Raises InputError after the weigh-in."""
    made = own_guess_of(run_before_weighing(book, run_id), book.where)
    return book.seal_prediction(run_id, made.text, MODEL_NAME, own=True), made


def run_before_weighing(book: Logbook, run_id: str) -> Run:
    """A run of the logbook as far as it is known before its fuel is weighed."""
    rendered = rendered_of(book, run_id)
    named, _ = for_readers(book, rendered)
    return run_of(named, rendered.name, "run", before_weighing=True)
