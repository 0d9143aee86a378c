"""Moist air, station pressure, wind profile, gusts.  SI units throughout."""
from __future__ import annotations
import math
import numpy as np

G = 9.80665            # m/s2, standard gravity (exact)
KN = 1852.0 / 3600.0   # m/s per knot (exact)
REF_T, REF_P, REF_RH = 20.0, 100_000.0, 0.50   # calm day, interchange.md

#: roughness length of each terrain word, m. Davenport classes (reference.md 3.4); hedged/suburban assumed between classes.
ROUGHNESS = {"water": 0.0002, "open": 0.03, "farmland": 0.10, "hedged": 0.25, "suburban": 0.5, "town": 1.0}
MAST_ROUGHNESS = 0.03      # airfield, Davenport 'open'
BLENDING_HEIGHT = 60.0     # m, where both surfaces feel the same wind (usual 50-100 m; assumed 60)


def saturation_pressure(t_c: float) -> float:
    """Vapour pressure over water, Pa (WMO Magnus)."""
    return 611.2 * math.exp(17.62 * t_c / (243.12 + t_c))


def air_density(t_c: float, p_pa: float, rh: float) -> float:
    """kg/m3; simple moist-air form, reference.md 3.1 (0.04 % from CIPM-2007)."""
    e = rh * saturation_pressure(t_c)
    return (p_pa - 0.378 * e) / (287.05 * (t_c + 273.15))


def pressure_at(qnh_pa: float, z: float) -> float:
    """Station pressure from QNH, standard-atmosphere reduction (reference.md 3.2)."""
    return qnh_pa * ((288.15 - 0.0065 * z) / 288.15) ** 5.25588


def dew_point(t_c: float, rh: float) -> float:
    """Inverse Magnus, degC."""
    a = math.log(rh * saturation_pressure(t_c) / 611.2)
    return 243.12 * a / (17.62 - a)


def transfer(z: float, terrain: str) -> float:
    """Mean wind at height z over the road's terrain / wind at the 10 m airfield mast:
    log law up to the blending height over the airfield, down again over the road's roughness."""
    z0 = ROUGHNESS[terrain]
    up = math.log(BLENDING_HEIGHT / MAST_ROUGHNESS) / math.log(10.0 / MAST_ROUGHNESS)
    return up * math.log(z / z0) / math.log(BLENDING_HEIGHT / z0)


def friction_velocity(u10_mast: float, terrain: str) -> float:
    """u* over the road's terrain, from the blending-height wind."""
    up = math.log(BLENDING_HEIGHT / MAST_ROUGHNESS) / math.log(10.0 / MAST_ROUGHNESS)
    return 0.4 * u10_mast * up / math.log(BLENDING_HEIGHT / ROUGHNESS[terrain])


def ar1(rng: np.random.Generator, n: int, dt: float, tau: float) -> np.ndarray:
    """Unit-variance Gauss-Markov series."""
    r = math.exp(-dt / tau)
    z = rng.standard_normal(n)
    q = math.sqrt(1 - r * r)
    out = np.empty(n)
    x = z[0]
    for i, zi in enumerate(z.tolist()):
        x = r * x + q * zi if i else x
        out[i] = x
    return out
