"""The vehicle's motion in the map plane: the smoother run over cleaned fixes, with standstills held still."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.middle import median
from calmday.reduction.distance import excess_speed, way_per_step
from calmday.reduction.doppler import Driven, Speeds, usable_speeds, without_false_noughts
from calmday.reduction.drive_fit import DriveFit, Wander, fit_drive
from calmday.reduction.fixes import Fixes
from calmday.reduction.smoother import Fit, Measured, grid_for, smooth
from calmday.reduction.spline import FloatArray, Grid, IntArray
from calmday.reduction.stops import standing

BoolArray = NDArray[np.bool_]

_FIRST_KICK = 0.1
"""First guess of the variance of the acceleration kicks, (m/s2)^2 per second."""
_PASSES = 2
_PARKED_POSITION_VARIANCE_M2 = 9.0
"""A parked receiver wanders as a whole: its many fixes are worth one with this variance every few seconds."""
_POSITION_FLOOR_M2 = 4e-4
_LEAP_MPS2 = 8.0
_OUTLIER_WEIGHT = 0.15
_OUTLIER_M = 10.0
"""A fix believed less than this lies more than six standard deviations off (t with 4 degrees of freedom, 2 axes); it
is reported where that is also farther than receivers wander."""


class Motion(msgspec.Struct, frozen=True):
    """The smoothed motion at grid times, plane coordinates. `along` unit vector of motion, held at standstill; `still`
    at standstill; `way_m` length of every grid step; `way_sd_m` of their sum; `outliers` fixes not believed."""

    grid: Grid
    time_s: FloatArray
    segment: IntArray
    place: FloatArray
    along: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    acceleration_mps2: FloatArray
    acceleration_sd_mps2: FloatArray
    way_m: FloatArray
    way_sd_m: float
    still: BoolArray
    supported: BoolArray
    outliers: BoolArray
    parked_wander_m: float
    speeds: Speeds | None


def find_motion(fixes: Fixes, east_m: FloatArray, north_m: FloatArray) -> Motion:
    """Smooth the fixes plainly to see where the vehicle stood, then as a drive with it held still there."""
    grid = grid_for(fixes.time_s, fixes.stretch)
    step, fraction = grid.locate(fixes.time_s, fixes.stretch)
    rows = grid.rows(fixes.stretch, step, fraction, 0)
    xy = np.column_stack([east_m, north_m])
    relative = _relative_variance(fixes.hdop)
    white = white_variance(fixes.time_s, xy, fixes.stretch)
    relative = _with_doubtful_ends(relative, fixes, xy, white)
    belief = _first_belief(fixes.time_s, xy, fixes.stretch, white)
    position = Measured(rows, xy, relative, white, True, belief, _POSITION_FLOOR_M2)
    plain = smooth(grid, [position], _FIRST_KICK, _PASSES)
    wander = _likely_wander(plain.variances[0])
    driven = _driven(plain, fixes, step, fraction, wander)
    supported, doppler = _nearby(grid, fixes, without_false_noughts(fixes.speed_mps, driven.speed_mps))
    still = _standing(plain, doppler)
    at_rest = _at_rest(grid, step, fraction, fixes.stretch, still)
    speeds = usable_speeds(fixes.speed_mps, driven, at_rest)
    held = np.where(at_rest, np.maximum(relative, _PARKED_POSITION_VARIANCE_M2 / plain.variances[0]), relative)
    fit = fit_drive(
        plain, rows.first, fraction, xy, held, still, speeds if speeds and speeds.usable else None,
        wander,
    )  # fmt: skip
    return _motion(fit, fixes, xy, still, supported, speeds)


def _motion(
    fit: DriveFit, fixes: Fixes, xy: FloatArray, still: BoolArray, supported: BoolArray, speeds: Speeds | None
) -> Motion:
    grid = fit.grid
    stretch, step = grid.knots()
    none = np.zeros(step.size)
    value, slope, bend = (grid.rows(stretch, step, none, d) for d in range(3))
    velocity, acceleration = slope.of(fit.coefficients), bend.of(fit.coefficients)
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    along = held_direction(velocity, speed, still)
    across = np.column_stack([-along[:, 1], along[:, 0]])
    sideways = fit.variance_towards(slope, across)
    used = speeds is not None and speeds.usable
    # a recorded speed is the length of the velocity already
    more = excess_speed(speed, sideways)
    way, way_more = way_per_step(fit, still, np.zeros(speed.size) if used else more)
    # the last grid step may reach past the last fix
    way[-1] *= min(1.0, float(fixes.time_s[-1] - grid.start_s[-1]) / grid.step_s - float(grid.intervals[-1]) + 1)
    doubt = 0.5 * float(more[~still].sum()) * grid.step_s if used else way_more
    offset_sd = speeds.offset_sd_mps * float((~still).sum()) * grid.step_s if speeds and used else 0.0
    where, fraction = grid.locate(fixes.time_s, fixes.stretch)
    rows = grid.rows(fixes.stretch, where, fraction, 0)
    off = np.hypot(*(xy - rows.of(fit.coefficients)).T)
    speed_variance = fit.variance_towards(slope, along)
    bend_variance = fit.variance_towards(bend, along)
    return Motion(
        grid=grid,
        time_s=grid.start_s[stretch] + step * grid.step_s,
        segment=stretch,
        place=value.of(fit.coefficients),
        along=along,
        speed_mps=np.where(still, 0.0, speed if used else speed + more),
        speed_sd_mps=np.where(still, 0.0, np.sqrt(speed_variance)),
        acceleration_mps2=np.where(still, 0.0, (acceleration * along).sum(axis=1)),
        acceleration_sd_mps2=np.where(still, 0.0, np.sqrt(bend_variance)),
        way_m=way,
        way_sd_m=float(np.sqrt(fit.way_variance_m2 + doubt**2 + offset_sd**2)),
        still=still,
        supported=supported,
        outliers=(fit.fix_weight < _OUTLIER_WEIGHT) & (off > _OUTLIER_M),
        parked_wander_m=_wander_while_parked(grid, fixes, xy, still),
        speeds=speeds,
    )


def _wander_while_parked(grid: Grid, fixes: Fixes, xy: FloatArray, still: BoolArray) -> float:
    """Way that summing the fixes would have added at standstill [m]."""
    step, fraction = grid.locate(fixes.time_s, fixes.stretch)
    rest = _at_rest(grid, step, fraction, fixes.stretch, still)
    pairs = rest[1:] & rest[:-1] & (fixes.stretch[1:] == fixes.stretch[:-1])
    return float(np.hypot(*(xy[1:] - xy[:-1])[pairs].T).sum())


def held_direction(velocity: FloatArray, speed: FloatArray, still: BoolArray) -> FloatArray:
    """Unit vector of motion, held through standstills; before the first move that of the first move."""
    sure = (speed > 0.5) & ~still
    if not sure.any():
        return np.column_stack([np.zeros(speed.size), np.ones(speed.size)])
    index = np.maximum.accumulate(np.where(sure, np.arange(speed.size), -1))
    index[index < 0] = int(np.argmax(sure))
    return np.asarray(velocity[index] / speed[index, None])


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


def _likely_wander(white_variance_m2: float) -> Wander:
    """Noisier receivers also wander more (assumed: 2 m to 5 m per axis in a hundred seconds)."""
    return Wander(float(np.clip(2.0 + 0.8 * math.sqrt(white_variance_m2), 2.0, 5.0)))


def _driven(fit: Fit, fixes: Fixes, step: IntArray, fraction: FloatArray, wander: Wander) -> Driven:
    """Speed and turning rate at fixes by positions alone."""
    v, a = (fit.at(fit.grid.rows(fixes.stretch, step, fraction, d)) for d in (1, 2))
    speed = np.hypot(v[:, 0], v[:, 1])
    turning = np.abs(v[:, 0] * a[:, 1] - v[:, 1] * a[:, 0]) / np.maximum(speed, 1.0) ** 2
    return Driven(speed, turning, median(np.diff(fixes.time_s)), wander.sd_m)


def _at_rest(grid: Grid, step: IntArray, fraction: FloatArray, stretch: IntArray, still: BoolArray) -> BoolArray:
    """Fixes taken while the vehicle stood."""
    first = np.cumsum(grid.intervals + 1) - (grid.intervals + 1)
    before = first[stretch] + step
    return np.asarray(still[before] & (still[before + 1] | (fraction == 0.0)))


def _relative_variance(hdop: FloatArray) -> FloatArray:
    """Variance of each fix against the usual one, by the square of the dilution of precision where recorded."""
    known = np.isfinite(hdop)
    if not known.any():
        return np.ones(hdop.size)
    ratio = np.where(known, hdop / median(hdop[known]), 1.0)
    return np.asarray(np.clip(ratio, 0.5, 5.0) ** 2)


def _nearby(grid: Grid, fixes: Fixes, recorded_mps: FloatArray) -> tuple[BoolArray, FloatArray]:
    """Which grid times have a fix within a step, and the receiver's own speed there."""
    stretch, step = grid.knots()
    time = grid.start_s[stretch] + step * grid.step_s
    after = np.clip(np.searchsorted(fixes.time_s, time), 1, len(fixes) - 1)
    gap = np.minimum(np.abs(fixes.time_s[after] - time), np.abs(time - fixes.time_s[after - 1]))
    doppler = np.full(time.size, np.nan)
    known = np.isfinite(recorded_mps)
    if known.sum() > 1:
        times = fixes.time_s[known]
        near = np.clip(np.searchsorted(times, time), 1, times.size - 1)
        close = np.minimum(np.abs(times[near] - time), np.abs(time - times[near - 1])) <= 1.5 * grid.step_s
        doppler[close] = np.interp(time[close], times, recorded_mps[known])
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
    usual = median(step)
    even = np.abs(step - usual) < 0.1 * usual
    run = even[:-3] & even[1:-2] & even[2:-1] & even[3:]
    if run.sum() < 16 or usual > 3.0:
        return 2.0
    fourth = np.diff(xy, 4, axis=0)[run]
    return float(np.clip(median(fourth**2) / 0.4549 / 70.0, 2 * _POSITION_FLOOR_M2, 100.0))


def _with_doubtful_ends(relative: FloatArray, fixes: Fixes, xy: FloatArray, white: float) -> FloatArray:
    """A wild fix at the end of a stretch has no later fix to contradict it: doubt it by how far it lies off the line.

    In between, the weights find wild fixes; at the ends a leap of the vehicle would explain them as well.
    """
    out = relative.copy()
    time, stretch = fixes.time_s, fixes.stretch
    cuts = np.flatnonzero(np.diff(stretch) > 0)
    firsts, lasts = np.concatenate([[0], cuts + 1]), np.concatenate([cuts, [time.size - 1]])
    for ends, inward in ((firsts, 1), (lasts, -1)):
        long = ends[(lasts - firsts) >= 3]
        for end in long.tolist():
            near, far = end + inward, end + 2 * inward
            ahead = float((time[end] - time[near]) / (time[near] - time[far]))
            reach = abs(float(time[end] - time[near]))
            off = float(np.hypot(*(xy[end] - xy[near] - ahead * (xy[near] - xy[far]))))
            if off > _LEAP_MPS2 * reach**2 + 6 * math.sqrt(6 * white):
                out[end] = max(out[end], off**2 / white)
    return out


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
