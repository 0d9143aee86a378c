"""The vehicle's motion in the map plane: the smoother run over cleaned fixes, with standstills held still."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.fixes import Fixes
from calmday.reduction.smoother import Fit, Measured, grid_for, ones, smooth
from calmday.reduction.spline import FloatArray, Grid, IntArray
from calmday.reduction.stops import standing

BoolArray = NDArray[np.bool_]

_FIRST_KICK = 0.1
"""First guess of the variance of the acceleration kicks, (m/s2)^2 per second."""
_PASSES = 4
_FINAL_PASSES = 2
_STILL_VARIANCE = 1e-5
_PARKED_POSITION_VARIANCE_M2 = 9.0
"""A parked receiver wanders as a whole: its many fixes are worth one with this variance every few seconds."""
_POSITION_FLOOR_M2 = 4e-4
_OUTLIER_WEIGHT = 0.15
"""A fix believed less than this lies more than six standard deviations off (t with 4 degrees of freedom, 2 axes)."""


class Motion(msgspec.Struct, frozen=True):
    """The smoothed motion at grid times, plane coordinates. `still` at standstill; `outliers` fixes not believed."""

    fit: Fit
    time_s: FloatArray
    segment: IntArray
    place: FloatArray
    velocity: FloatArray
    acceleration: FloatArray
    place_variance: FloatArray
    velocity_variance: FloatArray
    acceleration_variance: FloatArray
    still: BoolArray
    supported: BoolArray
    doppler_mps: FloatArray
    outliers: BoolArray


def find_motion(fixes: Fixes, east_m: FloatArray, north_m: FloatArray) -> Motion:
    """Smooth the fixes twice: once to see where the vehicle stood, once with it held still there."""
    grid = grid_for(fixes.time_s, fixes.stretch)
    step, fraction = grid.locate(fixes.time_s, fixes.stretch)
    rows = grid.rows(fixes.stretch, step, fraction, 0)
    xy = np.column_stack([east_m, north_m])
    relative = _relative_variance(fixes.hdop)
    white = white_variance(fixes.time_s, xy, fixes.stretch)
    position = Measured(
        rows, xy, relative, white, True, _first_belief(fixes.time_s, xy, fixes.stretch, white), _POSITION_FLOOR_M2
    )
    first = smooth(grid, [position], _FIRST_KICK, _PASSES)
    supported, doppler = _nearby(grid, fixes)
    still = _standing(first, doppler)
    if still.any():
        held = relative.copy()
        at_rest = _at_rest(grid, step, fraction, fixes.stretch, still)
        held[at_rest] = np.maximum(held[at_rest], _PARKED_POSITION_VARIANCE_M2 / first.variances[0])
        position = Measured(
            rows, xy, held, first.variances[0], True, first.weights[0], _POSITION_FLOOR_M2
        )
        final = smooth(
            grid, [position, _stillness(grid, still)], first.kick_variance, _FINAL_PASSES, first.kick_weight
        )
    else:
        final = first
    return _motion(final, still, supported, doppler, fixes)


def _motion(fit: Fit, still: BoolArray, supported: BoolArray, doppler: FloatArray, fixes: Fixes) -> Motion:
    grid = fit.grid
    stretch, step = grid.knots()
    none = np.zeros(step.size)
    value, slope, bend = (grid.rows(stretch, step, none, d) for d in range(3))
    velocity, acceleration = fit.at(slope), fit.at(bend)
    velocity[still] = 0.0
    acceleration[still] = 0.0
    belief = fit.weights[0]
    return Motion(
        fit,
        grid.start_s[stretch] + step * grid.step_s,
        stretch,
        fit.at(value),
        velocity,
        acceleration,
        fit.variance_of(value),
        np.where(still, 0.0, fit.variance_of(slope)),
        np.where(still, 0.0, fit.variance_of(bend)),
        still,
        supported,
        doppler,
        belief < _OUTLIER_WEIGHT,
    )


def _standing(fit: Fit, doppler: FloatArray) -> BoolArray:
    grid = fit.grid
    stretch, step = grid.knots()
    none = np.zeros(step.size)
    place = fit.at(grid.rows(stretch, step, none, 0))
    slope = grid.rows(stretch, step, none, 1)
    velocity = fit.at(slope)
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    place_sd = np.sqrt(fit.variance_of(grid.rows(stretch, step, none, 0)))
    sd = np.sqrt(fit.variance_of(slope))
    return standing(place[:, 0], place[:, 1], speed, sd, place_sd, doppler, stretch, grid.step_s)


def _stillness(grid: Grid, still: BoolArray) -> Measured:
    """Speed nought wherever the vehicle stood, as a measurement."""
    stretch, step = grid.knots()
    rows = grid.rows(stretch[still], step[still], np.zeros(int(still.sum())), 1)
    count = rows.first.size
    return Measured(rows, np.zeros((count, 2)), ones(count), _STILL_VARIANCE, False, ones(count), robust=False)


def _at_rest(grid: Grid, step: IntArray, fraction: FloatArray, stretch: IntArray, still: BoolArray) -> BoolArray:
    """Fixes taken while the vehicle stood."""
    first = np.cumsum(grid.intervals + 1) - (grid.intervals + 1)
    before = first[stretch] + step
    return still[before] & (still[before + 1] | (fraction == 0.0))


def _relative_variance(hdop: FloatArray) -> FloatArray:
    """Variance of each fix against the usual one, by the square of the dilution of precision where recorded."""
    known = np.isfinite(hdop)
    if not known.any():
        return np.ones(hdop.size)
    ratio = np.where(known, hdop / np.median(hdop[known]), 1.0)
    return np.asarray(np.clip(ratio, 0.5, 5.0) ** 2)


def _nearby(grid: Grid, fixes: Fixes) -> tuple[BoolArray, FloatArray]:
    """Which grid times have a fix within a step, and the receiver's own speed there."""
    stretch, step = grid.knots()
    time = grid.start_s[stretch] + step * grid.step_s
    after = np.clip(np.searchsorted(fixes.time_s, time), 1, len(fixes) - 1)
    gap = np.minimum(np.abs(fixes.time_s[after] - time), np.abs(time - fixes.time_s[after - 1]))
    doppler = np.full(time.size, np.nan)
    known = np.isfinite(fixes.speed_mps)
    if known.sum() > 1:
        times = fixes.time_s[known]
        near = np.clip(np.searchsorted(times, time), 1, times.size - 1)
        close = np.minimum(np.abs(times[near] - time), np.abs(time - times[near - 1])) <= 1.5 * grid.step_s
        doppler[close] = np.interp(time[close], times, fixes.speed_mps[known])
    return np.asarray(gap <= grid.step_s), doppler


