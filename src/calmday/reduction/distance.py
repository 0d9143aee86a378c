"""Length of the way driven, from the smoothed motion, with what smoothing loses put back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.reduction.drive_fit import DriveFit
from calmday.reduction.spline import FloatArray

BoolArray = NDArray[np.bool_]

_LEAST_SPEED_MPS = 2.0
_MOST_EXCESS = 0.03


def excess_speed(speed_mps: FloatArray, sideways_variance: FloatArray) -> FloatArray:
    """What the speed is more than the length of the mean velocity, for the doubt left sideways [m/s].

    For v = m + e with e normal, small and across m: E|v| = |m| + var(e)/(2|m|), the leading term of the Rice mean
    (Rice 1945, Bell Syst. Tech. J. 24, 46). The smoother gives the mean velocity; the way is driven at |v|. Limited
    to 3 %: beyond that the doubt is ignorance between distant fixes, not a wandering course.
    """
    speed = np.maximum(speed_mps, _LEAST_SPEED_MPS)
    return np.asarray(np.minimum(sideways_variance / (2 * speed), _MOST_EXCESS * speed))


def way_per_step(fit: DriveFit, still: BoolArray, excess_mps: FloatArray) -> tuple[FloatArray, float]:
    """Path length in the plane of every grid step [m], nought between two grid times at standstill; and how much of
    the whole is the excess for sideways doubt.

    Simpson's rule on the speed: exact for a constant acceleration, and free of the chord loss that summing positions
    once a second has in bends.
    """
    grid = fit.grid
    stretch, step = grid.steps()
    before = step + (np.cumsum(grid.intervals + 1) - (grid.intervals + 1))[stretch]
    speeds = []
    for fraction in (0.0, 0.5, 1.0):
        v = grid.rows(stretch, step, np.full(step.size, fraction), 1).of(fit.coefficients)
        speeds.append(np.hypot(v[:, 0], v[:, 1]))
    way = (speeds[0] + 4 * speeds[1] + speeds[2]) * grid.step_s / 6
    more = (excess_mps[before] + excess_mps[before + 1]) * grid.step_s / 2
    driven = ~(still[before] & still[before + 1])
    return np.where(driven, way + more, 0.0), float(more[driven].sum())
