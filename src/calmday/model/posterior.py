"""Posterior draws of any number of standard-normal scores given residuals in units of their own spread.

Scores z ~ N(0, I); evidence as whitened residuals r(z), log-likelihood -|r|^2/2.
 1. Gauss-Newton finds the most probable z; J = dr/dz there; precision A = I + J'J.
 2. Draws from N(mode, A^-1) are weighted by the target over that normal and resampled (importance resampling). Exact as
    the number of draws grows; Kish's effective number says how much the curvature left to put right.
 3. Where that number is small, every draw is moved a few times: z' = mode + c (z - mode) + sqrt(1 - c^2) xi, xi from
    N(0, A^-1), accepted with the ratio of the weights. The step leaves N(mode, A^-1) as it is, so the ratio is that of
    Metropolis and Hastings (preconditioned Crank-Nicolson; Cotter et al. 2013, Statist. Sci. 28, 424; from memory).
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal

FloatArray = NDArray[np.float64]
Residuals = Callable[[FloatArray], FloatArray]
"""Scores (m, k) -> whitened residuals (m, n)."""

_STEP = 0.05
_PASSES = 8
_CLOSE = 1e-3
_MOVE_KEEPS = 0.6
_MOST_MOVES = 16
_FORGOTTEN = 0.1
"""What may be left of a draw's start when its moves end."""
ENOUGH_SHARE = 0.3
"""Below this share of effective draws, draws are moved."""


class Posterior(msgspec.Struct, frozen=True, kw_only=True):
    """Equally weighted posterior draws `scores` (m, k) and how they were got.

    `mode` (k,) most probable scores; `slope` (n, k) of the residuals there; `covariance` (k, k) of the normal about it;
    `effective_draws` (Kish) after weighting; `moves` how often draws were moved, `accepted` share of moves taken (1
    where none were needed).
    """

    scores: FloatArray
    mode: FloatArray
    slope: FloatArray
    covariance: FloatArray
    residual: FloatArray
    effective_draws: float
    moves: int
    accepted: float

    @property
    def memory(self) -> float:
        """What the moves have left of where each draw started: 1 where none were made."""
        return float(_MOVE_KEEPS ** (self.moves * self.accepted))

    @property
    def sound(self) -> bool:
        """Whether the tails of a 95 % interval may be read: enough draws carry weight, or all were moved enough."""
        return self.effective_draws >= ENOUGH_SHARE * len(self.scores) or self.memory <= 2 * _FORGOTTEN


class Peak(msgspec.Struct, frozen=True, kw_only=True):
    """Most probable scores `mode` (k,), residuals (n,) and their slope (n, k) there, covariance (k, k) about it."""

    mode: FloatArray
    residual: FloatArray
    slope: FloatArray
    covariance: FloatArray


