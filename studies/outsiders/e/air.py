"""Moist air and wind profile."""
from __future__ import annotations

import math

G_MPS2 = 9.80665          # standard gravity, exact
R_DRY = 287.05            # J/(kg K) [R 3.1]
REF_TEMPERATURE_C, REF_PRESSURE_PA, REF_RH = 20.0, 100_000.0, 0.5   # the calm day (interchange.md)
STATION_Z0_M = 0.03       # open airfield, Davenport [R 3.4]
BLEND_HEIGHT_M = 60.0     # height where wind no longer feels the local surface [H]


def vapour_pressure_pa(temperature_c: float) -> float:
    """Saturation, WMO Magnus [R 3.1]."""
    return 611.2 * math.exp(17.62 * temperature_c / (243.12 + temperature_c))


def dew_point_c(temperature_c: float, rh: float) -> float:
    x = math.log(rh * vapour_pressure_pa(temperature_c) / 611.2)
    return 243.12 * x / (17.62 - x)


def air_density(temperature_c: float, pressure_pa: float, rh: float) -> float:
    """[R 3.1] (p - 0.378 e)/(R T)."""
    return (pressure_pa - 0.378 * rh * vapour_pressure_pa(temperature_c)) / (R_DRY * (273.15 + temperature_c))


RHO_REF = air_density(REF_TEMPERATURE_C, REF_PRESSURE_PA, REF_RH)


def pressure_ratio(elevation_m: float) -> float:
    """Pressure at elevation / QNH, standard atmosphere [R 3.2]."""
    return ((288.15 - 0.0065 * elevation_m) / 288.15) ** 5.25588


def profile_factor(height_m: float, z0_m: float) -> float:
    """Wind at height over the road's surface / wind at the 10 m mast, matched at the blending height [H]."""
    top = math.log(BLEND_HEIGHT_M / STATION_Z0_M) / math.log(10.0 / STATION_Z0_M)
    return top * math.log(max(height_m / z0_m, 1.3)) / math.log(BLEND_HEIGHT_M / z0_m)


# roughness length behind each word a tester may choose, m [R 3.4, Davenport; the words mapped: A]
TERRAIN_Z0_M = {"open": 0.03, "farmland": 0.07, "hedged": 0.18, "suburban": 0.35}
