"""Satellite receiver: correlated position wander, Doppler speed noise, gaps; and GPX 1.0 / 1.1 text."""
from __future__ import annotations
from dataclasses import dataclass
import datetime as dt
import math
import numpy as np
from .wind import ou

A_WGS, F_WGS = 6378137.0, 1 / 298.257223563  # WGS-84 by definition


@dataclass(frozen=True)
class Quality:
    wander_m: float      # per axis, time constant wander_tau
    wander_tau: float
    white_m: float       # per axis
    speed_slow: float    # m/s, Doppler noise with 3 s correlation
    speed_white: float
    height_m: float
    height_bias: float
    gaps: int
    form: str            # "1.0 speed", "1.1 speed", "1.1 plain"


def draw_quality(rng: np.random.Generator, minutes: float) -> Quality:
    """Figures of consumer receivers in the open, reference.md 8 (95 % about 5 m; Doppler 0.05-0.1 m/s); split assumed."""
    baro = rng.random() < .35
    return Quality(wander_m=float(rng.uniform(1.2, 3.2)), wander_tau=float(rng.uniform(40, 110)), white_m=float(rng.uniform(.1, .4)),
                   speed_slow=float(rng.uniform(.03, .08)), speed_white=float(rng.uniform(.02, .06)),
                   height_m=float(rng.uniform(.5, 1.2) if baro else rng.uniform(2, 4.5)), height_bias=float(rng.normal(0, 4)),
                   gaps=int(rng.poisson(minutes / 18)), form=str(rng.choice(["1.0 speed", "1.1 speed", "1.1 plain"], p=[.45, .42, .13])))


def to_geographic(x: np.ndarray, y: np.ndarray, lat0: float, lon0: float) -> tuple[np.ndarray, np.ndarray]:
    """Local plane to WGS-84 with the radii at the point: lengths true to about 1e-5 within 30 km."""
    e2 = F_WGS * (2 - F_WGS)
    lat_m = math.radians(lat0)
    lat = np.full_like(y, lat_m)
    for _ in range(3):
        mid = .5 * (lat + lat_m)
        lat = lat_m + y / (A_WGS * (1 - e2) / (1 - e2 * np.sin(mid) ** 2) ** 1.5)
    nn = A_WGS / np.sqrt(1 - e2 * np.sin(lat) ** 2)
    return np.degrees(lat), lon0 + np.degrees(x / (nn * np.cos(lat)))


def gpx(rng: np.random.Generator, q: Quality, x: np.ndarray, y: np.ndarray, z: np.ndarray, v: np.ndarray, lat0: float, lon0: float,
        start: dt.datetime, name: str) -> str:
    """1 Hz samples in, GPX text out. start is UTC."""
    n = len(x)
    ex, ey = (q.wander_m * ou(rng, n, 1, q.wander_tau) + q.white_m * rng.standard_normal(n) for _ in range(2))
    ez = q.height_bias + q.height_m * ou(rng, n, 1, 150) + .15 * rng.standard_normal(n)
    sp = np.abs(v + np.where(v > .3, q.speed_slow * ou(rng, n, 1, 3) + q.speed_white * rng.standard_normal(n), .02 * np.abs(rng.standard_normal(n))))
    lat, lon = to_geographic(x + ex, y + ey, lat0, lon0)
    keep = np.ones(n, bool)
    new = np.zeros(n, bool)
    for _ in range(q.gaps):
        i, m = int(rng.integers(20, max(21, n - 60))), int(rng.exponential(6) + 2)
        keep[i:i + m] = False
        if m > 10 and i + m < n:
            new[i + m] = True
    g10 = q.form == "1.0 speed"
    out = ['<?xml version="1.0" encoding="UTF-8"?>']
    if g10:
        out.append('<gpx version="1.0" creator="roadside logger" xmlns="http://www.topografix.com/GPX/1/0">')
    else:
        out.append('<gpx version="1.1" creator="roadside logger" xmlns="http://www.topografix.com/GPX/1/1" '
                   'xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2">')
    out.append(f"<trk><name>{name}</name><trkseg>")
    for i in range(n):
        if not keep[i]:
            continue
        if new[i]:
            out.append("</trkseg><trkseg>")
        ts = (start + dt.timedelta(seconds=i)).strftime("%Y-%m-%dT%H:%M:%SZ")
        if g10:
            out.append(f'<trkpt lat="{lat[i]:.7f}" lon="{lon[i]:.7f}"><ele>{z[i] + ez[i]:.1f}</ele><time>{ts}</time><speed>{sp[i]:.2f}</speed></trkpt>')
        elif q.form == "1.1 speed":
            out.append(f'<trkpt lat="{lat[i]:.7f}" lon="{lon[i]:.7f}"><ele>{z[i] + ez[i]:.1f}</ele><time>{ts}</time><extensions>'
                       f"<gpxtpx:TrackPointExtension><gpxtpx:speed>{sp[i]:.2f}</gpxtpx:speed></gpxtpx:TrackPointExtension></extensions></trkpt>")
        else:
            out.append(f'<trkpt lat="{lat[i]:.7f}" lon="{lon[i]:.7f}"><ele>{z[i] + ez[i]:.1f}</ele><time>{ts}</time></trkpt>')
    out.append("</trkseg></trk></gpx>")
    return "\n".join(out) + "\n"
