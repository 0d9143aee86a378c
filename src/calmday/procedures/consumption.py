"""One consumption in every usual unit, from draws of fuel mass, distance and density."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from calmday.metrology.constants import (
    CUBIC_METRE_PER_IMPERIAL_GALLON,
    CUBIC_METRE_PER_US_GALLON,
    METRE_PER_MILE,
)
from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import Figure, from_draws
from calmday.procedures.weighed_run_result import Consumption

UNITS = {
    "L_per_100km": "L/100km",
    "mpg_us": "mpg US",
    "mpg_imp": "mpg imp",
    "km_per_L": "km/L",
    "g_per_km": "g/km",
    "MJ_per_km": "MJ/km",
    "co2_g_per_km": "g/km",
}


def mpg(volume_per_distance_m2: FloatArray, gallon_m3: float) -> FloatArray:
    """Miles per gallon from fuel volume per distance (m3/m)."""
    return np.asarray(gallon_m3 / METRE_PER_MILE / volume_per_distance_m2)


def consumption(
    mass_per_distance_kgpm: FloatArray,
    density_15_kgpm3: FloatArray,
    heating_value_jpkg: FloatArray,
    carbon_dioxide_kgpkg: FloatArray,
    price_per_m3: float | None,
    currency: str,
    read: Callable[[FloatArray, str], Figure] = from_draws,
) -> Consumption:
    """All units of one consumption; every argument an array of draws, shape (m,). Volume is at 15 degC. `read` how a
    figure is read off its draws."""
    volume = mass_per_distance_kgpm / density_15_kgpm3
    draws = {
        "L_per_100km": volume * 1e8,
        "mpg_us": mpg(volume, CUBIC_METRE_PER_US_GALLON),
        "mpg_imp": mpg(volume, CUBIC_METRE_PER_IMPERIAL_GALLON),
        "km_per_L": 1e-6 / volume,
        "g_per_km": mass_per_distance_kgpm * 1e6,
        "MJ_per_km": mass_per_distance_kgpm * heating_value_jpkg * 1e-3,
        "co2_g_per_km": mass_per_distance_kgpm * carbon_dioxide_kgpkg * 1e6,
    }
    figures = {key: read(values, UNITS[key]) for key, values in draws.items()}
    cost = None
    if price_per_m3 is not None:
        cost = read(volume * 1000 * price_per_m3, f"{currency}/km")
    return Consumption(**figures, cost_per_km=cost)