def white_variance(time_s: FloatArray, xy: FloatArray, stretch: IntArray) -> float:
    """First guess of the white part of a fix's variance per axis [m2], from fourth differences of even pieces.

    For white noise the variance of a fourth difference is 70 times its own (binomial coefficients squared); a
    vehicle's own motion hardly shows there. The median resists outliers; 0.4549 is the median of chi square with one
    degree of freedom.
    """
    if time_s.size < 8:
        return 2.0
    step = np.diff(time_s)
    usual = float(np.median(step))
    even = np.abs(step - usual) < 0.1 * usual
    run = even[:-3] & even[1:-2] & even[2:-1] & even[3:]
    if run.sum() < 16 or usual > 3.0:
        return 2.0
    fourth = np.diff(xy, 4, axis=0)[run]
    return float(np.clip(np.median(fourth**2) / 0.4549 / 70.0, 2 * _POSITION_FLOOR_M2, 100.0))


def _first_belief(time_s: FloatArray, xy: FloatArray, stretch: IntArray, white: float) -> FloatArray:
    """First weights: a fix far off the line through its neighbours starts with little belief."""
    belief = np.ones(time_s.size)
    if time_s.size < 3:
        return belief
    share = ((time_s[1:-1] - time_s[:-2]) / (time_s[2:] - time_s[:-2]))[:, None]
    off = xy[1:-1] - (xy[:-2] * (1 - share) + xy[2:] * share)
    reach = (time_s[2:] - time_s[:-2]) / 2
    inside = (stretch[2:] == stretch[:-2]) & (reach < 3.0)
    usual = 9 * white + (3.0 * reach**2) ** 2
    belief[1:-1] = np.where(inside, 1 / (1 + (off**2).sum(axis=1) / (9 * usual)), 1.0)
    return belief
