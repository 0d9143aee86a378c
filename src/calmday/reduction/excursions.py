"""Fixes that jump aside together and back again within seconds: a reflected signal, not a drive.

A single wild fix is caught by the robust smoother. Several in a row with the same offset look to it like a vehicle that
was really there; what gives them away is the pair of equal and opposite jumps that no vehicle could make.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.middle import median

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LONGEST_EXCURSION_S = 10.0
"""Longer ones, a vehicle may have driven."""

_SMALLEST_JUMP_M = 12.0
_NOISE_MULTIPLE = 7.0
_CLOSING_SHARE = 0.4
_LONGEST_STEP_S = 5.0
_MAD_PER_SD = 0.6745
_WINDOW = 5


def excursions(time_s: FloatArray, east_m: FloatArray, north_m: FloatArray) -> BoolArray:
    """True for fixes that belong to an excursion; all arrays (n,), times ascending.

    A step's jump is its displacement less the middle velocity of the five steps around it (no jump under steady
    acceleration). Two jumps within `LONGEST_EXCURSION_S` that undo each other enclose an excursion.
    """
    count = time_s.size
    aside = np.zeros(count, dtype=bool)
    if count < _WINDOW + 2:
        return aside
    step = np.diff(time_s)
    jump = np.stack([_less_steady(np.diff(east_m), step), _less_steady(np.diff(north_m), step)], axis=1)
    size = np.hypot(jump[:, 0], jump[:, 1])
    limit = max(_SMALLEST_JUMP_M, _NOISE_MULTIPLE * median(size) / _MAD_PER_SD)
    suspects = np.flatnonzero((size > limit) & (step <= _LONGEST_STEP_S)).tolist()
    done = -1
    for place, first in enumerate(suspects):
        if first <= done:
            continue
        for last in suspects[place + 1 :]:
            if time_s[last + 1] - time_s[first] > LONGEST_EXCURSION_S + step[first]:
                break
            left = np.hypot(*(jump[first] + jump[last]))
            if left < _CLOSING_SHARE * max(size[first], size[last]):
                aside[first + 1 : last + 1] = True
                done = last
                break
    return aside


def _less_steady(displacement_m: FloatArray, step_s: FloatArray) -> FloatArray:
    """Displacement less what the middle velocity of the steps around it would have given."""
    velocity = displacement_m / step_s
    padded = np.pad(velocity, _WINDOW // 2, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)
    return np.asarray(displacement_m - np.sort(around, axis=1)[:, _WINDOW // 2] * step_s)
