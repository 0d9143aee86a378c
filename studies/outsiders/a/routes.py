"""Invented roads: plan, height, speed limits, stops. Arrays on a 2 m grid over the whole drive."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np

DS = 2.0  # m


@dataclass(frozen=True)
class Route:
    kind: str
    laps: int
    x: np.ndarray        # m east, one lap
    y: np.ndarray        # m north
    z: np.ndarray        # m
    limit: np.ndarray    # m/s, one lap, law and custom
    corner: np.ndarray   # 1/m curvature, one lap
    junctions: tuple[int, ...]  # indices where one might have to stop
    closed: bool

    @property
    def lap_length(self) -> float:
        return len(self.x) * DS


def _resample(px: np.ndarray, py: np.ndarray, closed: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if closed:
        px, py = np.append(px, px[0]), np.append(py, py[0])
    s = np.concatenate([[0], np.cumsum(np.hypot(np.diff(px), np.diff(py)))])
    n = int(round(s[-1] / DS))
    q = np.arange(n) * (s[-1] / n)
    k = DS / (s[-1] / n)  # so that the grid step is DS exactly
    return np.interp(q, s, px) * k, np.interp(q, s, py) * k, s


def _smooth(a: np.ndarray, sigma_m: float, closed: bool) -> np.ndarray:
    h = int(4 * sigma_m / DS)
    k = np.exp(-0.5 * (np.arange(-h, h + 1) * DS / sigma_m) ** 2)
    k /= k.sum()
    if closed:
        return np.convolve(np.concatenate([a[-h:], a, a[:h]]), k, "valid")
    pre = 2 * a[0] - a[h:0:-1]
    post = 2 * a[-1] - a[-2:-h - 2:-1]
    return np.convolve(np.concatenate([pre, a, post]), k, "valid")


def _curvature(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    hd = np.unwrap(np.arctan2(np.gradient(y), np.gradient(x)))
    return np.abs(np.gradient(hd)) / DS


def _heights(n: int, length: float, rms_grade: float, rng: np.random.Generator, periodic: bool) -> np.ndarray:
    """Sum of waves 400 m to 6 km; spectrum assumed, scaled to the rms grade."""
    s = np.arange(n) / n
    z = np.zeros(n)
    kmax = max(3, int(length / 400))
    kmin = max(1, int(length / 6000))
    for k in range(kmin, kmax + 1):
        amp = rng.normal(0, 1) / k ** 1.3
        f = k if periodic else k + rng.uniform(-.3, .3)
        z += amp * np.sin(2 * math.pi * f * s + rng.uniform(0, 2 * math.pi))
    g = np.gradient(z) / (length / n)
    return z * rms_grade / max(float(np.sqrt(np.mean(g ** 2))), 1e-9)


def draw_route(rng: np.random.Generator, distance: float, style: str, hilly: float) -> Route:
    """style: 'country loop', 'mixed loop' or 'out and back'; hilly = rms grade."""
    if style == "out and back":
        length = distance / 2
        nv = max(4, int(length / rng.uniform(900, 2500)))
        ang = rng.uniform(0, 2 * math.pi) + np.cumsum(rng.normal(0, .35, nv)) * .6
        seg = rng.dirichlet(np.full(nv, 3.0)) * length
        px = np.concatenate([[0], np.cumsum(seg * np.cos(ang))])
        py = np.concatenate([[0], np.cumsum(seg * np.sin(ang))])
        x, y, _ = _resample(px, py, False)
        x, y = _smooth(x, 45, False), _smooth(y, 45, False)
        z = _heights(len(x), length, hilly, rng, False)
        hx, hy = np.gradient(x), np.gradient(y)
        nrm = np.hypot(hx, hy)
        r = 8.0  # m, half the width of a turning place, assumed
        ox, oy = x + r * hy / nrm, y - r * hx / nrm
        bx, by = (x - r * hy / nrm)[::-1], (y + r * hx / nrm)[::-1]
        t = np.linspace(0, math.pi, 14)[1:-1]
        cx, cy, a0 = x[-1], y[-1], math.atan2(oy[-1] - y[-1], ox[-1] - x[-1])
        ax, ay = cx + r * np.cos(a0 + t), cy + r * np.sin(a0 + t)
        rx, ry = np.concatenate([ox, ax, bx]), np.concatenate([oy, ay, by])
        rz = np.concatenate([z, np.full(len(ax), z[-1]), z[::-1]])
        s = np.concatenate([[0], np.cumsum(np.hypot(np.diff(rx), np.diff(ry)))])
        n = int(s[-1] / DS)
        q = np.arange(n) * DS
        lim_half = _limits(len(x), "country" if rng.random() < .6 else "mixed", rng)
        lim = np.interp(q, s, np.concatenate([lim_half, np.full(len(ax), lim_half[-1]), lim_half[::-1]]))
        X, Y, Z = np.interp(q, s, rx), np.interp(q, s, ry), _smooth(np.interp(q, s, rz), 15, False)
        cur = _smooth(_curvature(X, Y), 6, False)
        junctions = tuple(int(i) for i in np.linspace(0, n - 1, nv + 2)[1:-1])
        return Route(style, 1, X, Y, Z, lim, cur, junctions, False)
    laps = max(1, int(round(distance / rng.uniform(5000, 15000))))
    lap = distance / laps
    nv = int(np.clip(lap / rng.uniform(900, 2200), 4, 14))
    th = (np.arange(nv) + rng.uniform(-.3, .3, nv)) / nv * 2 * math.pi
    rad = rng.uniform(.7, 1.3, nv)
    ecc = rng.uniform(.35, 1.0)  # long thin loops are common
    rot = rng.uniform(0, math.pi)
    px, py = rad * np.cos(th), ecc * rad * np.sin(th)
    px, py = px * math.cos(rot) - py * math.sin(rot), px * math.sin(rot) + py * math.cos(rot)
    if rng.random() < .5:
        px, py = px[::-1], py[::-1]
    per = np.hypot(np.diff(np.append(px, px[0])), np.diff(np.append(py, py[0]))).sum()
    px, py = px * lap / per, py * lap / per
    qx, qy, kinds = [], [], []
    for i in range(nv):  # ordinary bends are cut over 60-200 m, junctions stay tight
        p, c, nx_ = np.array([px[i - 1], py[i - 1]]), np.array([px[i], py[i]]), np.array([px[(i + 1) % nv], py[(i + 1) % nv]])
        if rng.random() < (.3 if style == "country loop" else .6):
            qx.append(c[0]); qy.append(c[1]); kinds.append((c, True))
        else:
            d = rng.uniform(60, 200)
            a = c + (p - c) / np.hypot(*(p - c)) * min(d, .4 * np.hypot(*(p - c)))
            b = c + (nx_ - c) / np.hypot(*(nx_ - c)) * min(d, .4 * np.hypot(*(nx_ - c)))
            for t in np.linspace(0, 1, 9):
                q = (1 - t) ** 2 * a + 2 * t * (1 - t) * c + t * t * b
                qx.append(q[0]); qy.append(q[1])
    x, y, s = _resample(np.array(qx), np.array(qy), True)
    x, y = _smooth(x, 12, True), _smooth(y, 12, True)
    x, y, _ = _resample(x, y, True)
    n = len(x)
    z = _heights(n, n * DS, hilly, rng, True)
    cur = _curvature(np.concatenate([x[-20:], x, x[:20]]), np.concatenate([y[-20:], y, y[:20]]))[20:-20]
    jn = tuple(int(np.argmin((x - c[0]) ** 2 + (y - c[1]) ** 2)) for c, k in kinds if k)
    extra = tuple(int(i) for i in rng.integers(0, n, int(lap / 4000))) if style == "mixed loop" else ()
    return Route(style, laps, x, y, z, _limits(n, "mixed" if style == "mixed loop" else "country", rng), cur, tuple(sorted(set(jn + extra))), True)


def _limits(n: int, style: str, rng: np.random.Generator) -> np.ndarray:
    """Sections 0.6-4 km with their own limit, km/h (assumed: villages 50, lanes 60-80, main roads 90-100)."""
    out = np.empty(n)
    i = 0
    while i < n:
        m = int(rng.uniform(600, 4000) / DS)
        p = (.12, .18, .45, .25) if style == "country" else (.35, .30, .27, .08)
        v = float(rng.choice([50, 65, 80, 92], p=p))
        if v == 50:
            m //= 2
        out[i:i + m] = v / 3.6
        i += m
    return out
