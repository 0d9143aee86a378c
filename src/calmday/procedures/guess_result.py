"""What a guess board holds: the result as `calmday guesses --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/guesses/1"
Seal = Literal["holds", "broken", "none"]


class GuessRow(msgspec.Struct, frozen=True, kw_only=True):
    """One guess. `place` 1 for the nearest, shared by those equally near; `error` guess less result in the unit of the
    board, `off_by` what the rule counts, in `off_unit`; `nearest` part of the draws of the result in which this guess
    is the nearest; `within` whether it lies inside the result's 95 %; `own` true for the program's own guess."""

    place: int
    by: str
    as_entered: str
    L_per_100km: float
    mpg_us: float
    mpg_imp: float
    shown: float
    error: float
    off_by: float
    nearest: float
    within: bool
    seal: Seal
    digest: str
    salt: str
    own: bool


class Crowd(msgspec.Struct, frozen=True, kw_only=True):
    """All guesses but the program's own, in the unit of the board. `spread` one standard deviation, null for a single
    guess; `beats` how many single guesses are further off than their common middle, the median."""

    count: int
    median: float
    mean: float
    spread: float | None
    lowest: float
    highest: float
    median_error: float
    beats: int


class OtherRule(msgspec.Struct, frozen=True, kw_only=True):
    """Who would stand where under another rule: names by place, and whether any place would differ."""

    rule: str
    order: tuple[str, ...]
    differs: bool


class GuessBoard(msgspec.Struct, frozen=True, kw_only=True):
    """A guess board. `figure` what was guessed at, `result` its value in the unit of the board.

    `declared` when unit and rule were declared, "" for not at all; `in_time` whether that was before the guesses were
    opened, null: not known.
    """

    schema: str = SCHEMA
    label: str
    vehicle: str
    sentence: str
    figure: str
    result: Figure
    L_per_100km: Figure
    mpg_us: Figure
    mpg_imp: Figure
    unit: str
    rule: str
    off_unit: str
    declared: str
    in_time: bool | None
    guesses: tuple[GuessRow, ...]
    crowd: Crowd | None
    other_rules: tuple[OtherRule, ...]
    flags: tuple[Flag, ...] = ()
    provenance: Provenance


class OwnGuess(msgspec.Struct, frozen=True, kw_only=True):
    """The program's own guess, made without any weighing: `text` as it is sealed; `basis` what it rests on."""

    schema: str = "calmday/own-guess/1"
    text: str
    L_per_100km: Figure
    mpg_us: Figure
    mpg_imp: Figure
    basis: str
    sentence: str
