"""Numbers as charts print them, shorter than a sheet's where room is dear."""

from __future__ import annotations

import math

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.words import NOT_KNOWN, Interval, amount, is_known, number, short

_MOST_DECIMALS = 4


def brief(figure: Interval, factor: float = 1.0, *, most_decimals: int = _MOST_DECIMALS, signed: bool = False) -> str:
    """The value alone, rounded to its give-or-take: 7.53 known to 0.3 is `7.5`."""
    value, half = factor * figure.value, abs(factor) * (figure.high - figure.low) / 2
    if not math.isfinite(value):
        return NOT_KNOWN
    known = math.isfinite(half) and half > 0
    text = number(value, min(decimals_for_half_width(half), most_decimals)) if known else short(value)
    return f"+{text}" if signed and value > 0 and text.strip("0.") else text


def in_plain_words(figure: Interval, words: str) -> str:
    """`7.5 L/100 km, give or take 0.3`, as a screen reader says it."""
    if not is_known(figure):
        return NOT_KNOWN
    text = amount(figure)
    if " ± " not in text:
        return f"{text} {words}".strip()
    value, half = text.split(" ± ")
    return f"{value} {words}, give or take {half}"
