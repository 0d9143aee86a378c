"""Smoothing of a motion seen through noise: Singer's acceleration model, heavy tails on both sides.

Each coordinate's acceleration decays towards zero with a time constant and is kicked anew every second (Singer 1970,
IEEE Trans. AES 6, 473). Kicks and measurement errors both follow Student's t, so that a wild fix does not bend the
track and a sharp corner is not cut; their sizes are found from the data by expectation maximisation (Lange, Little,
Taylor 1989, J. Am. Stat. Assoc. 84, 881). Position, speed and acceleration and their covariance come from one banded
normal matrix.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction import block_tridiagonal
from calmday.reduction.spline import FloatArray, Grid, IntArray, Rows, add_rows, from_blocks, to_blocks

_LEAST_KICK = 1e-14
_KICK_FREEDOM = 1.5
"""Kicks have far heavier tails than noise: long steady stretches, sudden corners."""
_FREEDOM = 4.0
"""Degrees of freedom of the t distributions (Lange et al. 1989 recommend 4 where nothing is known)."""


class Measured(msgspec.Struct, frozen=True):
    """Measurements of one kind: functionals of the spline, values (n, axes), relative variance of each, a first guess
    of their common variance, and whether that is to be found from the data. `weight` how far each is believed."""

    rows: Rows
    value: FloatArray
    relative_variance: FloatArray
    variance: float
    estimate: bool
    weight: FloatArray
    floor: float = 1e-4
    robust: bool = True


class Prior(msgspec.Struct, frozen=True):
    """What is known beforehand: how far the second derivative persists, and the spread of the first slope."""

    persistence: float
    first_slope_sd: float


VEHICLE = Prior(persistence=8.0, first_slope_sd=60.0)
"""A vehicle's acceleration lasts some seconds (assumed: a gear, a bend, a braking); slope in m/s."""


class Fit(msgspec.Struct, frozen=True):
    """A smoothed motion: coefficients (size, axes), the band of their covariance (per axis), what was learnt."""

    grid: Grid
    coefficients: FloatArray
    band: FloatArray
    variances: tuple[float, ...]
    weights: tuple[FloatArray, ...]
    kick_variance: float
    kick_weight: FloatArray

    def at(self, rows: Rows) -> FloatArray:
        """Values of functionals, (rows, axes)."""
        return rows.of(self.coefficients)

    def variance_of(self, rows: Rows) -> FloatArray:
        """Their variances, the same for each axis."""
        return rows.variance(self.band)


def kick_rows(grid: Grid, persistence: float) -> Rows:
    """The change of acceleration over each step that its decay does not explain: a(k+1) - phi a(k)."""
    stretch, step = grid.steps()
    phi = math.exp(-grid.step_s / persistence)
    weight = np.array([-phi, 1 + 2 * phi, -2 - phi, 1.0]) / grid.step_s**2
    return Rows(grid.offsets[stretch] + step, np.broadcast_to(weight, (step.size, 4)))


def smooth(
    grid: Grid,
    measured: list[Measured],
    kick_variance: float,
    passes: int,
    kick_weight: FloatArray | None = None,
    estimate_kick: bool = True,
    prior: Prior = VEHICLE,
) -> Fit:
    """Fit one spline per axis to the measurements; all axes share weights and covariance.

    `kick_variance` first guess of the variance of the acceleration kicks per step [unit^2]; `passes` rounds of
    reweighting before the last solution.
    """
    kicks = kick_rows(grid, prior.persistence)
    kick_w = np.ones(kicks.first.size) if kick_weight is None else kick_weight
    variances = [m.variance for m in measured]
    weights = [m.weight for m in measured]
    for round_ in range(passes + 1):
        band, rhs = _measurements(grid, measured, variances, weights)
        _add_prior(band, rhs, grid, prior, kicks, kick_variance, kick_w)
        diagonal, upper = to_blocks(band)
        solution = block_tridiagonal.solve(diagonal, upper, rhs.reshape(diagonal.shape[0], 3, -1))
        coefficients = solution.x.reshape(grid.size, -1)
        band = from_blocks(solution.diagonal, solution.upper)
        if round_ == passes:
            break
        for i, m in enumerate(measured):
            variances[i], weights[i] = _learn(m, variances[i], weights[i], coefficients, band)
        if estimate_kick and kicks.first.size:
            kick_variance, kick_w = _learn_kicks(kicks, kick_variance, coefficients, band)
    return Fit(grid, coefficients, band, tuple(variances), tuple(weights), kick_variance, kick_w)


def _measurements(
    grid: Grid, measured: list[Measured], variances: list[float], weights: list[FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Normal equations of the measurements alone: band (size, 4) and right-hand side (size, axes)."""
    band = np.zeros((grid.size, 4))
    rhs = np.zeros((grid.size, measured[0].value.shape[1]))
    band[grid.used :, 0] = 1.0
    for m, variance, weight in zip(measured, variances, weights, strict=True):
        add_rows(band, rhs, m.rows, weight / (variance * m.relative_variance), m.value)
    return band, rhs


def _add_prior(
    band: FloatArray,
    rhs: FloatArray,
    grid: Grid,
    prior: Prior,
    kicks: Rows,
    kick_variance: float,
    kick_weight: FloatArray,
) -> None:
    add_rows(band, rhs, kicks, kick_weight / kick_variance, None)
    stretches = np.arange(grid.intervals.size)
    none = np.zeros(stretches.size)
    steady = kick_variance / (1 - math.exp(-2 * grid.step_s / prior.persistence))
    for derivative, variance in ((1, prior.first_slope_sd**2), (2, 4 * steady)):
        first = grid.rows(stretches, stretches * 0, none, derivative)
        add_rows(band, rhs, first, np.full(stretches.size, 1 / variance), None)


def _learn(
    m: Measured, variance: float, weight: FloatArray, coefficients: FloatArray, band: FloatArray
) -> tuple[float, FloatArray]:
    """One expectation-maximisation step for a measurement's variance and the weights of its fixes."""
    if not m.robust and not m.estimate:
        return variance, weight
    axes = m.value.shape[1]
    rest = ((m.value - m.rows.of(coefficients)) ** 2).sum(axis=1) + axes * m.rows.variance(band)
    rest /= m.relative_variance
    if m.robust:
        weight = (_FREEDOM + axes) / (_FREEDOM + rest / variance)
    if m.estimate and rest.size:
        variance = max(float((weight * rest).sum() / (axes * weight.sum())), m.floor)
    return variance, weight


def _learn_kicks(kicks: Rows, variance: float, coefficients: FloatArray, band: FloatArray) -> tuple[float, FloatArray]:
    axes = coefficients.shape[1]
    square = (kicks.of(coefficients) ** 2).sum(axis=1) + axes * kicks.variance(band)
    weight = (_KICK_FREEDOM + axes) / (_KICK_FREEDOM + square / variance)
    return max(float((weight * square).sum() / (axes * square.size)), _LEAST_KICK), weight


def grid_for(time_s: FloatArray, stretch: IntArray, step_s: float = 1.0) -> Grid:
    """An even grid over each stretch, from its first fix to just past its last."""
    count = int(stretch[-1]) + 1
    first = np.searchsorted(stretch, np.arange(count), side="left")
    last = np.searchsorted(stretch, np.arange(count), side="right") - 1
    span = (time_s[last] - time_s[first]) / step_s
    return Grid.over(step_s, time_s[first], np.maximum(1, np.ceil(span - 1e-3)).astype(np.int64))


def ones(count: int) -> NDArray[np.float64]:
    """Full belief in each of `count` measurements."""
    return np.ones(count)
