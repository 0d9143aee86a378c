"""The motion as a driver makes it: speed and direction change smoothly, each in its own way.

Along the road the driver brakes and accelerates, across it the road bends; smoothing east and north apart would cut
every corner and lose its length. Here the kicks are those of along-road acceleration and of turning rate, the
receiver's slow wander is a part of the unknowns, and the receiver's own speed is a measurement of the speed. Gauss-
Newton from the plain smoother's answer; sizes and weights by expectation maximisation as there.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction import block_tridiagonal
from calmday.reduction.doppler import Speeds
from calmday.reduction.kicks import Kicks, linearise
from calmday.reduction.smoother import VEHICLE, Fit, kick_rows
from calmday.reduction.spline import FloatArray, Grid, IntArray, Rows, basis
from calmday.reduction.windows import (
    BLOCK,
    STEPS,
    Covariance,
    Layout,
    NormalEquations,
    WindowRows,
    see_wander,
)

BoolArray = NDArray[np.bool_]

_FREEDOM = 4.0
_KICK_FREEDOM = 1.5
"""Kicks have far heavier tails than noise: long steady stretches, sudden corners."""
_KICK_ALLOWANCE = 1.25
"""Kicks are allowed somewhat more than maximum likelihood gives them: the mode of a sparse prior cuts corners, and a
corner cut loses way while a little noise left in the speed does not (found by trial, see studies/track_distance)."""
_WANDER_BELIEF = 20.0
"""The first guess of the wander counts as much as this many blocks of data."""
_STOPPING_STEPS = 3
"""Around a standstill a recorded speed is never doubted: brakes stop a vehicle more abruptly than the kicks of a drive
allow, and taking the last speeds before it for wild ones loses metres at every stop."""
_STILL_VARIANCE = 1e-5
_FIRST_VARIANCES = (60.0**2, 1.0)
"""Spread of the first speed and of the first acceleration of a stretch, squared, SI."""
_POSITION_FLOOR_M2 = 4e-4
_ROUNDS = 4


class Wander(msgspec.Struct, frozen=True):
    """The receiver's slow wander: standard deviation per axis and time constant."""

    sd_m: float = 3.0
    time_s: float = 100.0


class DriveFit(msgspec.Struct, frozen=True):
    """What came out: spline coefficients (size, 2), covariance by window, sizes learnt, variance of the whole way."""

    grid: Grid
    coefficients: FloatArray
    covariance: Covariance
    sizes: Sizes
    fix_weight: FloatArray
    way_variance_m2: float

    def variance_towards(self, rows: Rows, direction: FloatArray) -> FloatArray:
        """Variance of a functional of the motion in a direction (rows, 2).

        Where fixes contradict each other beyond what the sums can carry, it comes out negative: nothing is known there.
        """
        layout = Layout.of(self.covariance.upper.shape[0], rows.first, 1)
        pair = (rows.weight * direction[:, :1], rows.weight * direction[:, 1:])
        found = layout.rows(pair).variances(self.covariance)[:, 0]
        return np.where(found >= 0.0, found, _FIRST_VARIANCES[0])


class Sizes(msgspec.Struct):
    """Variances learnt from the data: a fix per axis, a recorded speed, kicks along and across, the wander's."""

    position: float
    doppler: float
    kicks: FloatArray
    wander_kick: float


class _Problem(msgspec.Struct, frozen=True):
    """What stays the same from round to round."""

    grid: Grid
    blocks: int
    fixes: WindowRows
    xy: FloatArray
    relative_variance: FloatArray
    fix_first: IntArray
    fix_slope: FloatArray
    speeds: Speeds | None
    speed_layout: Layout | None
    stopping: BoolArray
    step_first: IntArray
    step_layout: Layout
    plain: WindowRows
    fixed: NormalEquations
    still: BoolArray
    wander: Wander
    wander_keep: float


class _State(msgspec.Struct):
    """What changes from round to round."""

    unknowns: FloatArray
    coefficients: FloatArray
    covariance: Covariance | None
    sizes: Sizes
    fix_weight: FloatArray
    kick_weight: FloatArray
    doppler_weight: FloatArray


