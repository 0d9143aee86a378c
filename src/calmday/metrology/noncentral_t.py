"""The power of a t-test: noncentral t without a statistics library."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.student import two_sided_t

FloatArray = NDArray[np.float64]

_NORMAL = NormalDist()
_POINTS = 1201


@lru_cache(maxsize=64)
def _scales(freedom: float) -> tuple[FloatArray, FloatArray]:
    """Nodes s = sqrt(chi-squared / freedom) and weights of its distribution: trapezoid in ln s, which converges
    exponentially because the integrand dies away at both ends."""
    if math.isinf(freedom):
        return np.ones(1), np.ones(1)
    reach = 40.0 / freedom + 9.0 / math.sqrt(2.0 * freedom)
    u = np.linspace(-reach, min(reach, 9.0 / math.sqrt(2.0 * freedom) + 1.0), _POINTS)
    density = freedom * u - 0.5 * freedom * np.exp(2.0 * u)
    weight = np.exp(density - density.max())
    return np.exp(u), weight / weight.sum()


def _normal_cdf(x: FloatArray) -> FloatArray:
    return np.array([_NORMAL.cdf(float(value)) for value in x])


def power(shift: float, freedom: float, coverage: float = 0.95) -> float:
    """Chance that a two-sided t-test at 1 - `coverage` sees a true difference of `shift` standard errors.

    P(|T'| > t) for noncentral t with noncentrality `shift`: the mean over the chi distribution of
    Phi(shift - t s) + Phi(-shift - t s). Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 2, ch. 31
    (from memory).
    """
    t = two_sided_t(coverage, freedom)
    s, weight = _scales(freedom)
    return float(weight @ (_normal_cdf(shift - t * s) + _normal_cdf(-shift - t * s)))


def detectable_shift(freedom: float, wanted: float = 0.8, coverage: float = 0.95) -> float:
    """True difference, in standard errors, that such a test sees with probability `wanted`."""
    low, high = 0.0, 4.0
    while power(high, freedom, coverage) < wanted:
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if power(middle, freedom, coverage) < wanted else (low, middle)
        if high - low < 1e-9 * high:
            break
    return 0.5 * (low + high)
