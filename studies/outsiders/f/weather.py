"""Air and wind on the road, and what a station some kilometres away reports."""
from dataclasses import dataclass
import math
import numpy as np
from .randoms import Array, lognormal, normal, ornstein_uhlenbeck
from .road import DT

# Davenport roughness, m [R 3.4]; class reading of the six terrain words: assumed
Z0 = {"water": 0.0002, "open": 0.03, "farmland": 0.10, "hedged": 0.25, "suburban": 0.5, "town": 1.0}
Z0_STATION, BLEND_M = 0.03, 60.0   # aerodrome grass [R 3.4]; blending height, assumed (Wieringa 60 m)
Z0_SIGMA = 0.22                    # log; within-class scatter, assumed
STATION_FACTOR_SIGMA = 0.085        # log; station some km away against the district's mean wind, assumed
STATION_DIR_SD = 8.0               # deg, assumed
MESO_SD, MESO_DIR_SD, MESO_TAU = 0.08, 6.0, 1500.0   # slow wind changes, s; assumed
SHELTER_SD, SHELTER_M = 0.15, 400.0                  # hedges and gaps along the road; assumed


def saturation_pa(t_c: float) -> float:
    """WMO Magnus over water [R 3.1]."""
    return 611.2 * math.exp(17.62 * t_c / (243.12 + t_c))


def density(t_c: float, p_pa: Array | float, rh: float) -> Array | float:
    """Moist air, kg/m^3 [R 3.1]."""
    return (p_pa - 0.378 * rh * saturation_pa(t_c)) / (287.05 * (t_c + 273.15))


RHO_REF = float(density(20.0, 1e5, 0.5))


def isa_pressure(qnh_pa: float, z: Array | float) -> Array | float:
    """Pressure at height z from QNH [R 3.2]."""
    return qnh_pa * ((288.15 - 0.0065 * np.asarray(z)) / 288.15) ** 5.25588


def transfer(z0: float, height: float) -> float:
    """Mast (10 m, aerodrome) to a vehicle of this height: log law up to the blending height and down again,
    root mean square over the vehicle's own height."""
    z = np.linspace(0.12, 1.0, 12) * height
    up = math.log(BLEND_M / Z0_STATION) / math.log(10 / Z0_STATION)
    r = up * np.log(np.maximum(z, 1.3 * z0) / z0) / math.log(BLEND_M / z0)
    return float(np.sqrt(np.mean(r**2)))


@dataclass(frozen=True)
class Day:
    """True weather of the district and its relation to the station."""
    u10: float; from_deg: float; t_c: float; rh: float; qnh_pa: float; terrain: str; z0: float
    station_factor: float; station_dir: float; station_z: float; intensity: float


def make_day(rng: np.random.Generator, terrain: str, road_z: float, u10: float | None = None) -> Day:
    t = float(np.clip(rng.normal(15, 6.0), 0, 31))
    u = float(u10 if u10 is not None else 11.0 * rng.beta(1.25, 1.45))  # 0..11 m/s [task]
    return Day(u, rng.uniform(0, 360), t, rng.uniform(.4, .92), normal(rng, 1014, 8) * 100, terrain,
               lognormal(rng, Z0[terrain], Z0_SIGMA), lognormal(rng, 1, STATION_FACTOR_SIGMA),
               normal(rng, 0, STATION_DIR_SD), max(2.0, road_z + normal(rng, -20, 40)),
               normal(rng, 0.25, 0.04))  # turbulence intensity at bumper height, open country; assumed


@dataclass(frozen=True)
class RoadWind:
    """Wind as the vehicle meets it, towards-components north and east (m/s), and district 10 m wind."""
    north: Array; east: Array; u10_t: Array; from_t: Array


def road_wind(rng: np.random.Generator, day: Day, t: Array, s: Array, height: float, steady: bool = False) -> RoadWind:
    """Slow changes x shelter x profile, plus gusts along and across; `steady` leaves the first two at their
    mean square (for the self-check's analyst, who cannot know them)."""
    n = len(t)
    meso, meso_dir, sheltered = (0.0, 0.0, 0.0) if steady else (MESO_SD, MESO_DIR_SD, SHELTER_SD)
    k = max(2, int(t[-1] / 30) + 2); tc = np.arange(k) * 30.0
    u = day.u10 * np.maximum(0, 1 + meso * np.interp(t, tc, ornstein_uhlenbeck(rng, k, 30, MESO_TAU)))
    th = day.from_deg + meso_dir * np.interp(t, tc, ornstein_uhlenbeck(rng, k, 30, MESO_TAU))
    ks = int(s[-1] / 50) + 2
    shelter = (1 + 0.5 * SHELTER_SD**2 if steady else 1) + sheltered * np.interp(s, np.arange(ks) * 50.0, ornstein_uhlenbeck(rng, ks, 50, SHELTER_M))
    mean = u * transfer(day.z0, height) * np.clip(shelter, .3, 1.7)
    gu = day.intensity * mean * ornstein_uhlenbeck(rng, n, DT, 3.0)
    gv = 0.8 * day.intensity * mean * ornstein_uhlenbeck(rng, n, DT, 2.0)
    r = np.radians(th); along = mean + gu
    return RoadWind(-along * np.cos(r) + gv * np.sin(r), -along * np.sin(r) - gv * np.cos(r), u, th)


@dataclass(frozen=True)
class Report:
    """One observation: as written down."""
    second: float; speed: float; from_deg: float; gust: float | None; variable: bool; t_c: float; rh: float; pressure_pa: float


def station_report(rng: np.random.Generator, day: Day, second: float, t: Array, wind: RoadWind) -> Report:
    """Ten-minute mean at the aerodrome: district wind x its own factor, sampling scatter, then METAR rounding."""
    i = int(np.clip(np.searchsorted(t, second), 0, len(t) - 1))
    u = max(0.0, wind.u10_t[i] * day.station_factor * (1 + normal(rng, 0, 0.04)) + normal(rng, 0, 0.2))
    d = wind.from_t[i] + day.station_dir + normal(rng, 0, 4)
    g = u * normal(rng, 1.42, 0.08)   # gust factor in the open [R 3.4]
    return Report(second, u, d % 360, g, u < 1.3, day.t_c + normal(rng, 0, .5), day.rh, day.qnh_pa + normal(rng, 0, 30))
