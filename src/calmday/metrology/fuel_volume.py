"""Volume and density of liquid fuels with temperature.

Petroleum measurement tables ASTM D1250-80 / API MPMS 11.1 / ISO 91-1, Tables 53B and 54B (base 15 degC,
kg/m^3) and 6B (base 60 degF, with the refined-product constants as API MPMS 11.1-2004 prints them). Classes
go by density.
"""

from __future__ import annotations

import math
from typing import Final

from calmday.metrology.constants import ZERO_CELSIUS_K

BASE_15C_K: Final = ZERO_CELSIUS_K + 15.0
BASE_60F_K: Final = ZERO_CELSIUS_K + (60.0 - 32.0) / 1.8
WATER_DENSITY_60F_KGPM3: Final = 999.016
"""Density of water at 60 degF in the petroleum tables. API MPMS 11.1-2004."""

TABLE_54B_LOWEST_KGPM3: Final = 653.0
"""Below this the tables do not reach (liquefied gas): a coefficient must be given."""

_TOLERANCE: Final = 1e-10
_MOST_STEPS: Final = 40


def expansion_15c(density_15_kgpm3: float) -> float:
    """Expansion coefficient at 15 degC [1/K] by the density at 15 degC. Table 54B, refined products."""
    r = density_15_kgpm3
    if r < 770.5:  # petrol
        return 346.4228 / r**2 + 0.4388 / r
    if r < 787.5:  # between petrol and jet fuel
        return -0.00336312 + 2680.3206 / r**2
    if r < 838.5:  # jet fuel, kerosene, light diesel
        return 594.5418 / r**2
    return 186.9696 / r**2 + 0.4862 / r  # fuel oils, heavier diesel


def expansion_60f(density_60f_kgpm3: float) -> float:
    """Expansion coefficient at 60 degF [1/degF] by the density at 60 degF. Table 6B, API MPMS 11.1-2004
    constants.
    """
    r = density_60f_kgpm3
    if r < 770.352:
        return 192.4571 / r**2 + 0.2438 / r
    if r < 787.5195:
        return 1489.0670 / r**2 - 0.00186840
    if r < 838.3127:
        return 330.3010 / r**2
    return 103.8720 / r**2 + 0.2701 / r


def _correction(alpha: float, step: float) -> float:
    """VCF = exp(-alpha dT (1 + 0.8 alpha dT)), the form shared by all tables of the 1980 set."""
    return math.exp(-alpha * step * (1.0 + 0.8 * alpha * step))


def volume_correction_15c(
    density_15_kgpm3: float, temperature_k: float, coefficient_per_k: float | None = None
) -> float:
    """Volume at 15 degC over volume at `temperature_k` [1]; the same factor takes the density the other way.

    `coefficient_per_k` replaces the table's coefficient for fuels the tables do not cover. Table 54B.
    """
    alpha = expansion_15c(density_15_kgpm3) if coefficient_per_k is None else coefficient_per_k
    return _correction(alpha, temperature_k - BASE_15C_K)


def volume_correction_60f(density_60f_kgpm3: float, temperature_k: float) -> float:
    """Volume at 60 degF over volume at `temperature_k` [1]. Table 6B; the ITS-90 shift (below 1e-5) is left
    out.
    """
    return _correction(expansion_60f(density_60f_kgpm3), (temperature_k - BASE_60F_K) * 1.8)


def density_at(density_15_kgpm3: float, temperature_k: float, coefficient_per_k: float | None = None) -> float:
    """Density [kg/m^3] at `temperature_k` of a fuel known by its density at 15 degC. Table 54B."""
    return density_15_kgpm3 * volume_correction_15c(density_15_kgpm3, temperature_k, coefficient_per_k)


def density_15c(density_kgpm3: float, temperature_k: float, coefficient_per_k: float | None = None) -> float:
    """Density at 15 degC [kg/m^3] from the density at another temperature. Table 53B, by iteration.

    The classes leave steps of about 1e-6/K at their edges; where the iteration hops over one, the mean of
    both sides is returned (within 0.02 kg/m^3 of either).
    """
    estimate = previous = density_kgpm3
    for _ in range(_MOST_STEPS):
        previous = estimate
        estimate = density_kgpm3 / volume_correction_15c(previous, temperature_k, coefficient_per_k)
        if abs(estimate - previous) <= _TOLERANCE * estimate:
            return estimate
    return (estimate + previous) / 2.0


def density_60f_from_15c(density_15_kgpm3: float, coefficient_per_k: float | None = None) -> float:
    """Density at 60 degF [kg/m^3] of a fuel known by its density at 15 degC: 5/9 K warmer. Table 54B."""
    return density_at(density_15_kgpm3, BASE_60F_K, coefficient_per_k)


def relative_density_from_api(api_gravity: float) -> float:
    """Relative density 60/60 degF [1] from API gravity [degAPI]: 141.5/(131.5 + API), by definition."""
    return 141.5 / (131.5 + api_gravity)


def api_from_relative_density(relative_density_60f: float) -> float:
    """API gravity [degAPI] from relative density 60/60 degF [1], by definition."""
    return 141.5 / relative_density_60f - 131.5


def density_15c_from_api(api_gravity: float) -> float:
    """Density at 15 degC [kg/m^3] from API gravity [degAPI]. Table 6B from 60 degF down to 15 degC."""
    density_60f = relative_density_from_api(api_gravity) * WATER_DENSITY_60F_KGPM3
    return density_60f * volume_correction_60f(density_60f, BASE_15C_K)
