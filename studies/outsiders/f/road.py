"""Routes on the ellipsoid, and a driver on them."""
from dataclasses import dataclass
import math
import numpy as np
from .randoms import Array, ornstein_uhlenbeck, normal

WGS_A, WGS_E2 = 6378137.0, 6.69437999014e-3  # WGS-84
DT = 0.2   # s, physics step
DS = 2.0   # m, speed-plan step


@dataclass(frozen=True)
class Route:
    """Whole drive as a polyline: distance along the road (3-D), position, height, heading, curvature."""
    kind: str; s: Array; lat: Array; lon: Array; ele: Array; heading: Array; grade: Array; curvature: Array
    lap_m: float; laps: int


def _metric(lat_deg: Array) -> tuple[Array, Array]:
    """Metres per degree north and east at a latitude (WGS-84)."""
    p = np.radians(lat_deg); w2 = 1 - WGS_E2 * np.sin(p) ** 2
    return np.pi / 180 * WGS_A * (1 - WGS_E2) / w2**1.5, np.pi / 180 * WGS_A / np.sqrt(w2) * np.cos(p)


def make_route(rng: np.random.Generator, kind: str, total_m: float) -> Route:
    """A closed loop of some laps, or out and back; hills with a realistic spectrum."""
    laps = int(rng.integers(2, 5)) if kind != "out-and-back" else 1
    leg = total_m / laps if kind != "out-and-back" else total_m / 2
    m = 6000
    u = np.linspace(0, 1, m + 1)
    if kind != "out-and-back":
        stretch, turn = rng.uniform(1, 2.2), rng.uniform(0, math.pi)
        r = np.ones(m + 1)
        for h in range(2, 12):
            r += 0.30 / h**1.05 * rng.standard_normal() * np.cos(2 * math.pi * (h * u + rng.random()))
        r = np.maximum(r, 0.35)
        x0, y0 = stretch * r * np.cos(2 * math.pi * u), r * np.sin(2 * math.pi * u)
        sense = 1 if rng.random() < .5 else -1
        x, y = x0 * math.cos(turn) - sense * y0 * math.sin(turn), x0 * math.sin(turn) + sense * y0 * math.cos(turn)
    else:
        ang = rng.uniform(0, 2 * math.pi) + sum(
            rng.normal(0, 0.45 / h**0.7) * np.cos(math.pi * (h * u + 2 * rng.random())) for h in range(1, 12))
        x, y = np.cumsum(np.cos(ang)) / m, np.cumsum(np.sin(ang)) / m
    length = np.sum(np.hypot(np.diff(x), np.diff(y)))
    x, y = (x - x[0]) * leg / length, (y - y[0]) * leg / length
    lat0, lon0 = rng.uniform(46, 57), rng.uniform(2, 20)
    lat = lat0 + y / _metric(np.array(lat0))[0]
    lon = lon0 + x / _metric(lat)[1]
    hilly = float(rng.choice([0.35, 0.8, 1.5, 2.3], p=[.3, .35, .2, .15])) / 100  # rms grade; assumed mix
    d = np.zeros(m + 1); top = max(4, int(leg / 700))
    for h in range(1, top):
        d += rng.standard_normal() / h**1.0 * np.cos(2 * math.pi * (h * u + rng.random()))
    g0 = np.gradient(d, leg / m); d *= hilly / np.sqrt(np.mean(g0**2))
    if kind == "out-and-back":
        lat, lon, d = (np.concatenate([a, a[-2::-1]]) for a in (lat, lon, d))
    ele0 = rng.uniform(30, 350)
    d = d - d[0]
    ele0 = max(ele0, 15 - d.min())
    if laps > 1:
        lat, lon, d = (np.concatenate([np.tile(a[:-1], laps), a[:1]]) for a in (lat, lon, d))
    my, mx = _metric(0.5 * (lat[1:] + lat[:-1]))
    dn, de = np.diff(lat) * my, np.diff(lon) * mx
    flat = np.hypot(dn, de)
    ds = np.hypot(flat, np.diff(d)); s = np.concatenate([[0], np.cumsum(ds)])
    hd = np.unwrap(np.arctan2(de, dn)); hd = np.concatenate([hd, hd[-1:]])
    kappa = np.abs(np.gradient(hd, s))
    grade = np.interp(s, 0.5 * (s[1:] + s[:-1]), np.diff(d) / flat)
    if kind == "out-and-back":  # a slow turn in a lay-by at the far end
        kappa[np.argmin(np.abs(s - s[-1] / 2))] = 0.15
    return Route(kind, s, lat, lon, ele0 + d, hd, grade, kappa, s[-1] / laps, laps)


