"""Kicks as a driver gives them: changes of along-road acceleration and of turning rate, linearised about a motion."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from calmday.reduction.smoother import VEHICLE
from calmday.reduction.spline import FloatArray, IntArray, basis
from calmday.reduction.windows import Layout, WindowRows

_SLOW_MPS = 2.0
"""Below about this speed the direction of motion means little and kicks count alike in all directions."""


class Kicks(msgspec.Struct, frozen=True):
    """Changes of along-road acceleration and of turning rate (times speed) over each step, linearised; `driven` 0 at
    standstill to 1 at road speed."""

    rows: WindowRows
    now: FloatArray
    driven: FloatArray


def linearise(step_s: float, step_first: IntArray, step_layout: Layout, coefficients: FloatArray) -> Kicks:
    """Kicks at the present coefficients and their slopes with respect to them.

    With unit vectors u along and n to the left of the velocity v, speed s: A = u.a, dA = u.da + (n.a)/s n.dv;
    turning rate W = n.a/s, s dW = n.da - (u.a)/s n.dv - (n.a)/s u.dv.
    """
    phi = math.exp(-step_s / VEHICLE.persistence)
    near = [coefficients[step_first + a] for a in range(4)]
    ends = [_at_end(near, fraction, step_s) for fraction in (0.0, 1.0)]
    mean = (ends[0].speed + ends[1].speed) / 2
    along = np.zeros((4, mean.size, 2))
    across = np.zeros((4, mean.size, 2))
    now = np.zeros((mean.size, 2))
    for end, sign in zip(ends, (-phi, 1.0), strict=True):
        rate = end.across / end.speed
        along_a = sign * end.u
        along_v = (sign * rate)[:, None] * end.n
        across_a = (sign * mean / end.speed)[:, None] * end.n
        turned = (end.along / end.speed)[:, None] * end.n + rate[:, None] * end.u
        across_v = (-sign * mean / end.speed)[:, None] * turned
        for a in np.flatnonzero(end.bend).tolist():
            along[a] += end.bend[a] * along_a
            across[a] += end.bend[a] * across_a
        for a in np.flatnonzero(end.slope).tolist():
            along[a] += end.slope[a] * along_v
            across[a] += end.slope[a] * across_v
        now[:, 0] += sign * end.along
        now[:, 1] += sign * mean * rate
    rows = step_layout.rows((along[:, :, 0].T, along[:, :, 1].T), (across[:, :, 0].T, across[:, :, 1].T))
    return Kicks(rows, now, mean**2 / (mean**2 + _SLOW_MPS**2))


class _End(msgspec.Struct, frozen=True):
    """The motion at one end of each step: spline weights, speed, unit vectors, acceleration along and across."""

    slope: FloatArray
    bend: FloatArray
    speed: FloatArray
    u: FloatArray
    n: FloatArray
    along: FloatArray
    across: FloatArray


def _at_end(near: list[FloatArray], fraction: float, step_s: float) -> _End:
    one = np.full(1, fraction)
    slope, bend = basis(one, 1)[0] / step_s, basis(one, 2)[0] / step_s**2
    v = sum((slope[a] * near[a] for a in np.flatnonzero(slope).tolist()), np.zeros_like(near[0]))
    acceleration = sum((bend[a] * near[a] for a in np.flatnonzero(bend).tolist()), np.zeros_like(near[0]))
    speed = np.maximum(np.hypot(v[:, 0], v[:, 1]), 0.5)
    u = v / speed[:, None]
    n = np.column_stack([-u[:, 1], u[:, 0]])
    along = u[:, 0] * acceleration[:, 0] + u[:, 1] * acceleration[:, 1]
    across = n[:, 0] * acceleration[:, 0] + n[:, 1] * acceleration[:, 1]
    return _End(slope, bend, speed, u, n, along, across)
