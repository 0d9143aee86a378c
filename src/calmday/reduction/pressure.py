"""Pressure and temperature of the standard atmosphere; from an altimeter setting to the pressure on the
road.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import DRY_AIR_GAS_CONSTANT, STANDARD_ATMOSPHERE_PA, STANDARD_GRAVITY_MPS2

FloatArray = NDArray[np.float64]

SEA_LEVEL_TEMPERATURE_K: Final = 288.15
LAPSE_KPM: Final = 0.0065
"""Standard atmosphere, troposphere. ICAO Doc 7488/3; ISO 2533:1975."""

_EXPONENT: Final = STANDARD_GRAVITY_MPS2 / (DRY_AIR_GAS_CONSTANT * LAPSE_KPM)


def standard_temperature(height_m: float | FloatArray) -> FloatArray:
    """Temperature of the standard atmosphere [K] at a height [m], below 11 km. ISO 2533:1975."""
    return np.asarray(SEA_LEVEL_TEMPERATURE_K - LAPSE_KPM * np.asarray(height_m, dtype=np.float64))


def standard_pressure(height_m: float | FloatArray) -> FloatArray:
    """Pressure of the standard atmosphere [Pa] at a height [m], below 11 km. ISO 2533:1975."""
    return pressure_from_qnh(STANDARD_ATMOSPHERE_PA, height_m)


def pressure_from_qnh(qnh_pa: float | FloatArray, height_m: float | FloatArray) -> FloatArray:
    """Pressure on the spot [Pa] at a height above sea level [m], from the altimeter setting QNH [Pa].

    p = QNH ((288.15 - 0.0065 z)/288.15)^5.25588: QNH is the sea-level pressure that makes the standard
    atmosphere meet the station's own pressure. ICAO Doc 7488/3; WMO-No. 8, part I, chapter 3.
    """
    return np.asarray(qnh_pa * (standard_temperature(height_m) / SEA_LEVEL_TEMPERATURE_K) ** _EXPONENT)


def pressure_at_height(
    pressure_pa: float | FloatArray,
    height_difference_m: float | FloatArray,
    temperature_k: float | FloatArray,
) -> FloatArray:
    """Pressure [Pa] so many metres higher than where `pressure_pa` was read. p exp(-g dz/(R T)),
    hydrostatic.
    """
    rise = np.asarray(height_difference_m, dtype=np.float64)
    scale_height = DRY_AIR_GAS_CONSTANT * np.asarray(temperature_k, dtype=np.float64) / STANDARD_GRAVITY_MPS2
    return np.asarray(pressure_pa * np.exp(-rise / scale_height))
