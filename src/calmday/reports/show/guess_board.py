"""Who guessed what: the board of guesses once the can has been weighed."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import msgspec

from calmday.reports.charts.units import consumption_in
from calmday.reports.sheet import Column, Table
from calmday.reports.show.document import Section
from calmday.reports.words import clean, is_known, number

if TYPE_CHECKING:
    from calmday.procedures.weighed_run_result import RunResult
    from calmday.records.run import Run

ON_PAGE: Final = 6
RULE: Final = (
    "Nearest first by litres over the same distance, against the figure as driven. By miles per gallon the order can"
    " differ."
)


class GuessLine(msgspec.Struct, frozen=True, kw_only=True):
    """One guess: as said, in L/100 km, and how far off; `seal` the start of its digest where it was sealed."""

    by: str
    said: str
    litres: float
    off: float
    seal: str = ""


def guess_lines(result: RunResult, run: Run, seals: Mapping[tuple[str, str], str] = {}) -> tuple[GuessLine, ...]:
    """The guesses of a run, nearest first. `seals` digest by who and what was said."""
    driven = result.as_driven
    if not is_known(driven.L_per_100km):
        return ()
    lines = []
    for guess in run.predictions:
        if not (math.isfinite(guess.value) and guess.value > 0):
            continue
        litres = consumption_in(guess.value, guess.unit, "L_per_100km", driven)
        lines.append(
            GuessLine(
                by=clean(guess.by) or "somebody",
                said=clean(guess.as_entered),
                litres=litres,
                off=abs(litres - driven.L_per_100km.value),
                seal=seals.get((guess.by, guess.as_entered), "")[:12],
            )
        )
    return tuple(sorted(lines, key=lambda line: line.off))


def guess_section(result: RunResult, run: Run, seals: Mapping[tuple[str, str], str]) -> Section | None:
    """The board: the nearest guesses and the middle of them all."""
    lines = guess_lines(result, run, seals)
    if not lines:
        return None
    rows = [
        (str(place), line.by, line.said, number(line.litres, 1), number(line.off, 1))
        for place, line in enumerate(lines[:ON_PAGE], start=1)
    ]
    columns = (
        Column("", "right"), Column("who", wrap=True), Column("said", wrap=True), Column("L/100 km", "right"),
        Column("off by", "right"),
    )  # fmt: skip
    middle = statistics.median(line.litres for line in lines)
    more = f" {len(lines) - ON_PAGE} more guessed." if len(lines) > ON_PAGE else ""
    sealed = sum(bool(line.seal) for line in lines)
    seal = f" {sealed} of {len(lines)} were sealed before the weighing." if sealed else ""
    crowd = f"Middle of {len(lines)} guesses: {number(middle, 1)} L/100 km.{more}{seal} " if len(lines) > 2 else seal
    note = f"{crowd}{RULE}".strip()
    return Section(
        title="Who guessed best", blocks=(Table(title="", columns=columns, rows=tuple(rows), note=note),), rank=4
    )
