"""Invented roads: closed country loops, mixed roads with stops, out-and-backs, some hilly."""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

A_M, E2 = 6378137.0, 6.69437999014e-3     # WGS-84


@dataclass(frozen=True)
class Route:
    """One base path on a grid of true distance along the road."""
    kind: str               # loop | out_and_back
    s: np.ndarray           # m, along the road (with the slope)
    lat: np.ndarray         # rad
    lon: np.ndarray
    z: np.ndarray
    grade: np.ndarray       # sin(slope)
    heading: np.ndarray
    curve_radius: np.ndarray
    limit: np.ndarray       # m/s
    stops: tuple[float, ...]
    repeats: int            # laps, or there-and-back trips

    @property
    def length(self) -> float:
        return float(self.s[-1])

    @property
    def total(self) -> float:
        return self.length * self.repeats * (2 if self.kind == "out_and_back" else 1)

    def fold(self, dist: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Driven distance -> (position on the base path, +1 forth / -1 back)."""
        if self.kind == "loop":
            return np.mod(dist, self.length), np.ones_like(dist)
        q = np.mod(dist, 2 * self.length)
        back = q > self.length
        return np.where(back, 2 * self.length - q, q), np.where(back, -1.0, 1.0)


def _heights(s: np.ndarray, length: float, rms_grade: float, rng: Generator) -> np.ndarray:
    """Sum of waves of 500 m to the length of the road, periodic, steeper weight on middle waves."""
    z = np.zeros_like(s)
    for k in range(1, max(4, int(length / 500)) + 1):
        wave = length / k
        z += (wave / length) * np.exp(-600.0 / wave) * rng.normal() * np.sin(2 * np.pi * k * s / length + rng.uniform(0, 6.28)) * k ** .25
    g = np.gradient(z, s)
    return z * rms_grade / max(float(np.sqrt(np.mean(g ** 2))), 1e-9)


def draw_route(rng: Generator, style: str, distance_m: float, speed_cap: float) -> Route:
    kind = "out_and_back" if style == "out_and_back" else "loop"
    if kind == "loop":
        repeats = int(rng.integers(2, 6)) if style == "loop" else int(rng.integers(1, 3))
        length = distance_m / repeats
        phi = np.linspace(0, 2 * np.pi, 6001)
        r = np.ones_like(phi)
        for k in range(2, 15):
            r += 0.34 / k ** 1.25 * rng.normal() * .8 * np.cos(k * phi + rng.uniform(0, 6.28))
        r = np.clip(r, .35, None)
        st = rng.uniform(.6, 1.4)
        x, y = r * np.cos(phi) * st, r * np.sin(phi) / st
        rot = rng.uniform(0, 6.28)
        x, y = x * np.cos(rot) - y * np.sin(rot), x * np.sin(rot) + y * np.cos(rot)
        x, y = x - x[0], y - y[0]
    else:
        repeats, length = 1, distance_m / 2
        n = 6001
        head = rng.uniform(0, 6.28) + sum(rng.normal(0, .55 / k ** .8) * np.sin(k * np.linspace(0, 3.14, n) + rng.uniform(0, 6.28)) for k in range(1, 18))
        x, y = np.cumsum(np.sin(head)), np.cumsum(np.cos(head))
        x, y = x - x[0], y - y[0]
    scale = length / np.sum(np.hypot(np.diff(x), np.diff(y)))
    x, y = x * scale, y * scale
    lat0 = np.radians(rng.uniform(38, 58))
    # the mapping defines the road; the true length is then taken on the ellipsoid
    m0 = A_M * (1 - E2) / (1 - E2 * np.sin(lat0) ** 2) ** 1.5
    lat = lat0 + y / m0
    lon = np.radians(rng.uniform(-5, 20)) + x / (A_M / np.sqrt(1 - E2 * np.sin(lat0) ** 2) * np.cos(lat0))
    lm = (lat[1:] + lat[:-1]) / 2
    w = 1 - E2 * np.sin(lm) ** 2
    dn = np.diff(lat) * A_M * (1 - E2) / w ** 1.5
    de = np.diff(lon) * A_M / np.sqrt(w) * np.cos(lm)
    horizontal = np.concatenate([[0], np.cumsum(np.hypot(dn, de))])
    hilly = style == "hilly" or rng.random() < .15
    rms = rng.uniform(.016, .030) if hilly else rng.uniform(.004, .012)
    z = _heights(horizontal, horizontal[-1], rms, rng) + rng.uniform(40, 350)
    ds = np.hypot(np.diff(horizontal), np.diff(z))
    s = np.concatenate([[0], np.cumsum(ds)])
    head_mid = np.unwrap(np.arctan2(de, dn))
    mid = (s[1:] + s[:-1]) / 2
    heading = np.interp(s, mid, head_mid)
    curvature = np.abs(np.gradient(heading, s))
    pool = {"loop": ([80, 90, 100, 70], [.3, .3, .1, .3]), "mixed": ([50, 70, 80, 90], [.3, .3, .25, .15]),
            "hilly": ([60, 70, 80, 90], [.2, .3, .3, .2]), "out_and_back": ([70, 80, 90, 110], [.2, .3, .3, .2])}[style]
    limit = np.empty_like(s)
    p = 0.0
    mixed_steady = style == "loop" and rng.random() < .5
    level = float(rng.choice(pool[0], p=pool[1]))
    while p < s[-1]:
        q = p + rng.uniform(800, 4000)
        limit[(s >= p) & (s <= q)] = level / 3.6
        level = level if mixed_steady else float(rng.choice(pool[0], p=pool[1]))
        p = q
    limit = np.minimum(limit, speed_cap)
    per_km = {"loop": .04, "mixed": .35, "hilly": .10, "out_and_back": .10}[style]
    n_stop = rng.poisson(per_km * s[-1] / 1000)
    stops = tuple(sorted(float(q) for q in rng.uniform(300, s[-1] - 300, n_stop)))
    return Route(kind, s, lat, lon, z, np.gradient(z, s), heading, 1 / np.maximum(curvature, 1e-5), limit, stops, repeats)
