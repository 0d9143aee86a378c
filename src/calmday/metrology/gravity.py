"""Acceleration of free fall by latitude: a spring or strain-gauge scale weighs with it."""

from __future__ import annotations

import math
from typing import Final

_EQUATOR_MPS2: Final = 9.7803267715
_SERIES: Final = (0.0052790414, 0.0000232718, 0.0000001262, 0.0000000007)
_FREE_AIR_PER_S2: Final = 3.086e-6


def normal_gravity(latitude_deg: float, height_m: float = 0.0) -> float:
    """Normal gravity [m/s^2] at a geodetic latitude [deg], with the free-air reduction for height [m].

    GRS80 series in sin^2(latitude): Moritz, Geodetic Reference System 1980, Bulletin Geodesique 54 (1980)
    395.
    """
    s2 = math.sin(math.radians(latitude_deg)) ** 2
    series = 1.0 + s2 * (_SERIES[0] + s2 * (_SERIES[1] + s2 * (_SERIES[2] + s2 * _SERIES[3])))
    return _EQUATOR_MPS2 * series - _FREE_AIR_PER_S2 * height_m


def relative_reading_change(calibrated_deg: float, used_deg: float) -> float:
    """Relative change of a spring scale's readings when it is carried between latitudes [1]:
    g_used/g_calibrated - 1.

    Up to 0.5 % from equator to pole, 0.1 % between neighbouring regions: a check with a known mass removes
    it.
    """
    return normal_gravity(used_deg) / normal_gravity(calibrated_deg) - 1.0
