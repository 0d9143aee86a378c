"""The verbs about guesses. The command line, the page and the Python interface call these."""

from __future__ import annotations

import secrets
from pathlib import Path

import msgspec

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, SeenFiles
from calmday.files.run_file import run_of
from calmday.files.toml_line import text_line
from calmday.metrology.units import QuantityError, parse_consumption
from calmday.operations.weighed_run import reduce_file
from calmday.procedures.guess_board import guess_board
from calmday.procedures.guess_result import GuessBoard, OwnGuess
from calmday.procedures.own_guess import own_guess
from calmday.procedures.weighed_run import DEFAULT_DRAWS, DEFAULT_SEED
from calmday.procedures.weighed_run_result import RunResult
from calmday.records.run import Guessing, Prediction, Run
from calmday.records.seal import digest_of
from calmday.reports.guess_sentence import guess_headline, own_guess_headline

__all__ = ["GuessBoard", "OwnGuess", "board_of", "guess_board_file", "own_guess_file", "own_guess_of", "sealed_table"]


def board_of(
    result: RunResult,
    predictions: tuple[Prediction, ...],
    guessing: Guessing | None,
    *,
    declared: str = "",
    in_time: bool | None = None,
) -> GuessBoard:
    """The board of a run that has been reduced."""
    plain = guess_board(result, predictions, guessing, result.provenance, declared=declared, in_time=in_time)
    return msgspec.structs.replace(plain, sentence=guess_headline(plain))


def guess_board_file(path: Path | str, *, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED) -> GuessBoard:
    """Reduce a run file and rank the guesses in it. Raises InputError, also where nobody guessed."""
    reduction = reduce_file(path, draws, seed)
    run = reduction.weighed.run
    if not run.predictions:
        raise InputError.one(
            str(path), "prediction", "is missing", 'a [[prediction]] table with by and value such as "34 mpg US"'
        )
    return board_of(reduction.result, run.predictions, run.guessing)


def own_guess_file(path: Path | str, *, seed: int = DEFAULT_SEED, name: str | None = None) -> OwnGuess:
    """The program's own guess of a run file whose fuel has not been weighed yet. Raises InputError."""
    place, file = Path(path), name or str(path)
    seen = SeenFiles(place.parent)
    run = run_of(FolderFiles(place.parent, seen).document(place.name, file), file, place.stem, before_weighing=True)
    return own_guess_of(run, file, seed)


def own_guess_of(run: Run, where: str, seed: int = DEFAULT_SEED) -> OwnGuess:
    """The program's own guess of a run in memory. Raises InputError where it was weighed, or its speed is unknown."""
    if any(weighing.when == "after" for weighing in run.weighings) or run.fills:
        raise InputError.one(
            where,
            "prediction",
            "comes after the fuel was weighed",
            "a guess made before",
        )
    found = own_guess(run, seed)
    if found is None:
        raise InputError.one(
            where,
            "guessing.speed",
            "is missing, and there is no track yet",
            'the speed you mean to hold, such as speed = "60 km/h" under [guessing]',
        )
    return msgspec.structs.replace(found, sentence=own_guess_headline(found))


def sealed_table(text: str, by: str, where: str = "guess") -> tuple[str, str]:
    """A guess sealed: its digest, to be shown now, and the [[prediction]] table, to be kept to oneself until opened.

    Raises InputError where it is no consumption, or nobody's.
    """
    if not by.strip():
        raise InputError.one(where, "--by", "lacks a name", "who guesses")
    if not all(part.isprintable() for part in (by, text)):
        raise InputError.one(where, "--seal", "is not one line of text", 'such as "34 mpg US"')
    try:
        parse_consumption(text)
    except QuantityError as error:
        raise InputError.one(where, "--seal", error.wrong, error.right) from error
    salt = secrets.token_hex(16)
    digest = digest_of(salt, by, text.strip())
    rows = {"by": by, "value": text.strip(), "salt": salt, "digest": digest}
    lines = [text_line(key, value) for key, value in rows.items()]
    return digest, "\n".join(["[[prediction]]", *lines, ""])
