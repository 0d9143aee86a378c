"""A straight line through points by least squares, its doubt by Student's t."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from calmday.metrology.student import two_sided_t

FloatArray = NDArray[np.float64]


class LineFit(msgspec.Struct, frozen=True, kw_only=True):
    """y = intercept + slope x. `covariance` (2, 2) of both from the residuals; `scatter` their standard deviation."""

    intercept: float
    slope: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    scatter: float
    freedom: int

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line and its standard uncertainty."""
        (a, b), (_, d) = self.covariance
        return self.intercept + self.slope * x, math.sqrt(max(a + 2 * b * x + d * x * x, 0.0))

    def reach(self, coverage: float = 0.95) -> float:
        """Coverage factor of an interval."""
        return two_sided_t(coverage, self.freedom)


def fit_line(x: ArrayLike, y: ArrayLike) -> LineFit | None:
    """The line; None with fewer than three points or without spread in x. JCGM 100:2008, H.3, eq. H.13."""
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    n = xs.size
    if n < 3 or not np.ptp(xs) > 1e-9 * max(float(np.abs(xs).max()), 1.0):
        return None
    centre = float(xs.mean())
    squares = float(((xs - centre) ** 2).sum())
    slope = float(((xs - centre) * ys).sum()) / squares
    intercept = float(ys.mean()) - slope * centre
    residuals = ys - intercept - slope * xs
    variance = float((residuals**2).sum()) / (n - 2)
    by_slope = variance / squares
    return LineFit(
        intercept=intercept,
        slope=slope,
        covariance=(
            (variance / n + centre * centre * by_slope, -centre * by_slope),
            (-centre * by_slope, by_slope),
        ),
        scatter=math.sqrt(variance),
        freedom=n - 2,
    )
