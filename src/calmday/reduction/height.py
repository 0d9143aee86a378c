"""Height and grade along the way: smoothed over distance, averaged over every pass of the same road."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.middle import median
from calmday.reduction.places import Path
from calmday.reduction.smoother import Measured, Prior, ones, smooth
from calmday.reduction.spline import FloatArray, Grid

IntArray = NDArray[np.int64]

UNKNOWN_HEIGHT_SD_M = 100.0
UNKNOWN_GRADE_SD = 0.02
"""Spread of the grade of main roads where no height was recorded (assumed)."""
_GRADE_SD = 0.05
_GRADE_LENGTH_M = 400.0
_ROAD = Prior(persistence=100.0, first_slope_sd=_GRADE_SD)
_FIRST_KICK = (1.5e-4) ** 2 * 0.33
"""First guess of the variance of the kicks of road curvature per node, 1/m^2 (assumed: 3 % in 200 m)."""
_WANDER_SHARE = 2.5
_WANDER_RANGE_M2 = (0.25, 6.0)
"""Minutes-long wander of recorded height is worth this many times its white variance as seen from a node to the
next, within these limits (assumed; tried on 1 m to 5 m of wander with time constants of one to five minutes)."""
_GRADE_SD_FACTOR = 1.3
"""The wander is not white: the spread of the grade is this much wider than the smoother's own."""
_ABSOLUTE_SD_M = 5.0
_WANDER_NODES = 60
_ROUNDS = 4


class Profile(msgspec.Struct, frozen=True):
    """Height [m] and grade (rise over run) with their standard deviations at each sample."""

    height_m: FloatArray
    height_sd_m: FloatArray
    grade: FloatArray
    grade_sd: FloatArray


def no_profile(samples: int) -> Profile:
    """Level road with a wide doubt."""
    zero = np.zeros(samples)
    return Profile(zero, np.full(samples, UNKNOWN_HEIGHT_SD_M), zero.copy(), np.full(samples, UNKNOWN_GRADE_SD))


def profile(
    path: Path,
    first_same: IntArray,
    first_against: IntArray,
    fix_way_m: FloatArray,
    fix_height_m: FloatArray,
    way_m: FloatArray,
) -> Profile:
    """Height and grade at samples `way_m` along the drive, from heights recorded at `fix_way_m`.

    Wander of the recorded height lasts minutes, the road repeats: what differs between passes of one place is wander
    and is taken off, what they share is road. So a closed course closes. Grade is a spline's slope over distance.
    """
    known = np.isfinite(fix_height_m)
    if known.sum() < 3 or len(path) < 3:
        return no_profile(way_m.size)
    node_height, white = _at_nodes(path, fix_way_m[known], fix_height_m[known])
    place = _places(first_same, first_against)
    shared, passes = _averaged(node_height, place)
    nodes = len(path)
    grid = Grid.over(path.node_m, np.zeros(1), np.array([nodes - 1]))
    stretch, step = grid.knots()
    none = np.zeros(nodes)
    relative = 1 / passes
    variance = white + min(max(_WANDER_SHARE * white, _WANDER_RANGE_M2[0]), _WANDER_RANGE_M2[1])
    heights = Measured(grid.rows(stretch, step, none, 0), shared[:, None], relative, variance, False, ones(nodes))
    flat = Measured(
        grid.rows(stretch, step, none, 1),
        np.zeros((nodes, 1)),
        ones(nodes),
        _GRADE_SD**2 * _GRADE_LENGTH_M / path.node_m,
        False,
        ones(nodes),
        robust=False,
    )
    fit = smooth(grid, [heights, flat], _FIRST_KICK, 2, prior=_ROAD)
    u = np.clip((way_m - way_m[0]) / path.node_m, 0, nodes - 1)
    at = np.minimum(u.astype(np.int64), nodes - 2)
    zeros = np.zeros(at.size, dtype=np.int64)
    value, slope = (grid.rows(zeros, at, u - at, d) for d in (0, 1))
    passes_there = passes[at]
    return Profile(
        fit.at(value)[:, 0],
        np.sqrt(fit.variance_of(value) + _ABSOLUTE_SD_M**2 / passes_there),
        fit.at(slope)[:, 0],
        _GRADE_SD_FACTOR * np.sqrt(fit.variance_of(slope)),
    )


def _at_nodes(path: Path, way_m: FloatArray, height_m: FloatArray) -> tuple[FloatArray, float]:
    """Mean recorded height at each node, wild values left out, and the variance of its white part."""
    height_m = _tamed(height_m)
    node = np.clip(np.round(way_m / path.node_m).astype(int), 0, len(path) - 1)
    count = np.bincount(node, minlength=len(path))
    mean = np.bincount(node, height_m, len(path)) / np.maximum(count, 1)
    seen = np.flatnonzero(count)
    heights = np.interp(np.arange(len(path)), seen, mean[seen])
    third = np.diff(heights, 3)  # 20 = 1 + 9 + 9 + 1: binomial coefficients squared
    white = median(third**2) / 0.4549 / 20.0 if third.size else 1.0
    return heights, min(max(white, 0.01), 25.0)


def _tamed(height_m: FloatArray) -> FloatArray:
    """Single wild heights replaced by the median of five."""
    if height_m.size < 5:
        return height_m
    padded = np.pad(height_m, 2, mode="edge")
    middle = np.partition(np.lib.stride_tricks.sliding_window_view(padded, 5), 2, axis=1)[:, 2]
    off = np.abs(height_m - middle)
    return np.where(off > 10 * median(off) + 3.0, middle, height_m)


def _places(first_same: IntArray, first_against: IntArray) -> IntArray:
    """One name per place whichever way it is driven: the earliest node there."""
    place = np.where((first_against >= 0) & (first_against < first_same), first_against, first_same)
    return np.asarray(place[place[place]])


def _averaged(height_m: FloatArray, place: IntArray) -> tuple[FloatArray, FloatArray]:
    """Height at each node averaged over the passes of its place, slow wander of each pass taken off first."""
    nodes = height_m.size
    passes = np.maximum(np.bincount(place, minlength=nodes), 1)[place].astype(float)
    if passes.max() < 2:
        return height_m, passes
    wander = np.zeros(nodes)
    shared = height_m
    for _ in range(_ROUNDS):
        total = np.bincount(place, height_m - wander, nodes)
        shared = total[place] / passes
        wander = _box(height_m - shared, _WANDER_NODES)
    return shared, passes


def _box(values: FloatArray, width: int) -> FloatArray:
    """Moving mean over `width` values, shorter at the ends."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    index = np.arange(values.size)
    low, high = np.maximum(index - width // 2, 0), np.minimum(index + width // 2 + 1, values.size)
    return np.asarray((total[high] - total[low]) / (high - low))
