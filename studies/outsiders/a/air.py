"""Moist air, pressure with height, fuel buoyancy. SI units."""
from __future__ import annotations
import math

R_DRY = 287.05        # J/(kg K), reference.md 3.1
G = 9.80665           # m/s2, exact by definition
RHO_WEIGHTS = 8000.0  # kg/m3, conventional weights, OIML D 28

REF_T_C, REF_P_PA, REF_RH = 20.0, 100_000.0, 0.50  # the calm day, interchange.md


def saturation_pa(t_c: float) -> float:
    """WMO Magnus form, reference.md 3.1."""
    return 611.2 * math.exp(17.62 * t_c / (243.12 + t_c))


def density(t_c: float, p_pa: float, rh: float) -> float:
    """Moist-air density, reference.md 3.1 ("good enough for drag")."""
    return (p_pa - 0.378 * rh * saturation_pa(t_c)) / (R_DRY * (t_c + 273.15))


def dew_point_c(t_c: float, rh: float) -> float:
    x = math.log(max(rh, 0.01)) + 17.62 * t_c / (243.12 + t_c)
    return 243.12 * x / (17.62 - x)


def pressure_from_qnh(qnh_pa: float, z_m: float) -> float:
    """Standard atmosphere, reference.md 3.2."""
    return qnh_pa * ((288.15 - 0.0065 * z_m) / 288.15) ** 5.25588


def buoyancy(rho_air: float, rho_fuel: float) -> float:
    """Scale indication of fuel / true mass (OIML D 28, reference.md 1.4)."""
    return (1 - rho_air / rho_fuel) / (1 - rho_air / RHO_WEIGHTS)


RHO_REF = density(REF_T_C, REF_P_PA, REF_RH)
