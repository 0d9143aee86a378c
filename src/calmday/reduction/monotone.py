"""A smooth curve through points that only rise, which itself only rises."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def rising_slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Slopes at the points, so that the cubic between them never turns back.

    Weighted harmonic means of the neighbouring chords; Fritsch and Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300;
    at the ends the chord itself, which keeps the condition of Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17, 238.
    `x` rising strictly, `y` never falling.
    """
    width, chord = np.diff(x), np.diff(y) / np.diff(x)
    slopes = np.empty_like(y)
    slopes[0], slopes[-1] = chord[0], chord[-1]
    before, after = width[:-1], width[1:]
    first, second = before + 2 * after, 2 * before + after
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        inner = (first + second) / (first / chord[:-1] + second / chord[1:])
    slopes[1:-1] = np.where((chord[:-1] > 0) & (chord[1:] > 0), inner, 0.0)
    return slopes


def rising_curve(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """The curve at places; NaN outside the points."""
    slopes = rising_slopes(x, y)
    place = np.clip(np.searchsorted(x, at, side="right") - 1, 0, x.size - 2)
    width = x[place + 1] - x[place]
    t = (at - x[place]) / width
    square, cube = t * t, t**3
    value = (
        (2 * cube - 3 * square + 1) * y[place]
        + (cube - 2 * square + t) * width * slopes[place]
        + (3 * square - 2 * cube) * y[place + 1]
        + (cube - square) * width * slopes[place + 1]
    )
    return np.asarray(np.where((at < x[0]) | (at > x[-1]), np.nan, value))
