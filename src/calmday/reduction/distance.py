"""Length of the way driven, from the smoothed motion, with its bias taken off and its doubt."""

from __future__ import annotations

import numpy as np

from calmday.reduction.motion import Motion
from calmday.reduction.spline import FloatArray


def way_per_step_m(motion: Motion) -> FloatArray:
    """Path length in the plane of every grid step [m], nought between two grid times at standstill.

    Simpson's rule on the speed: exact for a constant acceleration, and free of the chord loss that summing positions
    once a second has in bends.
    """
    grid = motion.fit.grid
    stretch, step = grid.steps()
    half = np.full(step.size, 0.5)
    middle = motion.fit.at(grid.rows(stretch, step, half, 1))
    at_middle = np.hypot(middle[:, 0], middle[:, 1])
    speed = np.hypot(motion.velocity[:, 0], motion.velocity[:, 1])
    before = step + (np.cumsum(grid.intervals + 1) - (grid.intervals + 1))[stretch]
    way = (speed[before] + 4 * at_middle + speed[before + 1]) * grid.step_s / 6
    return np.where(motion.still[before] & motion.still[before + 1], 0.0, way)
