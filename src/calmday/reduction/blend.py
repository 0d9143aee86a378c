"""Several series of readings, each with its doubt, brought to the drive's samples and combined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

HOUR_S = 3600.0


def at_times(reading_time_s: Sequence[float], values: Sequence[float], time_s: FloatArray) -> FloatArray:
    """Readings at the drive's samples: straight lines between them, held before the first and after the
    last.
    """
    times = np.asarray(reading_time_s, dtype=np.float64)
    return np.interp(time_s, times, np.asarray(values, dtype=np.float64))


def time_variance(reading_time_s: Sequence[float], time_s: FloatArray, *, per_hour: float, most: float) -> FloatArray:
    """Variance that has grown since the nearest readings: a random walk of variance `per_hour`, held below
    `most`.

    Beyond the ends it grows with the time gone by; between two readings it is that of a walk tied down at
    both, (t - a)(b - t)/(b - a).
    """
    times = np.asarray(reading_time_s, dtype=np.float64)
    outside = np.maximum(times[0] - time_s, 0.0) + np.maximum(time_s - times[-1], 0.0)
    grown = outside
    if times.size > 1:
        right = np.clip(np.searchsorted(times, time_s), 1, times.size - 1)
        a, b = times[right - 1], times[right]
        inside = np.clip(time_s, a, b)
        span = np.where(b > a, b - a, 1.0)
        grown = outside + (inside - a) * (b - inside) / span
    return np.asarray(np.minimum(grown / HOUR_S * per_hour, most))


def weights_of(variances: Sequence[FloatArray]) -> list[FloatArray]:
    """Inverse-variance weights of several estimates of one quantity; they sum to 1 at every sample."""
    inverse = [1.0 / np.maximum(variance, 1e-12) for variance in variances]
    total = np.sum(inverse, axis=0)
    return [np.asarray(one / total) for one in inverse]


def weighted(estimates: Sequence[FloatArray], weights: Sequence[FloatArray]) -> FloatArray:
    """Weighted mean of several estimates, sample by sample."""
    return np.asarray(np.sum([e * w for e, w in zip(estimates, weights, strict=True)], axis=0))


def mean_of(values: FloatArray, empty: float = 0.0) -> float:
    """Mean over the drive; `empty` for a drive without samples."""
    return float(values.mean()) if values.size else empty
