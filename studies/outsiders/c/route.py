"""Roads: plan, profile, bends, limits, stops, shelter; and the projection to WGS-84."""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from .noise import ou

DS = 5.0  # m, grid step along the road
WGS_A, WGS_F = 6378137.0, 1 / 298.257223563  # WGS-84 definition
E2 = WGS_F * (2 - WGS_F)


def _m(lat: np.ndarray) -> np.ndarray:
    return WGS_A * (1 - E2) / (1 - E2 * np.sin(lat) ** 2) ** 1.5


def _n(lat: np.ndarray) -> np.ndarray:
    return WGS_A / np.sqrt(1 - E2 * np.sin(lat) ** 2)


def to_lat_lon(x: np.ndarray, y: np.ndarray, lat0: float, lon0: float) -> tuple[np.ndarray, np.ndarray]:
    """Gauss-Krueger inverse series about (lat0, lon0), degrees; scale error < 3e-6 within 15 km."""
    p0 = np.radians(lat0)
    m0 = _m(np.asarray(p0))
    p1 = p0 + y / _m(p0 + 0.5 * y / m0)
    t = np.tan(p1)
    n1 = _n(p1)
    lat = p1 - t * x**2 / (2 * n1 * _m(p1))
    lon = x / (n1 * np.cos(p1)) * (1 - x**2 * (1 + 2 * t**2) / (6 * n1**2))
    return np.degrees(lat), lon0 + np.degrees(lon)


@dataclass(frozen=True)
class Route:
    """A whole drive on the grid s = 0, DS, 2 DS, ..."""

    kind: str
    laps: int
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    slope: np.ndarray  # dz/ds = sin(theta)
    heading: np.ndarray  # rad, clockwise from north, unwrapped within a lap
    curvature: np.ndarray  # 1/m, absolute
    limit: np.ndarray  # m/s, what the driver aims at
    shelter: np.ndarray  # local wind factor, mean about 1
    stops: tuple[tuple[float, float], ...]  # (s, dwell in s); the last is the end
    lat0: float
    lon0: float
    terrain: str

    @property
    def length(self) -> float:
        """m."""
        return (len(self.x) - 1) * DS


