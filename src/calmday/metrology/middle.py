"""The median, without what numpy loads for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def median(values: ArrayLike) -> float:
    """The middle value, or the mean of the middle two; NaN for nothing and where anything is NaN.

    Equal to `np.median` of all values, which first loads numpy's masked arrays: a tenth of a whole short reduction.
    """
    flat = np.asarray(values, dtype=np.float64).ravel()
    if flat.size == 0:
        return float("nan")
    upper = flat.size // 2
    lower = (flat.size - 1) // 2
    ordered = np.partition(flat, [lower, upper, -1])
    if np.isnan(ordered[-1]):  # sorted last
        return float("nan")
    return float(0.5 * (ordered[lower] + ordered[upper]))
