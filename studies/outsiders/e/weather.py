"""The day: station, road and what is reported."""
from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.random import Generator

from . import air
from .physics import Trace
from .route import Route

KNOT = 0.514444


@dataclass(frozen=True)
class Day:
    """Truth of one day."""
    start_utc: datetime
    mast_wind: np.ndarray        # (minutes, 2) station 10 m wind blowing to east, north, m/s; 1 per minute from -60 min
    road_scale: float            # road's regional 10 m wind / station
    road_turn: float             # rad
    road_extra: np.ndarray       # (minutes, 2) decorrelated part
    z0_m: float
    terrain: str
    temperature_c: float
    rh: float
    qnh_pa: float
    station_elevation_m: float
    road_elevation_m: float

    @property
    def road_pressure_pa(self) -> float:
        return self.qnh_pa * air.pressure_ratio(self.road_elevation_m)

    @property
    def rho(self) -> float:
        return air.air_density(self.temperature_c, self.road_pressure_pa, self.rh)


def _ou(rng: Generator, n: int, dt: float, tau: float, sd: float) -> np.ndarray:
    out, x = np.empty(n), rng.normal(0, sd)
    a = math.exp(-dt / tau)
    for i, e in enumerate(rng.normal(0, sd * math.sqrt(1 - a * a), n)):
        out[i] = x
        x = a * x + e
    return out


def draw_day(rng: Generator, start_utc: datetime, mast_speed: float, road_elevation_m: float, terrain: str, z0_m: float,
             temperature_c: float) -> Day:
    n = 240
    frm = rng.uniform(0, 2 * math.pi)
    speed = mast_speed * (1 + _ou(rng, n, 1, 40, .10)) + .2 * _ou(rng, n, 1, 40, 1)   # lulls and freshening over tens of minutes [A]
    turn = frm + _ou(rng, n, 1, 45, math.radians(8) + min(.4, .25 / max(mast_speed, .5)))
    speed = np.abs(speed)
    mast = np.stack([-speed * np.sin(turn), -speed * np.cos(turn)], 1)
    extra_sd = .25 + .05 * mast_speed                                               # some km apart [A]
    extra = np.stack([_ou(rng, n, 1, 30, extra_sd) for _ in range(2)], 1)
    return Day(start_utc, mast, float(np.exp(rng.normal(0, .10))), rng.normal(0, math.radians(8)), extra, z0_m, terrain,
               temperature_c, float(np.clip(rng.normal(.70 - .006 * (temperature_c - 12), .12), .3, .97)),
               rng.normal(101_500, 900), max(2.0, round(road_elevation_m + rng.normal(0, 40))), road_elevation_m)


def road_wind_10m(day: Day) -> np.ndarray:
    c, s = math.cos(day.road_turn), math.sin(day.road_turn)
    e, n = day.mast_wind[:, 0], day.mast_wind[:, 1]
    return day.road_scale * np.stack([e * c + n * s, -e * s + n * c], 1) + day.road_extra


def wind_at_vehicle(day: Day, trace: Trace, route: Route, height_m: float, rng: Generator, shelter_seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean by profile, shelter along the road (hedges, cuttings: the same each lap), turbulence met at the moving vehicle."""
    t = np.arange(len(trace.v)) * trace.dt
    grid = np.arange(day.mast_wind.shape[0]) * 60.0 - 3600.0
    w = road_wind_10m(day)
    e10, n10 = np.interp(t, grid, w[:, 0]), np.interp(t, grid, w[:, 1])
    f = air.profile_factor(height_m, day.z0_m)
    srng = np.random.default_rng(shelter_seed)
    cells = int(route.length / 25) + 2
    shelter = _ou(srng, cells, 25, 250, .22)
    veer = _ou(srng, cells, 25, 250, .15)
    pos, _ = route.fold(np.clip(trace.s, 0, route.total - 1e-6))
    at = np.arange(cells) * 25.0
    k = f * np.clip(1 + np.interp(pos, at, shelter), .2, 1.8)
    d = np.interp(pos, at, veer)
    e, n = k * (e10 * np.cos(d) + n10 * np.sin(d)), k * (-e10 * np.sin(d) + n10 * np.cos(d))
    u10 = float(np.mean(np.hypot(e10, n10)))
    ustar = 0.4 * u10 / math.log(10 / day.z0_m)
    scale = 25.0                                          # m, integral length near the ground [H]
    sd_u, sd_v = 2.0 * ustar, 1.6 * ustar                 # near-neutral surface layer, less what is too small to act [H]
    phi = np.exp(-trace.dt * np.maximum(trace.v, 1 + f * u10) / scale)
    gain = np.sqrt(1 - phi ** 2)
    eu, ev = rng.normal(0, 1, len(t)) * gain, rng.normal(0, 1, len(t)) * gain
    a = b = 0.0
    gu, gv = np.empty_like(t), np.empty_like(t)
    for i, (p, x, y) in enumerate(zip(phi.tolist(), eu.tolist(), ev.tolist())):
        a, b = p * a + x, p * b + y
        gu[i], gv[i] = a, b
    ang = math.atan2(float(np.mean(e10)), float(np.mean(n10)))
    gu, gv = gu * sd_u, gv * sd_v
    return e + gu * math.sin(ang) + gv * math.cos(ang), n + gu * math.cos(ang) - gv * math.sin(ang)


def metar(day: Day, when: datetime, rng: Generator, station: str = "ZZAA") -> str:
    """One report: 10-minute mean, rounded to a knot and ten degrees."""
    m = (when - day.start_utc).total_seconds() / 60 + 60
    i = int(np.clip(m, 10, day.mast_wind.shape[0] - 1))
    e, n = day.mast_wind[max(0, i - 10):i + 1].mean(0)
    speed = math.hypot(e, n) * rng.normal(1, .03)
    frm = math.degrees(math.atan2(-e, -n) + rng.normal(0, math.radians(3))) % 360
    kt = int(round(speed / KNOT))
    d = int(round(frm / 10)) % 36 * 10 or 360
    if kt == 0:
        wind = "00000KT"
    elif kt <= 2 and rng.random() < .6:
        wind = f"VRB{kt:02d}KT"
    else:
        gust = int(round(kt * rng.normal(1.48, .10)))
        wind = f"{d:03d}{kt:02d}" + (f"G{gust:02d}" if gust - kt >= 10 else "") + "KT"
    t = day.temperature_c + rng.normal(0, .6)
    td = min(air.dew_point_c(day.temperature_c, day.rh) + rng.normal(0, .6), t)

    def two(x: float) -> str:
        r = int(round(x))
        return f"M{-r:02d}" if r < 0 else f"{r:02d}"
    cloud = str(rng.choice(["SCT030", "FEW025", "BKN040", "SCT035 BKN060", "FEW040"]))
    return f"METAR {station} {when:%d%H%M}Z {wind} 9999 {cloud} {two(t)}/{two(td)} Q{int(day.qnh_pa / 100):04d}"


def metars(day: Day, duration_s: float, rng: Generator) -> list[str]:
    """Half-hourly or hourly reports from before the start to after the end."""
    half = rng.random() < .6
    t = day.start_utc.replace(second=0)
    while t.minute not in ((20, 50) if half else (50,)):     # the last report before the start
        t -= timedelta(minutes=1)
    out, end = [], day.start_utc + timedelta(seconds=duration_s) + timedelta(minutes=30 if half else 60)
    step = timedelta(minutes=30 if half else 60)
    while t <= end:
        out.append(metar(day, t, rng))
        t += step
    return out
