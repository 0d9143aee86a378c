"""Density of moist air by the CIPM-2007 equation."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import MOLAR_GAS_CONSTANT, ZERO_CELSIUS_K

FloatArray = NDArray[np.float64]

CO2_MOLE_FRACTION: Final = 0.0004
"""Mole fraction of carbon dioxide the CIPM-2007 equation is stated for; 10 ppm more is 4e-6 relative."""

_WATER_MOLAR_MASS: Final = 18.01528e-3
_A0, _A1, _A2 = 1.58123e-6, -2.9331e-8, 1.1043e-10
_B0, _B1 = 5.707e-6, -2.051e-8
_C0, _C1 = 1.9898e-4, -2.376e-6
_D, _E = 1.83e-11, -0.765e-8


def saturation_vapour_pressure(temperature_k: float | FloatArray) -> FloatArray:
    """Saturation pressure of water vapour over water [Pa] at `temperature_k`.

    p_sv = exp(A T^2 + B T + C + D/T). Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149, eq. A1.1.
    """
    t = np.asarray(temperature_k, dtype=np.float64)
    return np.asarray(np.exp(1.2378847e-5 * t**2 - 1.9121316e-2 * t + 33.93711047 - 6.3431645e3 / t))


def _vapour_mole_fraction(t: FloatArray, p: FloatArray, h: FloatArray) -> FloatArray:
    """x_v = h f p_sv / p with the enhancement factor f (eq. A1.2, A1.3 there)."""
    celsius = t - ZERO_CELSIUS_K
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * celsius**2
    return np.asarray(h * enhancement * saturation_vapour_pressure(t) / p)


def compressibility(
    temperature_k: float | FloatArray, pressure_pa: float | FloatArray, relative_humidity: float | FloatArray
) -> FloatArray:
    """Compressibility factor Z of moist air [1]; relative humidity 0 to 1. CIPM-2007, eq. A1.4."""
    t = np.asarray(temperature_k, dtype=np.float64)
    p = np.asarray(pressure_pa, dtype=np.float64)
    x = _vapour_mole_fraction(t, p, np.asarray(relative_humidity, dtype=np.float64))
    c = t - ZERO_CELSIUS_K
    first = _A0 + _A1 * c + _A2 * c**2 + (_B0 + _B1 * c) * x + (_C0 + _C1 * c) * x**2
    return np.asarray(1.0 - (p / t) * first + (p / t) ** 2 * (_D + _E * x**2))


def moist_air_density(
    temperature_k: float | FloatArray,
    pressure_pa: float | FloatArray,
    relative_humidity: float | FloatArray,
    co2_mole_fraction: float = CO2_MOLE_FRACTION,
) -> FloatArray:
    """Density of moist air [kg/m^3] from temperature [K], pressure on the spot [Pa], relative humidity
    [0..1].

    rho = p M_a / (Z R T) (1 - x_v (1 - M_v/M_a)). Arguments broadcast. Stated for 600 to 1100 hPa and 15 to
    27 degC with 22e-6 relative; outside (road weather) the vapour terms stay good to about 1e-4.
    Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149, eq. 1.
    """
    t = np.asarray(temperature_k, dtype=np.float64)
    p = np.asarray(pressure_pa, dtype=np.float64)
    h = np.asarray(relative_humidity, dtype=np.float64)
    dry_molar_mass = (28.96546 + 12.011 * (co2_mole_fraction - 0.0004)) * 1e-3
    x = _vapour_mole_fraction(t, p, h)
    dry = p * dry_molar_mass / (compressibility(t, p, h) * MOLAR_GAS_CONSTANT * t)
    return np.asarray(dry * (1.0 - x * (1.0 - _WATER_MOLAR_MASS / dry_molar_mass)))