def fit_drive(
    start: Fit,
    fix_first: IntArray,
    fix_fraction: FloatArray,
    xy: FloatArray,
    relative_variance: FloatArray,
    still: BoolArray,
    speeds: Speeds | None,
    wander: Wander,
) -> DriveFit:
    """Refine a plain fit into a drive; see the module's head. `still` per grid time, the rest per fix."""
    problem = _pose(start, fix_first, fix_fraction, xy, relative_variance, still, speeds, wander)
    steps = problem.step_first.size
    doppler = speeds.variance if speeds else 1.0
    kick = wander.sd_m**2 * (1 - problem.wander_keep**2)
    state = _State(
        unknowns=_pack(start.coefficients, problem.blocks),
        coefficients=start.coefficients,
        covariance=None,
        sizes=Sizes(start.variances[0], doppler, np.full(2, start.kick_variance), kick),
        fix_weight=start.weights[0].copy(),
        kick_weight=np.repeat(start.kick_weight[:, None], 2, axis=1) if steps else np.ones((0, 2)),
        doppler_weight=np.ones(speeds.fix.size if speeds else 0),
    )
    way_variance = 0.0
    for turn in range(_ROUNDS):
        if turn:
            _learn_fixes(problem, state)
        way_variance = _solve(problem, state, last=turn == _ROUNDS - 1)
    assert state.covariance is not None
    if way_variance < 0.0:
        way_variance = _FIRST_VARIANCES[0] * (still.size * problem.grid.step_s) ** 2
    return DriveFit(problem.grid, state.coefficients, state.covariance, state.sizes, state.fix_weight, way_variance)


def _pose(
    start: Fit,
    fix_first: IntArray,
    fix_fraction: FloatArray,
    xy: FloatArray,
    relative_variance: FloatArray,
    still: BoolArray,
    speeds: Speeds | None,
    wander: Wander,
) -> _Problem:
    grid = start.grid
    blocks = grid.size // STEPS
    where = basis(fix_fraction, 0)
    zero = np.zeros_like(where)
    fixes = Layout.of(blocks, fix_first, 2).rows((where, zero), (zero, where))
    see_wander(fixes, (fix_first % STEPS + fix_fraction) / STEPS)
    stretch, step = grid.steps()
    step_first = grid.offsets[stretch] + step
    step_layout = Layout.of(blocks, step_first, 2)
    plain = kick_rows(grid, VEHICLE.persistence).weight
    none = np.zeros_like(plain)
    fix_slope = basis(fix_fraction, 1) / grid.step_s
    return _Problem(
        grid=grid,
        blocks=blocks,
        fixes=fixes,
        xy=xy,
        relative_variance=relative_variance[:, None],
        fix_first=fix_first if speeds is None else fix_first[speeds.fix],
        fix_slope=fix_slope if speeds is None else fix_slope[speeds.fix],
        speeds=speeds,
        speed_layout=Layout.of(blocks, fix_first[speeds.fix], 1) if speeds else None,
        stopping=_near_standstill(grid, still)[fix_first if speeds is None else fix_first[speeds.fix]],
        step_first=step_first,
        step_layout=step_layout,
        plain=step_layout.rows((plain, none), (none, plain)),
        fixed=_fixed(blocks, grid, still),
        still=still,
        wander=wander,
        wander_keep=math.exp(-STEPS * grid.step_s / wander.time_s),
    )


def _near_standstill(grid: Grid, still: BoolArray) -> BoolArray:
    """For each coefficient, whether its step begins within a few steps of a standstill."""
    stretch, step = grid.knots()
    near = np.zeros(grid.size + 2 * _STOPPING_STEPS, dtype=bool)
    for shift in range(2 * _STOPPING_STEPS + 1):
        near[(grid.offsets[stretch] + step)[still] + shift] = True
    return near[_STOPPING_STEPS:-_STOPPING_STEPS]


