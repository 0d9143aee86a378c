"""A figure of a result: value, standard uncertainty, 95 % interval, unit."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.middle import quantiles

FloatArray = NDArray[np.float64]

COVERAGE = 0.95
_TAILS = ((1 - COVERAGE) / 2, (1 + COVERAGE) / 2)


class Figure(msgspec.Struct, frozen=True):
    """One number of a result with its doubt. `low` and `high` bound the 95 % coverage interval.

    Where a number carries no doubt (a count, a reference speed) `standard_uncertainty` is 0 and the bounds equal it.
    """

    value: float
    standard_uncertainty: float
    low: float
    high: float
    unit: str

    @property
    def half_width(self) -> float:
        """Half the width of the 95 % interval."""
        return (self.high - self.low) / 2

    def scaled(self, factor: float, unit: str) -> Figure:
        """The same figure in another unit: new = factor x old."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Figure(self.value * factor, abs(factor) * self.standard_uncertainty, low, high, unit)


def exact(value: float, unit: str) -> Figure:
    """A figure without doubt."""
    return Figure(float(value), 0.0, float(value), float(value), unit)


def from_draws(draws: FloatArray, unit: str) -> Figure:
    """Read value, standard uncertainty and 95 % interval off equally weighted draws, shape (m,), m >= 1.

    The value is the mean, the interval is probabilistically symmetric (JCGM 101:2008, 7.6 and 7.7). Draws that are
    not finite make the whole figure NaN rather than a quietly narrower one.
    """
    if draws.size == 0 or not np.isfinite(draws).all():
        return Figure(math.nan, math.nan, math.nan, math.nan, unit)
    spread = float(draws.std(ddof=1)) if draws.size > 1 else 0.0
    low, high = quantiles(draws, _TAILS)
    return Figure(float(draws.mean()), spread, low, high, unit)


def middle_of(draws: FloatArray, unit: str) -> Figure:
    """As `from_draws`, but the value is the middle draw: half lie above, half below.

    For what is expected before anything is measured: such draws are skewed, and a few large ones draw the mean up.
    """
    figure = from_draws(draws, unit)
    return msgspec.structs.replace(figure, value=quantiles(draws, (0.5,))[0]) if math.isfinite(figure.value) else figure


def from_normal(value: float, standard_uncertainty: float, unit: str) -> Figure:
    """A figure whose distribution is normal; k = 1.959964 (JCGM 100:2008, G.1.3)."""
    reach = 1.959963984540054 * standard_uncertainty
    return Figure(float(value), float(standard_uncertainty), value - reach, value + reach, unit)
