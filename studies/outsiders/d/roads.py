"""Invented roads: closed loops and out-and-backs, with hills, bends, junctions; geometry on the WGS-84 ellipsoid."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np

Rng = np.random.Generator
A_WGS, F_WGS = 6378137.0, 1 / 298.257223563
E2 = F_WGS * (2 - F_WGS)
STEP = 4.0   # m, distance grid


def radii(lat_deg: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
    """Meridian and prime-vertical radii of curvature, m."""
    s = np.sin(np.radians(lat_deg))
    w = np.sqrt(1 - E2 * s * s)
    return A_WGS * (1 - E2) / w ** 3, A_WGS / w


@dataclass(frozen=True)
class Road:
    """One lap (or one out-and-back) on a grid of driven distance."""
    s: np.ndarray; lat: np.ndarray; lon: np.ndarray; z: np.ndarray
    heading: np.ndarray          # rad, clockwise from north, unwrapped
    curvature: np.ndarray        # 1/m
    grade: np.ndarray            # dz / horizontal
    kind: str
    slow: list[tuple[float, float]]   # (distance, speed m/s) junctions, villages; same on every lap
    stops: list[float]                # places where one may have to stop
    turn: float | None                # distance of the turning point
    shelter: np.ndarray          # local wind factor, mean 1

    @property
    def length(self) -> float:
        return float(self.s[-1])


def _heights(rng: Rng, s: np.ndarray, length: float, rms_grade: float, base: float) -> np.ndarray:
    z = np.zeros_like(s)
    for k in range(1, max(3, int(length / 700)) + 1):
        z += k ** -1.25 * rng.normal() * np.cos(2 * math.pi * k * s / length + rng.uniform(0, 2 * math.pi))
    g = np.gradient(z, s)
    return base + (z - z.mean()) * rms_grade / max(1e-9, float(np.sqrt(np.mean(g * g))))


def make_road(rng: Rng, kind: str, length: float, rms_grade: float, n_slow: int, n_stops: int,
              base: float) -> Road:
    """``kind`` is 'loop' or 'out_and_back'; ``length`` the lap length wanted (out and back together)."""
    if kind == "loop":
        th = np.linspace(0, 2 * math.pi, 6001)
        r = np.ones_like(th)
        for k in range(2, 9):
            r += rng.normal() * 0.14 / k ** 0.7 * np.cos(k * th + rng.uniform(0, 2 * math.pi))
        for k in range(9, 41):
            r += rng.normal() * 0.035 / (k / 9) ** 1.6 * np.cos(k * th + rng.uniform(0, 2 * math.pi))
        r = np.maximum(r, 0.25)
        asp, rot = rng.uniform(1, 1.8), rng.uniform(0, 2 * math.pi)
        sgn = rng.choice([-1, 1])
        x0, y0 = asp * r * np.cos(sgn * th), r * np.sin(sgn * th)
        x, y = x0 * math.cos(rot) - y0 * math.sin(rot), x0 * math.sin(rot) + y0 * math.cos(rot)
    else:
        u = np.linspace(0, 1, 6001)
        lat_ = np.zeros_like(u)
        for k in range(1, 25):
            lat_ += rng.normal() * 0.10 / k ** 1.5 * np.cos(2 * math.pi * k * u / 1.3 + rng.uniform(0, 2 * math.pi))
        rot = rng.uniform(0, 2 * math.pi)
        x, y = u * math.cos(rot) - lat_ * math.sin(rot), u * math.sin(rot) + lat_ * math.cos(rot)
    lat0, lon0 = rng.uniform(44, 58), rng.uniform(-4, 22)

    def to_ellipsoid(scale: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        m0, _ = radii(lat0)
        lat = lat0 + np.degrees(scale * (y - y[0]) / m0)
        _, n = radii(lat)
        lon = lon0 + np.degrees(scale * (x - x[0]) / (n * np.cos(np.radians(lat))))
        mid = (lat[1:] + lat[:-1]) / 2
        mm, nn = radii(mid)
        dn, de = mm * np.radians(np.diff(lat)), nn * np.cos(np.radians(mid)) * np.radians(np.diff(lon))
        return lat, lon, np.concatenate([[0], np.cumsum(np.hypot(dn, de))])

    want = length if kind == "loop" else length / 2
    scale = want / float(np.sum(np.hypot(np.diff(x), np.diff(y))))
    lat, lon, h = to_ellipsoid(scale)
    hg = np.linspace(0, h[-1], int(h[-1] / STEP) + 1)
    lat, lon = np.interp(hg, h, lat), np.interp(hg, h, lon)
    z = _heights(rng, hg, hg[-1] if kind == "loop" else hg[-1] * 1.4, rms_grade, base)
    mm, nn = radii(lat)
    de = np.gradient(np.radians(lon), hg) * nn * np.cos(np.radians(lat))
    dn = np.gradient(np.radians(lat), hg) * mm
    ker = np.hanning(13); ker /= ker.sum()
    heading = np.unwrap(np.arctan2(de, dn))
    pad = np.concatenate([np.full(6, heading[0]), heading, np.full(6, heading[-1])])
    heading = np.convolve(pad, ker, "valid")
    curv = np.abs(np.gradient(heading, hg))
    grade = np.gradient(z, hg)
    nsh = rng.normal(size=hg.size)
    kk = np.hanning(int(600 / STEP)); kk /= np.sqrt(np.sum(kk ** 2))
    shelter = np.clip(1 + 0.15 * np.convolve(nsh, kk, "same"), 0.5, 1.5)     # hedges, cuttings: assumed 15 %, 300 m
    turn = None
    if kind != "loop":
        turn_h = hg[-1]
        hg = np.concatenate([hg, turn_h + (turn_h - hg[::-1])[1:]])
        lat, lon, z = (np.concatenate([a, a[::-1][1:]]) for a in (lat, lon, z))
        heading = np.concatenate([heading, heading[::-1][1:] + math.pi])
        curv, shelter = (np.concatenate([a, a[::-1][1:]]) for a in (curv, shelter))
        grade = np.concatenate([grade, -grade[::-1][1:]])
    ds = np.hypot(np.diff(hg), np.diff(z))
    s = np.concatenate([[0], np.cumsum(ds)])
    if kind != "loop":
        turn = float(s[s.size // 2])
    slow = [(float(rng.uniform(0.04, 0.96) * s[-1]), float(rng.uniform(5.5, 12.0))) for _ in range(n_slow)]
    stops = [float(rng.uniform(0.05, 0.95) * s[-1]) for _ in range(n_stops)]
    return Road(s, lat, lon, z, heading, curv, grade, kind, slow, stops, turn, shelter)


def straight_road(rng: Rng, length: float, slope: float, base: float) -> Road:
    """A test straight with a mean slope and some undulation."""
    hg = np.arange(0, length + 2, 2.0)
    hd = rng.uniform(0, 2 * math.pi)
    lat0, lon0 = rng.uniform(44, 58), rng.uniform(-4, 22)
    m0, n0 = radii(lat0)
    lat = lat0 + np.degrees(hg * math.cos(hd) / m0)
    lon = lon0 + np.degrees(hg * math.sin(hd) / (n0 * np.cos(np.radians((lat + lat0) / 2))))
    z = base + slope * hg + 0.15 * np.sin(2 * math.pi * hg / rng.uniform(600, 1100) + rng.uniform(0, 6.28))
    return Road(hg, lat, lon, z, np.full_like(hg, hd), np.zeros_like(hg), np.gradient(z, hg), "straight", [], [], None,
                np.ones_like(hg))