def _resample(x: np.ndarray, y: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    s = np.concatenate([[0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    q = np.linspace(0, s[-1], n)
    return np.interp(q, s, x), np.interp(q, s, y)


def _smooth(a: np.ndarray, sigma_m: float, closed: bool) -> np.ndarray:
    k = np.arange(-int(4 * sigma_m / DS), int(4 * sigma_m / DS) + 1)
    w = np.exp(-0.5 * (k * DS / sigma_m) ** 2)
    w /= w.sum()
    h = len(k) // 2
    if closed:
        p = np.concatenate([a[-h:], a, a[:h]])
    else:
        p = np.concatenate([2 * a[0] - a[h:0:-1], a, 2 * a[-1] - a[-2:-h - 2:-1]])
    return np.convolve(p, w, "valid")


def _plan(rng: Generator, length: float, closed: bool) -> tuple[np.ndarray, np.ndarray]:
    """Roads between corners, each with a gentle meander, corners rounded; exact length in steps of DS."""
    n = max(int(round(length / DS)), 200)
    if closed:
        k = int(rng.integers(5, 12))
        ang = np.sort((np.arange(k) + rng.uniform(-0.35, 0.35, k)) / k * 2 * np.pi)
        r = rng.uniform(0.55, 1.3, k)
        el = rng.uniform(0.45, 1.0)
        turn = rng.uniform(0, np.pi)
        px, py = r * np.cos(ang), el * r * np.sin(ang)
        vx, vy = px * np.cos(turn) - py * np.sin(turn), px * np.sin(turn) + py * np.cos(turn)
        if rng.random() < 0.5:
            vx, vy = vx[::-1], vy[::-1]
        vx, vy = np.append(vx, vx[0]), np.append(vy, vy[0])
    else:
        k = int(rng.integers(4, 10))
        d = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.45, k))
        leg = rng.uniform(0.6, 1.6, k)
        vx, vy = np.concatenate([[0], np.cumsum(leg * np.cos(d))]), np.concatenate([[0], np.cumsum(leg * np.sin(d))])
    sc = length / np.hypot(np.diff(vx), np.diff(vy)).sum()
    xs, ys = [], []
    for i in range(len(vx) - 1):
        ax, ay, bx, by = vx[i] * sc, vy[i] * sc, vx[i + 1] * sc, vy[i + 1] * sc
        ln = float(np.hypot(bx - ax, by - ay))
        q = np.arange(0, ln, DS) / ln
        off = np.zeros_like(q)
        for j in range(1, 6):
            off += rng.normal(0, min(ln, 3000) * 0.010 / j) * np.sin(np.pi * j * q)
        xs.append(ax + (bx - ax) * q - (by - ay) / ln * off)
        ys.append(ay + (by - ay) * q + (bx - ax) / ln * off)
    x, y = np.concatenate(xs + [[vx[-1] * sc]]), np.concatenate(ys + [[vy[-1] * sc]])
    for _ in range(3):  # smooth, rescale to the exact length, resample
        x, y = _resample(x, y, n + 1)
        if closed:
            x, y = _smooth(x[:-1], 16.0, True), _smooth(y[:-1], 16.0, True)
            x, y = np.append(x, x[0]), np.append(y, y[0])
        else:
            x, y = _smooth(x, 16.0, False), _smooth(y, 16.0, False)
        f = n * DS / np.hypot(np.diff(x), np.diff(y)).sum()
        x, y = x * f, y * f
    return _resample(x, y, n + 1)


def _profile(rng: Generator, n: int, closed: bool, rms_slope: float) -> np.ndarray:
    """Heights: sum of waves, slope spectrum falling with wave number; wavelength over 400 m (assumed)."""
    s = np.arange(n) / (n - 1)
    length = (n - 1) * DS
    z = np.zeros(n)
    for k in range(1, max(3, int(length / 400)) + 1):
        q = (2 if closed else 1) * np.pi * k
        z += rng.normal() / k**1.4 * np.sin(q * s + rng.uniform(0, 2 * np.pi))
    sl = np.gradient(z, DS)
    return z * rms_slope / np.sqrt(np.mean(sl**2))


def _sections(rng: Generator, n: int, levels: list[float], p: list[float]) -> np.ndarray:
    out = np.empty(n)
    i = 0
    while i < n:
        j = i + int(rng.uniform(800, 4000) / DS)
        v = float(rng.choice(levels, p=p))
        if v < 15:
            j = min(j, i + int(rng.uniform(400, 1200) / DS))
        out[i:j] = v
        i = j
    return out


def draw_route(rng: Generator, top_speed: float) -> Route:
    """One drive of 15 to 60 km, 20 to 60 minutes. top_speed: what the vehicle holds with ease, m/s."""
    style = str(rng.choice(["steady loop", "mixed loop", "steady out-and-back", "mixed out-and-back"], p=[0.42, 0.22, 0.22, 0.14]))
    closed = style.endswith("loop")
    mixed = style.startswith("mixed")
    cruise = min(rng.uniform(62, 78) if mixed else rng.uniform(70, 104), top_speed * 3.6) / 3.6
    minutes = rng.uniform(27, 54)
    total = float(np.clip(minutes * 60 * cruise * (0.80 if mixed else 0.93), 15_500, 59_000))
    laps = int(rng.integers(2, 6)) if closed else 1
    while closed and total / laps > 18_000:
        laps += 1
    while closed and total / laps < 4_500:
        laps -= 1
    lap_len = total / laps if closed else total / 2
    x, y = _plan(rng, lap_len, closed)
    n = len(x)
    hilly = rng.random() < 0.3
    rms = rng.uniform(0.018, 0.030) if hilly else rng.uniform(0.004, 0.014)
    z = _profile(rng, n, closed, rms)
    terrain = str(rng.choice(["open", "farmland", "hedged", "suburban"], p=[0.28, 0.46, 0.20, 0.06]))
    if mixed:
        lim = np.minimum(_sections(rng, n, [50 / 3.6, 70 / 3.6, 80 / 3.6, 90 / 3.6], [0.25, 0.25, 0.3, 0.2]), max(cruise * 1.2, 50 / 3.6))
    else:
        lim = np.full(n, cruise)
        if rng.random() < 0.4:  # a village or two
            for _ in range(int(rng.integers(1, 3))):
                i = int(rng.integers(0, n - 1))
                lim[i:i + int(rng.uniform(300, 800) / DS)] = 50 / 3.6
    shelter = np.exp(0.30 * ou(rng, n, DS, 220.0))  # hedges, cuttings, gaps (assumed)
    if closed:  # blend the join
        k = min(100, n // 4)
        w = np.linspace(0, 1, k)
        shelter[-k:] = shelter[-k:] * (1 - w) + shelter[0] * w
    shelter = np.clip(shelter / shelter.mean(), 0.35, 1.7)
    gx, gy = np.gradient(x), np.gradient(y)
    if closed:
        for g, a in ((gx, x), (gy, y)):
            g[0] = g[-1] = 0.5 * (a[1] - a[-2])
    head = np.unwrap(np.arctan2(gx, gy))
    kap = np.abs(_smooth(np.gradient(head, DS), 8.0, False)) if not closed else np.abs(_smooth(np.gradient(head, DS)[:-1], 8.0, True))
    if closed:
        kap = np.append(kap, kap[0])
    sl = np.gradient(z, DS)
    # stops belong to places, so each lap meets them; a red light is met only sometimes
    places = np.sort(rng.uniform(300, lap_len - 300, rng.poisson(lap_len / (3500 if mixed else 30_000))))
    stops: list[tuple[float, float]] = []
    if closed:
        def cat(a: np.ndarray) -> np.ndarray:
            return np.concatenate([np.tile(a[:-1], laps), a[-1:]])
        arr = [cat(a) for a in (x, y, z, sl, head, kap, lim, shelter)]
        for lap in range(laps):
            stops += [(lap * (n - 1) * DS + p, rng.uniform(3, 30)) for p in places if rng.random() < 0.7]
    else:
        arr = [np.concatenate([a, b[-2::-1]]) for a, b in
               ((x, x), (y, y), (z, z), (sl, -sl), (head, head + np.pi), (kap, kap), (lim, lim), (shelter, shelter))]
        half = (n - 1) * DS
        stops += [(p, rng.uniform(3, 30)) for p in places if rng.random() < 0.7] + [(half, rng.uniform(8, 25))]
        stops += [(2 * half - p, rng.uniform(3, 30)) for p in places[::-1] if rng.random() < 0.7]
    full = (len(arr[0]) - 1) * DS
    stops.append((full, 0.0))
    keep: list[tuple[float, float]] = []
    for p, dwell in sorted(stops):
        if (not keep or p - keep[-1][0] > 150) and (p == full or full - p > 150):
            keep.append((p, dwell))
    if keep[-1][0] != full:
        keep.append((full, 0.0))
    arr[2] = arr[2] - arr[2].min() + rng.uniform(15, 250)
    return Route(style, laps, *arr, tuple(keep), float(rng.uniform(44, 58)), float(rng.uniform(-4, 20)), terrain)
