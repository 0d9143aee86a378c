"""A setting varied over several runs: fuel as a quadratic in the setting, the best setting and how flat it is about it.

ln(fuel) = a + b x + c x^2 (+ temperature); the best is x* = -b / 2c, its doubt by propagation: the slope of x* to b and
c. The exact interval holds every x at which the slope of the curve, b + 2 c x, cannot be told from zero (Fieller's
argument); where that has no ends, the words beside the best say so. A setting is "equal" where the curve lies above its
lowest point by less than its own doubt. Whether the setting matters at all:
F of the two terms together. Box and Draper, Empirical Model-Building and Response Surfaces (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure
from calmday.metrology.student import two_sided_t
from calmday.metrology.two_samples import f_upper_tail
from calmday.procedures.comparison_result import Sweep, SweepPoint

FloatArray = NDArray[np.float64]

FEWEST_RUNS = 5
_CURVE_POINTS = 41


def fit_sweep(setting: Sequence[float], level: FloatArray, beside: FloatArray, unit: str) -> Sweep:
    """Fit a quadratic. `setting` (n,) in `unit`, `level` (n,) ln of fuel per distance, `beside` (n, q) further columns
    (temperature, drift), centred. Raises ValueError with fewer than three settings or no run to spare."""
    x = np.asarray(setting, dtype=np.float64)
    n = len(x)
    settings = np.unique(x)
    middle = 0.5 * (float(settings[0]) + float(settings[-1]))
    reach = 0.5 * (float(settings[-1]) - float(settings[0]))
    columns = 3 + beside.shape[1]
    if len(settings) < 3 or n - columns < 1:
        raise ValueError("a sweep needs three settings and a run to spare")
    u = (x - middle) / reach
    design = np.column_stack([np.ones(n), u, u * u, beside])
    estimate, inverse, squares = _least_squares(design, level)
    freedom = n - columns
    variance = squares / freedom
    smaller = _least_squares(np.column_stack([np.ones(n), beside]), level)[2]
    f = (smaller - squares) / 2 / variance if variance > 0 else math.inf
    covariance = inverse * variance
    t = two_sided_t(0.95, freedom)
    best, sd, bounded = _best(estimate, covariance, t)
    within = best is not None and abs(best) <= 1.0
    lowest = best if within and best is not None else (-1.0 if _height(estimate, -1) < _height(estimate, 1) else 1.0)
    curve = tuple(
        _point(float(v), lowest, estimate, covariance, t, middle, reach, 0) for v in np.linspace(-1, 1, _CURVE_POINTS)
    )
    fine = [_point(float(v), lowest, estimate, covariance, t, middle, reach, 0) for v in np.linspace(-1, 1, 401)]
    equal = [point.setting for point in fine if point.equal]
    points = tuple(
        _point((s - middle) / reach, lowest, estimate, covariance, t, middle, reach, int(np.sum(x == s)))
        for s in settings.tolist()
    )
    figure = None
    if best is not None and within:
        figure = Figure(
            middle + reach * best, reach * sd, middle + reach * (best - t * sd), middle + reach * (best + t * sd), unit
        )
    band = _band(figure, equal, settings)
    return Sweep(
        unit=unit,
        best=figure,
        best_words=_words(best, within, bounded),
        equal_from=band[0],
        equal_to=band[1],
        f_statistic=f,
        probability=f_upper_tail(f, 2, freedom) if math.isfinite(f) else 0.0,
        scatter_percent=100 * math.sqrt(variance),
        points=points,
        curve=curve,
    )


def _least_squares(design: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    inverse = np.asarray(np.linalg.inv(design.T @ design), dtype=np.float64)
    estimate = inverse @ design.T @ y
    left = y - design @ estimate
    return estimate, inverse, float(left @ left)


def _height(estimate: FloatArray, u: float) -> float:
    return float(estimate[1] * u + estimate[2] * u * u)


def _best(estimate: FloatArray, covariance: FloatArray, t: float) -> tuple[float | None, float, bool]:
    """Lowest point of the curve, its standard uncertainty, and whether the exact interval has two ends."""
    b, c = float(estimate[1]), float(estimate[2])
    if c <= 0:
        return None, math.inf, False
    best = -b / (2 * c)
    slope = np.array([-1 / (2 * c), b / (2 * c * c)])
    sd = math.sqrt(max(float(slope @ covariance[1:3, 1:3] @ slope), 0.0))
    # (b + 2 c x)^2 = t^2 (Vbb + 4 x Vbc + 4 x^2 Vcc) has two roots about x* where c itself is told from zero
    return best, sd, c * c > t * t * float(covariance[2, 2])


def _point(
    u: float,
    lowest: float,
    estimate: FloatArray,
    covariance: FloatArray,
    t: float,
    middle: float,
    reach: float,
    runs: int,
) -> SweepPoint:
    """The curve at one setting above its lowest point. That point is itself fitted, so the doubt of the difference is
    that of the curve between the two, with the lowest point where it was found."""
    direction = np.zeros(len(estimate))
    direction[1], direction[2] = u - lowest, u * u - lowest * lowest
    value = float(direction @ estimate)
    sd = math.sqrt(max(float(direction @ covariance @ direction), 0.0))
    figure = Figure(
        100 * math.expm1(value), 100 * sd, 100 * math.expm1(value - t * sd), 100 * math.expm1(value + t * sd), "%"
    )
    return SweepPoint(setting=middle + reach * u, above_best_percent=figure, runs=runs, equal=value - t * sd <= 0.0)


def _band(figure: Figure | None, equal: Sequence[float], settings: FloatArray) -> tuple[float, float]:
    """Settings that are the same to us: the interval of the best where there is one, else those not told from it."""
    low, high = float(settings[0]), float(settings[-1])
    if figure is not None:
        return max(low, figure.low), min(high, figure.high)
    return (min(equal), max(equal)) if equal else (low, high)


def _words(best: float | None, within: bool, bounded: bool) -> str:
    if best is None:
        return "The curve bends the wrong way: no best setting can be read from it."
    if not within:
        side = "below the lowest" if best < 0 else "above the highest"
        return f"The curve is still falling at the end: its lowest point lies {side} setting tried."
    if not bounded:
        return "The lowest point of the fitted curve, if the curve bends at all: that much is not proven."
    return "The lowest point of the fitted curve."
