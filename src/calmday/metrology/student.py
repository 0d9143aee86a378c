"""Student's t distribution without a statistics library: importing one costs more than a whole reduction."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final

_NORMAL = NormalDist()
_TINY: Final = 1e-300
_SERIES_FROM: Final = 1000.0
"""From here the expansion about the normal quantile is exact to 1e-13; the beta function loses digits
instead.
"""


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of the incomplete beta function, modified Lentz. DLMF 8.17.22."""
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > _TINY else _TINY)
    total = d
    for m in range(1, 2000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 + term * d
            c = 1.0 + term / c
            d = 1.0 / (d if abs(d) > _TINY else _TINY)
            c = c if abs(c) > _TINY else _TINY
            step = c * d
            total *= step
        if abs(step - 1.0) < 1e-15:
            break
    return total


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), 0 <= x <= 1. DLMF 8.17."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, 1.0 - x) / b


def t_upper_tail(t: float, freedom: float) -> float:
    """P(T > t) for Student's t with `freedom` degrees of freedom (real, > 0; infinite: the normal). DLMF
    8.17.7.
    """
    if math.isinf(freedom):
        return 0.5 * math.erfc(t / math.sqrt(2.0))
    if abs(t) <= 1.0:  # the complement keeps the digits near the middle
        half = 0.5 * incomplete_beta(0.5, 0.5 * freedom, t * t / (freedom + t * t))
        return 0.5 - half if t >= 0.0 else 0.5 + half
    tail = 0.5 * incomplete_beta(0.5 * freedom, 0.5, freedom / (freedom + t * t))
    return tail if t > 0.0 else 1.0 - tail


def t_density(t: float, freedom: float) -> float:
    """Probability density of Student's t."""
    log_front = math.lgamma(0.5 * (freedom + 1.0)) - math.lgamma(0.5 * freedom)
    log_front -= 0.5 * math.log(freedom * math.pi)
    return math.exp(log_front - 0.5 * (freedom + 1.0) * math.log1p(t * t / freedom))


def _about_normal(z: float, freedom: float) -> float:
    """Quantile by the expansion in 1/nu about the normal quantile. Abramowitz and Stegun 26.7.5."""
    z2 = z * z
    g1 = z * (z2 + 1) / 4
    g2 = z * ((5 * z2 + 16) * z2 + 3) / 96
    g3 = z * (((3 * z2 + 19) * z2 + 17) * z2 - 15) / 384
    g4 = z * ((((79 * z2 + 776) * z2 + 1482) * z2 - 1920) * z2 - 945) / 92160
    return z + (g1 + (g2 + (g3 + g4 / freedom) / freedom) / freedom) / freedom


def t_quantile(probability: float, freedom: float) -> float:
    """Quantile of Student's t: the t with P(T <= t) = `probability`, 0 < probability < 1, freedom real > 0.

    Newton steps inside a bracket on the incomplete beta function; agrees with published tables to all digits
    and with an independent library to 1e-11 relative.
    """
    if not 0.0 < probability < 1.0 or not freedom > 0.0:
        raise ValueError(f"needs 0 < probability < 1 and freedom > 0, got {probability} and {freedom}")
    if probability < 0.5:
        return -t_quantile(1.0 - probability, freedom)
    if probability == 0.5:
        return 0.0
    z = _NORMAL.inv_cdf(probability)
    if freedom >= _SERIES_FROM:
        return z if math.isinf(freedom) else _about_normal(z, freedom)
    tail = 1.0 - probability
    low, high = 0.0, max(_about_normal(z, freedom), 1.0)
    while t_upper_tail(high, freedom) > tail:
        low, high = high, 2.0 * high
    t = 0.5 * (low + high)
    for _ in range(200):
        excess = t_upper_tail(t, freedom) - tail
        low, high = (t, high) if excess > 0.0 else (low, t)
        slope = t_density(t, freedom)
        step = t + excess / slope if slope > 0.0 else math.inf
        following = step if low < step < high else 0.5 * (low + high)
        if abs(following - t) <= 1e-14 * following:
            return following
        t = following
    return t


def two_sided_t(coverage: float, freedom: float) -> float:
    """Coverage factor for a symmetric interval, e.g. 2.12 for 95 % and 16 degrees of freedom. JCGM 100, Table
    G.2.
    """
    return t_quantile(0.5 * (1.0 + coverage), freedom)
