"""Moist air, standard atmosphere and the calm reference day."""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

G_N = 9.80665  # m/s2, standard gravity (exact by definition)
R_DRY = 287.05  # J/(kg K), dry air (reference.md 3.1)
KNOT = 1852.0 / 3600.0  # m/s, exact


def saturation_pa(t_c: float) -> float:
    """Saturation vapour pressure over water, WMO Magnus form (reference.md 3.1)."""
    return float(611.2 * np.exp(17.62 * t_c / (243.12 + t_c)))


def dew_point_c(t_c: float, rh: float) -> float:
    """Dew point by inverting the same Magnus form."""
    x = np.log(max(rh, 0.02) * saturation_pa(t_c) / 611.2)
    return float(243.12 * x / (17.62 - x))


@dataclass(frozen=True)
class Air:
    """State of the air on the road."""

    temperature_c: float
    pressure_pa: float
    humidity: float  # 0..1

    @property
    def density(self) -> float:
        """kg/m3; rho = (p - 0.378 e) / (R T)."""
        e = self.humidity * saturation_pa(self.temperature_c)
        return (self.pressure_pa - 0.378 * e) / (R_DRY * (self.temperature_c + 273.15))


CALM_AIR = Air(20.0, 100_000.0, 0.50)  # interchange.md: the calm day


def pressure_at(qnh_pa: float, elevation_m: float) -> float:
    """Pressure at an elevation from QNH, standard atmosphere (ICAO Doc 7488)."""
    return qnh_pa * ((288.15 - 0.0065 * elevation_m) / 288.15) ** 5.25588
