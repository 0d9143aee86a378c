"""A declared full-load curve as the model goes by it: which of two curves counts, and how far each point is trusted."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.physics.power_torque import agreement, lower_of_both
from calmday.records.vehicle import FullLoadCurve

FloatArray = NDArray[np.float64]

CURVE_SD: Final = 0.05
"""Relative standard deviation of full-load torque from a declared curve: reading, wear, tune. Assumed."""

USUAL_READING_SD: Final = 0.015
"""The part of it that is reading, where nobody says how well the chart was read: 3 % on a 95 % level. Assumed."""

ENGINE_SD: Final = math.sqrt(CURVE_SD**2 - USUAL_READING_SD**2)
"""The part that is this engine against its chart."""

NO_CURVE_SD: Final = 0.15


def trusted(curve: FullLoadCurve | None) -> FullLoadCurve | None:
    """The curve with the lower of torque and power where they disagree, and a band as wide as they do."""
    if curve is None or curve.power_w is None:
        return curve
    rps, nm, power = (np.array(part) for part in (curve.speed_rps, curve.torque_nm, curve.power_w))
    lower, gap = lower_of_both(rps, nm, power, agreement(rps, nm, power))
    if not gap.any():
        return curve
    read = np.full(rps.size, HALF_WIDTH_PER_SD * USUAL_READING_SD) if curve.half_width is None else curve.half_width
    return msgspec.structs.replace(
        curve, torque_nm=tuple(lower.tolist()), half_width=tuple(np.hypot(read, gap).tolist())
    )


def common_sd(curve: FullLoadCurve | None) -> float:
    """Relative standard deviation that the whole curve shares: the engine, and the reading where it is best."""
    if curve is None:
        return NO_CURVE_SD
    if curve.half_width is None:
        return CURVE_SD
    return math.hypot(ENGINE_SD, min(curve.half_width) / HALF_WIDTH_PER_SD)


def own_sd(curve: FullLoadCurve | None, at_rps: FloatArray) -> FloatArray:
    """Relative standard deviation of the reading at each engine speed beyond what `common_sd` has, (n,)."""
    if curve is None or curve.half_width is None:
        return np.zeros(at_rps.size)
    sd = np.interp(at_rps, curve.speed_rps, curve.half_width) / HALF_WIDTH_PER_SD
    least = min(curve.half_width) / HALF_WIDTH_PER_SD
    return np.asarray(np.sqrt(np.maximum(sd**2 - least**2, 0.0)))
