"""Uncertainty budgets: independent contributions, their sum and their shares."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def root_sum_of_squares(standard_uncertainties: Iterable[float]) -> float:
    """Combined standard uncertainty of independent contributions, in their unit. JCGM 100:2008, eq. 10."""
    return math.hypot(*standard_uncertainties)


def variance_shares(standard_uncertainties: Sequence[float]) -> tuple[float, ...]:
    """Share of each independent contribution in the combined variance [1]; they sum to 1, or to 0."""
    largest = max((abs(u) for u in standard_uncertainties), default=0.0)
    if largest == 0.0:
        return tuple(0.0 for _ in standard_uncertainties)
    squares = [(u / largest) ** 2 for u in standard_uncertainties]  # scaled: tiny ones would underflow
    total = math.fsum(squares)
    return tuple(square / total for square in squares)


def covariance_shares(contributions: FloatArray) -> FloatArray:
    """Share of each additive contribution in the variance of their sum [1], from draws of shape (draws,
    parts).

    share_i = cov(part_i, sum) / var(sum): sums to 1 also where the parts are correlated; a part that offsets
    another has a negative share.
    """
    parts = np.asarray(contributions, dtype=np.float64)
    centred = parts - parts.mean(axis=0)
    total = centred.sum(axis=1)
    variance = float(total @ total)
    if variance == 0.0:
        return np.zeros(parts.shape[1])
    return np.asarray(centred.T @ total / variance)