@dataclass(frozen=True)
class Driver:
    """A driver's habits: m/s^2, m/s, rpm."""
    accel: float; brake: float; lateral: float; wander: float; wander_m: float; n_low: float; cruise: float


def make_driver(rng: np.random.Generator, n_idle: float, diesel: bool, cruise: float) -> Driver:
    return Driver(rng.uniform(.55, 1.1), rng.uniform(.8, 1.5), rng.uniform(1.6, 2.6), rng.uniform(.012, .035),
                  rng.uniform(300, 800), rng.uniform(1300, 1600) if diesel else rng.uniform(1450, 1900), cruise)


@dataclass(frozen=True)
class Plan:
    """Speed limits and stops along one lap (so the same on every lap and every day)."""
    limit_s: Array; limit: Array; stops_m: Array


def make_plan(rng: np.random.Generator, lap_m: float, cruise: float, mixed: bool) -> Plan:
    n = max(3, int(lap_m / 2500)); edges = np.sort(rng.uniform(0, lap_m, n))
    lim = np.clip(rng.normal(1.0, 0.07 if not mixed else 0.12, n), .65, 1.15) * cruise
    village = rng.random(n) < (0.05 if not mixed else 0.3)
    lim = np.where(village, rng.uniform(12.5, 15, n), lim)
    k = int(rng.poisson(lap_m / 3500 if mixed else lap_m / 14000))
    return Plan(edges, lim, np.sort(rng.uniform(400, lap_m - 400, k)))


@dataclass(frozen=True)
class Trace:
    """The drive, sampled every DT: all arrays of one length."""
    t: Array; s: Array; v: Array; a: Array; lat: Array; lon: Array; ele: Array; heading: Array; grade: Array


def drive(rng: np.random.Generator, route: Route, plan: Plan, drv: Driver, power_to_mass: float) -> Trace:
    """Speed against time: limits, bends, stops and wander in distance, then integrated in time."""
    n = int(route.s[-1] / DS); s = np.linspace(0, route.s[-1], n + 1); ds = s[1]
    where = np.searchsorted(plan.limit_s, np.mod(s, route.lap_m)) % len(plan.limit)
    target = plan.limit[where] * (1 + drv.wander * ornstein_uhlenbeck(rng, n + 1, ds, drv.wander_m))
    kap = np.interp(s, route.s, route.curvature)
    target = np.minimum(target, np.sqrt(drv.lateral / np.maximum(kap, 1e-5)))
    dwell = np.zeros(n + 1)
    for lap in range(route.laps):
        for p in plan.stops_m:
            i = int((p + lap * route.lap_m) / ds)
            if 0 < i < n and rng.random() < 0.85:
                target[i] = 0.0; dwell[i] = rng.uniform(4, 22)
    target[0] = target[-1] = 0.0
    v = target.tolist(); hill = np.interp(s, route.s, route.grade).tolist()
    for i in range(1, n + 1):   # what the engine spares after hill, tyres and air (0.12 + 0.00035 u^2, m/s^2: a rough car)
        u = v[i - 1]
        spare = 0.65 * power_to_mass / max(u, 4.0) - 9.81 * hill[i] - 0.12 - 0.00035 * u * u
        a = max(min(drv.accel * max(0.25, 1 - u / 60), spare), -0.3 if u > 7 else 0.1)
        v[i] = min(v[i], math.sqrt(max(u * u + 2 * a * ds, 0.04)))
    for i in range(n - 1, -1, -1):
        v[i] = min(v[i], math.sqrt(v[i + 1] ** 2 + 2 * drv.brake * ds))
    va = np.array(v)
    cell = ds / np.maximum(0.5 * (va[1:] + va[:-1]), 0.05)
    dwell[0], dwell[-1] = rng.uniform(12, 30), rng.uniform(6, 15)
    arrive = np.concatenate([[0], np.cumsum(cell + dwell[:-1])]); leave = arrive + dwell
    tt = np.column_stack([arrive, leave]).ravel(); vv = np.repeat(va, 2)
    t = np.arange(0, math.floor(tt[-1]) + 1, DT)
    vt = np.interp(t, tt, vv)
    w = np.hanning(17); w /= w.sum()
    vt = np.convolve(np.pad(vt, 8), w, "same")[8:-8]; vt[vt < 0.01] = 0.0; vt[0] = vt[-1] = 0.0
    st = np.concatenate([[0], np.cumsum(0.5 * (vt[1:] + vt[:-1]) * DT)])
    scale = min(1.0, route.s[-1] / st[-1]); vt, st = vt * scale, st * scale
    f = lambda y: np.interp(st, route.s, y)
    return Trace(t, st, vt, np.gradient(vt, DT), f(route.lat), f(route.lon), f(route.ele), f(route.heading), f(route.grade))
