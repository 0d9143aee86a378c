"""Guesses opened beside the result: how far each was off, by litres."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import msgspec

from calmday.metrology.units import QuantityError, parse_consumption
from calmday.reports.charts.units import consumption_in
from calmday.reports.words import number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from calmday.logbook.records import Guess, Value
    from calmday.procedures.weighed_run_result import RunResult

_PLACE = re.compile(r"prediction\[(\d+)\]\.value")


class GuessRow(msgspec.Struct, frozen=True, kw_only=True):
    """One guess: as said, in litres, and its seal where it was sealed."""

    by: str
    text: str
    litres: str
    digest: str
    salt: str
    distance: float


def guess_rows(result: RunResult, sealed: Sequence[Guess], values: Mapping[str, Value]) -> tuple[GuessRow, ...]:
    """The opened guesses, nearest first."""
    by_words = {(guess.by, guess.text): guess for guess in sealed if guess.opened_at}
    rows = []
    for key, value in values.items():
        place = _PLACE.fullmatch(key)
        if place is None or value.text is None:
            continue
        said = values.get(f"prediction[{place[1]}].by")
        by = (said.text or "") if said is not None else ""
        litres = _litres(value.text, result)
        guess = by_words.get((by, value.text))
        rows.append(
            GuessRow(
                by=by,
                text=value.text,
                litres=number(litres, 1),
                digest=guess.digest if guess else "",
                salt=guess.salt if guess else "",
                distance=abs(litres - result.as_driven.L_per_100km.value),
            )
        )
    return tuple(sorted(rows, key=lambda row: row.distance))


def guess_rule() -> str:
    """The rule by which guesses are put in order."""
    return (
        "Nearest first by litres over the same distance, against the figure as driven. "
        "By miles per gallon the order can differ."
    )


def _litres(text: str, result: RunResult) -> float:
    try:
        value, unit = parse_consumption(text)
    except QuantityError:
        return math.nan
    return consumption_in(value, unit, "L_per_100km", result.as_driven)
