"""From values to places: linear scales with ticks of 1, 2 or 5 times a power of ten."""

from __future__ import annotations

import math
from collections.abc import Iterable

import msgspec

from calmday.metrology.rounding import format_to


def nice_step(span: float, most: int) -> float:
    """The smallest step of 1, 2 or 5 times a power of ten that cuts `span` into at most `most` pieces."""
    if not (math.isfinite(span) and span > 0):
        return 1.0
    raw = span / max(most, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    for multiple in (1.0, 2.0, 5.0, 10.0):
        if multiple * power >= raw * (1 - 1e-9):
            return multiple * power
    return 10 * power


def step_decimals(step: float) -> int:
    """Decimal places at which steps of a scale differ."""
    return max(0, -math.floor(math.log10(step) + 1e-9))


def ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values within [low, high], at most `most` + 1 of them."""
    step = nice_step(high - low, most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(index * step for index in range(first, last + 1))


def readable_ticks(low: float, high: float, most: int) -> tuple[tuple[float, ...], float]:
    """Ticks and their step: about `most` pieces, and finer where fewer than two ticks would be left."""
    for pieces in range(most, most + 4):
        step = nice_step(high - low, pieces)
        values = ticks(low, high, pieces)
        if len(values) >= 2:
            break
    return values, step


def tick_label(value: float, step: float) -> str:
    """A tick as text, with a true minus sign."""
    text = format_to(value, step_decimals(step), grouped=True)
    return text.lstrip("−") if not text.strip("−0.") else text


class Scale(msgspec.Struct, frozen=True):
    """Linear from values `low`..`high` to places `start`..`stop` (either way round)."""

    low: float
    high: float
    start: float
    stop: float

    def __call__(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.stop - self.start)


def known(values: Iterable[float]) -> list[float]:
    """Those values that are finite."""
    return [value for value in values if math.isfinite(value)]


def extent(values: Iterable[float], *, zero: bool = False, pad: float = 0.05) -> tuple[float, float]:
    """The range of the finite values with a little room; never empty. `zero`: reaching to zero, no room beyond it."""
    found = known(values)
    if not found:
        return 0.0, 1.0
    low, high = min(found), max(found)
    if zero:
        low, high = min(low, 0.0), max(high, 0.0)
    if high - low <= 1e-9 * max(abs(low), abs(high), 1e-9):
        room = 0.5 * abs(high) or 1.0
        return (low, high + room) if zero and low >= 0 else (low - room, high + room)
    room = pad * (high - low)
    return (low if zero and low == 0 else low - room), (high if zero and high == 0 else high + room)