def _solve(problem: _Problem, state: _State, last: bool) -> float:
    """One Gauss-Newton step, learning from the covariance of the step before; variance of the way at the last."""
    sizes = state.sizes
    normal = problem.fixed.copy()
    information = state.fix_weight[:, None] / (sizes.position * problem.relative_variance)
    normal.add(problem.fixes, np.repeat(information, 2, axis=1), problem.xy)
    kicks = linearise(problem.grid.step_s, problem.step_first, problem.step_layout, state.coefficients)
    if state.covariance is not None:
        _learn_kicks(kicks, state)
    driven = kicks.driven[:, None]
    normal.add(kicks.rows, driven * state.kick_weight / sizes.kicks, kicks.rows.values(state.unknowns) - kicks.now)
    rest = (1.01 - driven) * state.kick_weight.min(axis=1, keepdims=True) / sizes.kicks.max()
    normal.add(problem.plain, np.repeat(rest, 2, axis=1), None)
    if problem.speeds is not None and problem.speed_layout is not None:
        _add_speeds(problem, problem.speeds, problem.speed_layout, state, normal)
        if state.covariance is not None:
            _learn_wander(problem, state)
    _add_wander(normal, problem.wander_keep, sizes.wander_kick)
    del kicks  # a day at 1 Hz: what is no longer needed makes room
    state.covariance = None
    columns = normal.rhs[:, :, None]
    if last:
        way = _way_gradient(problem, state.coefficients)
        columns = np.stack([normal.rhs, way], axis=2)
    solution = block_tridiagonal.solve(normal.diagonal, normal.upper, columns)
    state.unknowns = solution.x[:, :, 0]
    state.coefficients = state.unknowns[:-1, : 2 * STEPS].reshape(problem.grid.size, 2)
    state.covariance = Covariance(solution.diagonal, solution.upper)
    return float((way * solution.x[:, :, 1]).sum()) if last else 0.0


def _pack(coefficients: FloatArray, blocks: int) -> FloatArray:
    out = np.zeros((blocks + 1, BLOCK))
    out[:-1, : 2 * STEPS] = coefficients.reshape(blocks, 2 * STEPS)
    return out


def _fixed(blocks: int, grid: Grid, still: BoolArray) -> NormalEquations:
    """What does not change from round to round: standstills, the beginning, unused unknowns."""
    normal = NormalEquations.empty(blocks)
    stretch, step = grid.knots()
    held = grid.rows(stretch[still], step[still], np.zeros(int(still.sum())), 1)
    stretches = np.arange(grid.intervals.size)
    none = np.zeros(stretches.size)
    begin = [grid.rows(stretches, stretches * 0, none, d) for d in (1, 2)]
    first = np.concatenate([held.first, *(rows.first for rows in begin)])
    variance = np.repeat([_STILL_VARIANCE, *_FIRST_VARIANCES], [held.first.size, none.size, none.size])
    order = np.argsort(first, kind="stable")
    weight = np.concatenate([held.weight, *(rows.weight for rows in begin)])[order]
    zero = np.zeros_like(weight)
    both = Layout.of(blocks, first[order], 2).rows((weight, zero), (zero, weight))
    normal.add(both, np.repeat(1 / variance[order][:, None], 2, axis=1), None)
    for coefficient in range(grid.used, grid.size):
        block, place = divmod(coefficient, STEPS)
        for axis in range(2):
            normal.diagonal[block, 2 * place + axis, 2 * place + axis] += 1.0
    unused = np.arange(2 * STEPS)
    normal.diagonal[-1, unused, unused] += 1.0
    return normal


def _add_wander(normal: NormalEquations, keep: float, kick: float) -> None:
    """First-order Gauss-Markov wander from block to block, stationary at the first."""
    for a in (2 * STEPS, 2 * STEPS + 1):
        normal.diagonal[:-1, a, a] += keep**2 / kick
        normal.diagonal[1:, a, a] += 1 / kick
        normal.upper[:, a, a] -= keep / kick
        normal.diagonal[0, a, a] += (1 - keep**2) / kick


