"""Cubic splines on an even time grid, one coefficient per second, for any number of separate stretches.

A cubic spline has a continuous acceleration that is linear between grid times; that is as much as a vehicle's motion
holds at 1 Hz, and measurements may fall anywhere between grid times at no cost.
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_BLOCK = 3
_PAIRS = tuple((a, b) for a in range(4) for b in range(a, 4))


class Rows(msgspec.Struct, frozen=True):
    """Linear functionals of the spline: row r is sum over a of `weight[r, a]` times coefficient `first[r] + a`."""

    first: IntArray
    weight: FloatArray

    def of(self, coefficients: FloatArray) -> FloatArray:
        """Values of the functionals, shape (rows, columns of `coefficients`)."""
        total = self.weight[:, :1] * coefficients.take(self.first, axis=0)
        for a in range(1, 4):
            total += self.weight[:, a : a + 1] * coefficients.take(self.first + a, axis=0)
        return total

    def variance(self, band: FloatArray) -> FloatArray:
        """Variances of the functionals from the band of the coefficients' covariance, shape (rows,)."""
        total = np.zeros(self.first.size)
        for a, b in _PAIRS:
            twice = 1.0 if a == b else 2.0
            total += twice * self.weight[:, a] * self.weight[:, b] * band[self.first + a, b - a]
        return total

    def part(self, chosen: NDArray[np.bool_] | IntArray) -> Rows:
        """Some of the rows."""
        return Rows(self.first[chosen], self.weight[chosen])


class Grid(msgspec.Struct, frozen=True):
    """Grid of `step_s`: stretch g starts at `start_s[g]`, has `intervals[g]` steps and coefficients from `offsets[g]`.

    `used` coefficients in all, an interval more needs one more and a stretch three to begin with; `size` with those
    that fill up the last block.
    """

    step_s: float
    start_s: FloatArray
    intervals: IntArray
    offsets: IntArray
    used: int
    size: int

    @classmethod
    def over(cls, step_s: float, start_s: FloatArray, intervals: IntArray) -> Grid:
        """A grid of so many steps from each start."""
        counts = intervals + 3
        used = int(counts.sum())
        return cls(step_s, start_s, intervals, np.cumsum(counts) - counts, used, -(-used // _BLOCK) * _BLOCK)

    def knots(self) -> tuple[IntArray, IntArray]:
        """Stretch and step number of every grid time."""
        counts = self.intervals + 1
        stretch = np.repeat(np.arange(counts.size), counts)
        first = np.cumsum(counts) - counts
        return stretch, np.arange(stretch.size) - first[stretch]

    def steps(self) -> tuple[IntArray, IntArray]:
        """Stretch and step number of every interval between grid times."""
        stretch = np.repeat(np.arange(self.intervals.size), self.intervals)
        first = np.cumsum(self.intervals) - self.intervals
        return stretch, np.arange(stretch.size) - first[stretch]

    def rows(self, stretch: IntArray, step: IntArray, fraction: FloatArray, derivative: int) -> Rows:
        """Value (0) or derivative (1, 2) of the spline at `step + fraction` of a stretch."""
        over = np.maximum(step - self.intervals[stretch] + 1, 0)  # the last grid time ends the last interval
        weight = basis(fraction + over, derivative) / self.step_s**derivative
        return Rows(self.offsets[stretch] + step - over, weight)

    def locate(self, time_s: FloatArray, stretch: IntArray) -> tuple[IntArray, FloatArray]:
        """Step number and fraction of a step of times inside their stretch."""
        u = (time_s - self.start_s[stretch]) / self.step_s
        step = np.minimum(u.astype(np.int64), self.intervals[stretch] - 1)
        return step, u - step


def basis(fraction: FloatArray, derivative: int) -> FloatArray:
    """The four uniform cubic B-splines (or derivatives per step) that live at `fraction` of a step."""
    f = fraction
    g = 1 - f
    out = np.empty((f.size, 4))
    if derivative == 0:
        out[:, 0] = g**3 / 6
        out[:, 1] = (3 * f**3 - 6 * f**2 + 4) / 6
        out[:, 2] = (3 * g**3 - 6 * g**2 + 4) / 6
        out[:, 3] = f**3 / 6
    elif derivative == 1:
        out[:, 0] = -(g**2) / 2
        out[:, 1] = (3 * f**2 - 4 * f) / 2
        out[:, 2] = -(3 * g**2 - 4 * g) / 2
        out[:, 3] = f**2 / 2
    else:
        out[:, 0] = g
        out[:, 1] = 3 * f - 2
        out[:, 2] = 3 * g - 2
        out[:, 3] = f
    return out


def add_rows(band: FloatArray, rhs: FloatArray, rows: Rows, information: FloatArray, value: FloatArray | None) -> None:
    """Add measured functionals to normal equations: `information` 1/variance, `value` (rows, columns) or None for 0."""
    size = band.shape[0]
    weights = np.ascontiguousarray(rows.weight.T)
    for a in range(4):
        place, weighted = rows.first + a, information * weights[a]
        for b in range(a, 4):
            band[:, b - a] += np.bincount(place, weighted * weights[b], size)
    if value is None:
        return
    for column in range(rhs.shape[1]):
        weighted = information * value[:, column]
        for a in range(4):
            rhs[:, column] += np.bincount(rows.first + a, weighted * weights[a], size)


def to_blocks(band: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Diagonal and right-hand blocks of the banded normal matrix."""
    rows = band.reshape(-1, _BLOCK, 4)
    count = rows.shape[0]
    diagonal = np.empty((count, _BLOCK, _BLOCK))
    upper = np.zeros((count - 1, _BLOCK, _BLOCK))
    for r in range(_BLOCK):
        for d in range(4):
            if r + d < _BLOCK:
                diagonal[:, r, r + d] = diagonal[:, r + d, r] = rows[:, r, d]
            else:
                upper[:, r, r + d - _BLOCK] = rows[:-1, r, d]
    return diagonal, upper


def from_blocks(diagonal: FloatArray, upper: FloatArray) -> FloatArray:
    """Band (size, 4) of a covariance from its blocks: entry [i, d] is the covariance of coefficients i and i + d."""
    count = diagonal.shape[0]
    band = np.zeros((count, _BLOCK, 4))
    for r in range(_BLOCK):
        for d in range(4):
            if r + d < _BLOCK:
                band[:, r, d] = diagonal[:, r, r + d]
            else:
                band[:-1, r, d] = upper[:, r, r + d - _BLOCK]
    return band.reshape(-1, 4)
