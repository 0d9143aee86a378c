"""Long series made short enough to draw, with every extreme kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def kept_samples(x: FloatArray, y: FloatArray, pitch: float) -> IntArray:
    """Samples to draw of a line: of every stretch of `pitch` along x the first, lowest, highest and last.

    `x` ascending (ties allowed); samples where either is NaN are kept as they are, so that the line breaks there.
    """
    size = x.size
    if size < 3:
        return np.arange(size)
    finite = np.isfinite(x) & np.isfinite(y)
    bins = np.full(size, -1, dtype=np.int64)
    bins[finite] = np.floor(x[finite] / pitch).astype(np.int64)
    edges = np.flatnonzero(np.diff(bins)) + 1
    starts = np.concatenate([[0], edges])
    stops = np.concatenate([edges, [size]])
    group = np.repeat(np.arange(starts.size), stops - starts)
    rank = np.lexsort((np.where(finite, y, 0.0), group))
    found = np.concatenate([starts, stops - 1, rank[starts], rank[stops - 1]])
    return np.unique(found)


def outline(
    x: FloatArray, low: FloatArray, high: FloatArray, pitch: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A band thinned to one place per `pitch`: x, the least of `low`, the greatest of `high` there; NaN kept apart."""
    if x.size < 3:
        return x, low, high
    finite = np.isfinite(x) & np.isfinite(low) & np.isfinite(high)
    bins = np.full(x.size, -1, dtype=np.int64)
    bins[finite] = np.floor(x[finite] / pitch).astype(np.int64)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(bins)) + 1])
    count = np.diff(np.concatenate([starts, [x.size]]))
    unknown = ~finite[starts]
    middle = np.where(unknown, np.nan, np.add.reduceat(np.where(finite, x, 0.0), starts) / count)
    lowest = np.where(unknown, np.nan, np.minimum.reduceat(np.where(finite, low, 0.0), starts))
    highest = np.where(unknown, np.nan, np.maximum.reduceat(np.where(finite, high, 0.0), starts))
    return middle, lowest, highest


def known_runs(*series: FloatArray) -> list[tuple[int, int]]:
    """Starts and stops of the stretches where every series is known."""
    known = np.logical_and.reduce([np.isfinite(one) for one in series])
    edges = np.diff(np.concatenate([[False], known, [False]]).astype(np.int8))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))