def _learn_wander(problem: _Problem, state: _State) -> None:
    """Variance of the wander's kicks per block. Only recorded speeds tell wander from motion; else the guess stays."""
    assert state.covariance is not None
    keep = problem.wander_keep
    count = _WANDER_BELIEF
    total = count * problem.wander.sd_m**2 * (1 - keep**2)
    for a in (2 * STEPS, 2 * STEPS + 1):
        now = state.unknowns[1:, a] - keep * state.unknowns[:-1, a]
        at, tie = state.covariance.diagonal[:, a, a], state.covariance.upper[:, a, a]
        doubt = at[1:] + keep**2 * at[:-1] - 2 * keep * tie
        total += float((now**2 + doubt).sum())
        count += now.size
    state.sizes.wander_kick = total / count


def _learn_kicks(kicks: Kicks, state: _State) -> None:
    """One expectation-maximisation step for the kicks' variances and weights, along and across."""
    assert state.covariance is not None
    if not kicks.driven.size:
        return
    square = kicks.now**2 + kicks.rows.variances(state.covariance)
    weight = (_KICK_FREEDOM + 1) / (_KICK_FREEDOM + square / state.sizes.kicks)
    driven = kicks.driven[:, None]
    mean = (driven * weight * square).sum(axis=0) / max(float(driven.sum()), 1e-9)
    state.sizes.kicks = np.maximum(_KICK_ALLOWANCE * mean, 1e-6)
    state.kick_weight = weight


def _learn_fixes(problem: _Problem, state: _State) -> None:
    """The same for fixes."""
    assert state.covariance is not None
    off = problem.xy - problem.fixes.values(state.unknowns)
    both = (off**2 + problem.fixes.variances(state.covariance)) / problem.relative_variance
    square = both.sum(axis=1)
    state.fix_weight = (_FREEDOM + 2) / (_FREEDOM + square / state.sizes.position)
    mean = float((state.fix_weight * square).sum() / (2 * state.fix_weight.sum()))
    state.sizes.position = max(mean, _POSITION_FLOOR_M2)


def _add_speeds(problem: _Problem, speeds: Speeds, layout: Layout, state: _State, normal: NormalEquations) -> None:
    """Recorded speeds: along the present direction of motion the speed is linear. Their weights are learnt too."""
    v = Rows(problem.fix_first, problem.fix_slope).of(state.coefficients)
    s = np.hypot(v[:, 0], v[:, 1])
    u = v / np.maximum(s, 0.3)[:, None]
    rows = layout.rows((problem.fix_slope * u[:, :1], problem.fix_slope * u[:, 1:]))
    sizes = state.sizes
    if state.covariance is not None:
        square = (speeds.speed_mps - s) ** 2 + rows.variances(state.covariance)[:, 0]
        weight = (_FREEDOM + 1) / (_FREEDOM + square / sizes.doppler)
        sizes.doppler = max(float((weight * square).sum() / weight.sum()), speeds.floor)
        state.doppler_weight = np.where(problem.stopping, 1.0, weight)
    normal.add(rows, (state.doppler_weight / sizes.doppler)[:, None], speeds.speed_mps[:, None])


def _way_gradient(problem: _Problem, coefficients: FloatArray) -> FloatArray:
    """Slope of the length of the way with respect to the unknowns."""
    grid, first = problem.grid, problem.step_first
    stretch, step = grid.steps()
    before = step + (np.cumsum(grid.intervals + 1) - (grid.intervals + 1))[stretch]
    moving = ~(problem.still[before] & problem.still[before + 1])
    near = coefficients[first[:, None] + np.arange(4)]
    out = np.zeros((grid.size, 2))
    for fraction, share in ((0.0, 1 / 6), (0.5, 4 / 6), (1.0, 1 / 6)):
        slope = basis(np.full(1, fraction), 1)[0] / grid.step_s
        v = slope @ near
        u = v / np.maximum(np.hypot(v[:, 0], v[:, 1]), 0.3)[:, None] * (moving * (share * grid.step_s))[:, None]
        for a in range(4):
            for axis in range(2):
                out[:, axis] += np.bincount(first + a, slope[a] * u[:, axis], grid.size)
    return _pack(out, problem.blocks)