def slope_of(residuals: Residuals, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residuals (n,) at one point and their central-difference slope (n, k)."""
    steps = _STEP * np.eye(at.size)
    found = residuals(np.concatenate([at[None], at + steps, at - steps]))
    return found[0], ((found[1 : at.size + 1] - found[at.size + 1 :]) / (2 * _STEP)).T


def peak(residuals: Residuals, size: int, start: FloatArray | None = None, passes: int = _PASSES) -> Peak:
    """Most probable scores by Gauss-Newton with halved steps where a full one would climb."""
    mode = np.zeros(size) if start is None else start
    value, slope = slope_of(residuals, mode)
    cost = float(mode @ mode + value @ value)
    for _ in range(passes):
        precision = np.eye(size) + slope.T @ slope
        step = np.asarray(-np.linalg.solve(precision, mode + slope.T @ value), dtype=np.float64)
        mode, moved, cost = _lowered(residuals, mode, step, cost)
        value, slope = slope_of(residuals, mode)
        if moved < _CLOSE:
            break
    covariance: FloatArray = np.asarray(np.linalg.inv(np.eye(size) + slope.T @ slope))
    return Peak(mode=mode, residual=value, slope=slope, covariance=covariance)


def _lowered(residuals: Residuals, mode: FloatArray, step: FloatArray, cost: float) -> tuple[FloatArray, float, float]:
    """The best of the full step and its halves; the point itself where none goes down."""
    tried = [mode + step * 0.5**k for k in range(5)]
    values = residuals(np.stack(tried))
    costs = [float(z @ z + r @ r) for z, r in zip(tried, values, strict=True)]
    best = int(np.argmin(costs))
    if costs[best] >= cost:
        return mode, 0.0, cost
    return tried[best], float(np.abs(tried[best] - mode).max()), costs[best]


def drawn(residuals: Residuals, top: Peak, draws: int, seed: int, linear: int | None = None) -> Posterior:
    """Posterior draws about a peak, weighted, resampled, and moved where few carry weight.

    `linear` a column in which all residuals are exactly linear: it is integrated out of the weights and drawn from its
    exact normal given the others, as `model.conditioning` does with the indicated efficiency.
    """
    size = top.mode.size
    aside = _Aside(residuals, top, linear)
    root = np.linalg.cholesky(top.covariance[np.ix_(aside.rest, aside.rest)])
    mode = top.mode[aside.rest]
    xi = standard_normal(draws, mode.size, seed)
    rest = mode + xi @ root.T
    cost, middle = aside.cost(rest)
    weights = 0.5 * (np.sum(xi**2, axis=1) - cost)
    share = np.exp(weights - weights.max())
    share /= share.sum()
    effective = float(1 / np.sum(share**2))
    generator = np.random.Generator(np.random.PCG64([seed, 1]))
    picked = systematic(share, draws, generator)
    rest, xi, weights, middle = rest[picked], xi[picked], weights[picked], middle[picked]
    moves = 0
    taken: list[float] = []
    weak = effective < ENOUGH_SHARE * draws
    while weak and moves < _MOST_MOVES and _MOVE_KEEPS ** sum(taken) > _FORGOTTEN:
        fresh = _MOVE_KEEPS * xi + np.sqrt(1 - _MOVE_KEEPS**2) * generator.standard_normal(xi.shape)
        asked = mode + fresh @ root.T
        cost, found = aside.cost(asked)
        new = 0.5 * (np.sum(fresh**2, axis=1) - cost)
        yes = np.log(generator.random(draws)) < new - weights
        rest, xi = np.where(yes[:, None], asked, rest), np.where(yes[:, None], fresh, xi)
        weights, middle = np.where(yes, new, weights), np.where(yes, found, middle)
        taken.append(float(yes.mean()))
        moves += 1
    scores = np.empty((draws, size))
    scores[:, aside.rest] = rest
    if linear is not None:
        scores[:, linear] = middle + aside.spread * generator.permutation(standard_normal(draws, 1, seed + 1)[:, 0])
    return Posterior(
        scores=scores, mode=top.mode, slope=top.slope, covariance=top.covariance, residual=top.residual,
        effective_draws=effective, moves=moves, accepted=float(np.mean(taken)) if taken else 1.0,
    )  # fmt: skip


class _Aside:
    """The target with one exactly linear column integrated out; `rest` the other columns."""

    def __init__(self, residuals: Residuals, top: Peak, linear: int | None) -> None:
        self._residuals, self._size, self._linear = residuals, top.mode.size, linear
        self.rest = np.array([k for k in range(self._size) if k != linear])
        self._slope = np.zeros(len(top.residual)) if linear is None else top.slope[:, linear]
        self._precision = 1 + float(self._slope @ self._slope)
        self.spread = self._precision**-0.5

    def cost(self, rest: FloatArray) -> tuple[FloatArray, FloatArray]:
        """-2 ln of the target of the other columns (m, size - 1), and the mean of the linear one given them."""
        scores = np.zeros((len(rest), self._size))
        scores[:, self.rest] = rest
        found = self._residuals(scores)
        along = found @ self._slope
        cost = np.sum(rest**2, axis=1) + np.sum(found**2, axis=1) - along**2 / self._precision
        return np.asarray(cost), np.asarray(-along / self._precision)


def systematic(weight: FloatArray, count: int, generator: np.random.Generator) -> NDArray[np.int64]:
    """Systematic resampling to `count`: each draw appears floor or ceil of its expected number of times."""
    edges = np.cumsum(weight)
    edges[-1] = 1.0
    return np.searchsorted(edges, (generator.random() + np.arange(count)) / count).astype(np.int64)
