"""Condition the vehicle on what was weighed: posterior draws with a statement of their quality.

Scores z ~ N(0, I); weighed fuel w = ln m; model w = f(z) + e, e ~ N(0, s^2) the run-to-run factor nobody explains.
One score, that of the indicated efficiency, enters f exactly linearly (f = g(rest) - b z_e) and is integrated out.
 1. Gauss-Newton finds the most probable z given w and the slope J of f there.
 2. Prior draws and a draw of the weighed mass w are tied together along the line: z = z0 + K (w - f_lin(z0) - e0),
    K = J' / (J J' + s^2): exact when f is linear (Matheron's rule; Journel and Huijbregts 1978).
 3. Importance weights p(w | rest) / p_lin(w | rest), both normal with variance b^2 + s^2, put right what is not linear;
    z_e is then drawn from its exact conditional. Kish's effective number of draws says how much was left to put right;
    draws are resampled to equal weights (systematic resampling).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

RUN_TO_RUN_SD = 0.012
"""Unexplained scatter of one run of a lone vehicle on one day: 1 to 2 % (SAE J1321 with a control vehicle +-1 %)."""

BETWEEN_DAYS_SD = 0.04
"""Unexplained scatter of a lone vehicle's fuel from one day and road to another: 4 % across days, trade. It
stands between runs that teach each other, on the one that learns as on those that teach, and not within one alone:
there the doubt of the engine's class holds it."""
LEARNING_SD = math.hypot(RUN_TO_RUN_SD, BETWEEN_DAYS_SD)
"""What a run scatters about what other tests of the vehicle say of its fuel."""

_STEP = 0.05
_PASSES = 4


class Conditioned(msgspec.Struct, frozen=True, kw_only=True):
    """Posterior draws. `scores` (m, k) equally weighted; `picked` (m,) which row of the input draws each one is;
    `modelled` (m,) ln fuel of each draw;
    `slope` (k,) d ln(fuel)/dz at the most probable scores `mode`; `gain` (k,) how far each score follows the weighing;
    `expected`, `expected_sd` of ln fuel before the weighing; `effective_draws` (Kish) behind
    them.
    """

    scores: FloatArray
    picked: IntArray
    modelled: FloatArray
    mode: FloatArray
    slope: FloatArray
    gain: FloatArray
    expected: float
    expected_sd: float
    effective_draws: float

    @property
    def sound(self) -> bool:
        """Whether enough draws carry weight for the tails of a 95 % interval to be read."""
        return self.effective_draws >= max(200.0, 0.2 * len(self.scores))


def slope_at(model: Callable[[FloatArray], FloatArray], scores: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Value and central-difference slope of each model output at one point: shapes (q,) and (k, q)."""
    size = scores.size
    steps = np.concatenate([np.zeros((1, size)), _STEP * np.eye(size), -_STEP * np.eye(size)])
    values = model(scores + steps)
    values = values.reshape(len(values), -1)
    return values[0], (values[1 : size + 1] - values[size + 1 :]) / (2 * _STEP)


def condition(
    model: Callable[[FloatArray], FloatArray],
    prior_scores: FloatArray,
    run_scores: FloatArray,
    log_fuel: FloatArray,
    seed: int,
    linear: int,
    run_sd: float = RUN_TO_RUN_SD,
    keep: int | None = None,
) -> Conditioned:
    """Posterior draws of the scores given draws of the weighed fuel.

    `model`: scores (r, k) -> ln fuel (r,), exactly linear in column `linear`. `prior_scores` (m, k), `run_scores` (m,)
    standard normal; `log_fuel` (m,) draws of the logarithm of the weighed mass. `keep`: how many draws to return, m by
    default.
    """
    weighed = float(np.mean(log_fuel))
    weighed_sd = float(np.std(log_fuel))
    size = prior_scores.shape[1]
    mode = np.zeros(size)
    at_zero, slope0 = slope_at(model, mode)
    value, slope = at_zero, slope0
    for _ in range(_PASSES):
        j = slope[:, 0]
        noise = run_sd**2 + weighed_sd**2
        target = weighed - (value[0] - j @ mode)
        mode = j * target / (j @ j + noise)
        value, slope = slope_at(model, mode)
    j = slope[:, 0]
    intercept = value[0] - j @ mode
    gain = j / (j @ j + run_sd**2)
    expected_sd = float(np.sqrt(slope0[:, 0] @ slope0[:, 0] + run_sd**2))

    b = j[linear]
    both = b**2 + run_sd**2
    tied = prior_scores + np.outer(log_fuel - intercept - prior_scores @ j - run_sd * run_scores, gain)
    rest = tied.copy()
    rest[:, linear] = 0.0
    modelled = model(rest)
    log_weight = 0.5 * ((log_fuel - intercept - rest @ j) ** 2 - (log_fuel - modelled) ** 2) / both
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    kept = len(weight) if keep is None else keep
    picked = _systematic(weight, kept, seed)

    own = run_scores[picked] * b / np.sqrt(both) - prior_scores[picked, linear] * run_sd / np.sqrt(both)
    scores = rest[picked]
    scores[:, linear] = b * (log_fuel - modelled)[picked] / both - run_sd / np.sqrt(both) * own
    return Conditioned(
        scores=scores,
        picked=picked,
        modelled=modelled[picked] + b * scores[:, linear],
        mode=mode,
        slope=j,
        gain=gain,
        expected=float(at_zero[0]),
        expected_sd=expected_sd,
        effective_draws=min(float(1 / np.sum(weight**2)), float(kept)),
    )


def _systematic(weight: FloatArray, count: int, seed: int) -> IntArray:
    """Systematic resampling to `count`: each draw appears floor or ceil of its expected number of times."""
    start = np.random.Generator(np.random.PCG64([seed, 1])).random()
    edges = np.cumsum(weight)
    edges[-1] = 1.0
    return np.searchsorted(edges, (start + np.arange(count)) / count).astype(np.int64)
