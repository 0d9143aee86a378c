"""Moist air, standard atmosphere and the wind profile. SI throughout."""
from __future__ import annotations
import math

G = 9.80665            # m/s^2, standard gravity (exact by definition)
REF_T_C = 20.0         # calm day: interchange.md
REF_P_PA = 100_000.0   # calm day: interchange.md
REF_RH = 0.50          # calm day: interchange.md
KN = 1852.0 / 3600.0   # m/s per knot, exact

# Roughness lengths, m: Davenport classes (reference.md 3.4); hedged = "rough", suburban = "very rough".
ROUGHNESS = {"open": 0.03, "farmland": 0.10, "hedged": 0.25, "suburban": 0.5}
STATION_Z0 = 0.03      # aerodrome, Davenport "open"


def vapour_saturation_pa(t_c: float) -> float:
    """WMO Magnus formula over water."""
    return 611.2 * math.exp(17.62 * t_c / (243.12 + t_c))


def air_density(t_c: float, p_pa: float, rh: float) -> float:
    """Moist air density, ideal gas (reference.md 3.1, 'good enough for drag')."""
    return (p_pa - 0.378 * rh * vapour_saturation_pa(t_c)) / (287.05 * (t_c + 273.15))


RHO_REF = air_density(REF_T_C, REF_P_PA, REF_RH)


def pressure_from_qnh(qnh_pa: float, height_m: float) -> float:
    """ICAO standard atmosphere reduction."""
    return qnh_pa * ((288.15 - 0.0065 * height_m) / 288.15) ** 5.25588


def dew_point_c(t_c: float, rh: float) -> float:
    x = math.log(rh) + 17.62 * t_c / (243.12 + t_c)
    return 243.12 * x / (17.62 - x)


def log_law(z_m: float, z0_m: float, z_from_m: float = 10.0) -> float:
    """Neutral log law, U(z)/U(z_from) over the local roughness."""
    return math.log(z_m / z0_m) / math.log(z_from_m / z0_m)
