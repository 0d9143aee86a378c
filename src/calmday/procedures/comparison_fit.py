"""Levels of several runs, the doubt they share, and a scatter that is not known: the exact answer for few runs.

y = X b + a + e with a ~ N(0, A) known, e ~ N(0, s^2 I), flat in b, s believed to follow a scaled inverse chi-squared.
For each s everything is normal (generalised least squares); s itself is averaged over on a fine grid in ln s, with
  p(s | y)  proportional to  p(s) |V|^-1/2 |X'V^-1 X|^-1/2 exp(-r'V^-1 r / 2),   V = A + s^2 I
(Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 14; from memory). Without A and with nothing believed of s this is
Student's t exactly, whatever the number of runs.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.normal_mixture import NormalMixture

FloatArray = NDArray[np.float64]

_GRID = 640
_NEGLIGIBLE = 1e-15


class ScatterBelief(msgspec.Struct, frozen=True, kw_only=True):
    """What is believed of the run-to-run scatter before the runs: `centre` (ln units) worth `freedom` degrees of
    freedom. `freedom` 0: nothing; infinite: the centre is taken as known."""

    centre: float
    freedom: float


NOTHING = ScatterBelief(centre=0.01, freedom=0.0)


class Fit(msgspec.Struct, frozen=True, kw_only=True):
    """The posterior on the grid of scatters `scatter` (g,): `weight` (g,), `mean` (g, p), `covariance` (g, p, p).

    `freedom` n - p of the runs themselves. At the typical scatter: `residual` (n,), `own` (n,) the part of it put down
    to the run's own scatter, `gain` (p, n) with estimate = gain @ y.
    """

    scatter: FloatArray
    weight: FloatArray
    mean: FloatArray
    covariance: FloatArray
    freedom: int
    residual: FloatArray
    own: FloatArray
    gain: FloatArray
    belief: ScatterBelief

    def along(self, direction: FloatArray) -> NormalMixture:
        """The distribution of direction @ b."""
        variance = np.einsum("i,gij,j->g", direction, self.covariance, direction)
        return NormalMixture(self.weight, self.mean @ direction, np.sqrt(np.maximum(variance, 0.0)))

    @property
    def typical_scatter(self) -> float:
        """Root mean square of the scatter in the precision sense: 1 / sqrt(mean of 1/s^2)."""
        return float(1.0 / math.sqrt(self.weight @ self.scatter**-2.0))

    def scatter_quantile(self, probability: float) -> float:
        """A quantile of the scatter."""
        if len(self.scatter) == 1:
            return float(self.scatter[0])
        below = np.cumsum(self.weight) - 0.5 * self.weight
        return float(np.exp(np.interp(probability, below, np.log(self.scatter))))


def fit_levels(y: FloatArray, design: FloatArray, shared: FloatArray, belief: ScatterBelief) -> Fit:
    """Fit the columns of `design` (n, p) to the levels `y` (n,) with known covariance `shared` (n, n).

    Raises ValueError where the columns cannot be told apart, or where there are no runs to spare and nothing is
    believed of the scatter.
    """
    n, p = design.shape
    if np.linalg.matrix_rank(design) < p:
        raise ValueError("the columns of the design cannot be told apart")
    if n == p and belief.freedom == 0.0:
        raise ValueError("no run to spare: the scatter can only be believed")
    own, turn = np.linalg.eigh(shared)
    own = np.maximum(own, 0.0)
    y_turned, x_turned = turn.T @ y, turn.T @ design
    own_sd = _own_sd(design, shared)
    scatter = _grid(y, design, own_sd, belief)
    variance = own[None, :] + scatter[:, None] ** 2
    precision = np.einsum("ni,gn,nj->gij", x_turned, 1.0 / variance, x_turned)
    covariance = np.linalg.inv(precision)
    right = np.einsum("ni,gn,n->gi", x_turned, 1.0 / variance, y_turned)
    mean = np.einsum("gij,gj->gi", covariance, right)
    left = y_turned[None, :] - mean @ x_turned.T
    misfit = np.sum(left**2 / variance, axis=1)
    log_weight = -0.5 * (np.log(variance).sum(axis=1) + np.linalg.slogdet(precision)[1] + misfit)
    log_weight += _log_belief(scatter, own_sd, belief)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    counts = weight > _NEGLIGIBLE
    found = Fit(
        scatter=scatter[counts], weight=weight[counts], mean=mean[counts], covariance=covariance[counts], freedom=n - p,
        residual=np.zeros(n), own=np.zeros(n), gain=np.zeros((p, n)), belief=belief,
    )  # fmt: skip
    at = np.linalg.inv(shared + found.typical_scatter**2 * np.eye(n))
    gain = np.linalg.solve(design.T @ at @ design, design.T @ at)
    residual = y - design @ (gain @ y)
    return msgspec.structs.replace(found, gain=gain, residual=residual, own=found.typical_scatter**2 * (at @ residual))


def _own_sd(design: FloatArray, shared: FloatArray) -> float:
    """Root mean square of that part of the known doubt that looks like scatter: about a common level and the design."""
    n = len(shared)
    basis = np.linalg.qr(np.column_stack([np.ones(n), design]))[0]
    basis = basis[:, : np.linalg.matrix_rank(np.column_stack([np.ones(n), design]))]
    left = np.eye(n) - basis @ basis.T
    spare = n - basis.shape[1]
    return math.sqrt(max(float(np.trace(left @ shared)), 0.0) / spare) if spare else 0.0


def _grid(y: FloatArray, design: FloatArray, own_sd: float, belief: ScatterBelief) -> FloatArray:
    """Scatters that matter, evenly in the logarithm. The upper end lets a lone degree of freedom have its long tail."""
    if math.isinf(belief.freedom):
        return np.array([belief.centre])
    n, p = design.shape
    left = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    seen = math.sqrt(float(left @ left) / max(n - p, 1))
    middle = max(seen, belief.centre if belief.freedom else 0.0, own_sd, 1e-6)
    smallest = (
        min(x for x in (seen if n > p else 0.0, belief.centre if belief.freedom else 0.0, own_sd) if x > 0)
        if max(seen if n > p else 0.0, belief.centre if belief.freedom else 0.0, own_sd) > 0
        else 1e-6
    )
    total = n - p + belief.freedom
    low = smallest / 30.0 if own_sd == 0.0 else min(smallest, own_sd) / 300.0
    high = middle * math.exp(min(36.0 / total, 40.0) + 1.0)
    count = int(min(4000, max(_GRID, 24 * math.log(high / low))))
    return np.exp(np.linspace(math.log(max(low, 1e-9)), math.log(high), count))


def _log_belief(scatter: FloatArray, own_sd: float, belief: ScatterBelief) -> FloatArray:
    """ln of the prior density of ln s. Nothing believed: flat in the logarithm of what scatters in all, the known
    doubt included."""
    if math.isinf(belief.freedom):
        return np.zeros_like(scatter)
    if belief.freedom == 0.0:
        return np.log(scatter**2 / (scatter**2 + own_sd**2)) if own_sd > 0.0 else np.zeros_like(scatter)
    return -belief.freedom * np.log(scatter) - 0.5 * belief.freedom * (belief.centre / scatter) ** 2
