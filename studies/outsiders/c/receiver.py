"""Satellite receiver: correlated position wander, Doppler speed noise, drop-outs; GPX writer."""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np
from numpy.random import Generator

from .noise import ou
from .route import DS, Route, to_lat_lon


@dataclass(frozen=True)
class Fix:
    """One second's record."""

    time: datetime
    lat: float
    lon: float
    ele: float
    speed: float
    new_segment: bool


def observe(x: np.ndarray, y: np.ndarray, z: np.ndarray, v: np.ndarray, lat0: float, lon0: float, start: datetime,
            rng: Generator, gaps: int) -> list[Fix]:
    """1 Hz fixes of a true path given at 1 Hz. Figures assumed for phones and small loggers (reference.md 8)."""
    n = len(x)
    tau = rng.uniform(40, 110)  # s
    sig = rng.uniform(1.2, 3.5)  # m per axis
    white = rng.uniform(0.05, 0.30)  # m
    px = x + sig * ou(rng, n, 1, tau) + white * ou(rng, n, 1, 1.5)
    py = y + sig * ou(rng, n, 1, tau) + white * ou(rng, n, 1, 1.5)
    pz = z + rng.normal(0, 4) + rng.uniform(2, 5) * ou(rng, n, 1, 180) + 0.3 * ou(rng, n, 1, 2)
    sv = rng.uniform(0.03, 0.10)
    ps = np.maximum(v + sv * ou(rng, n, 1, 2.5) + 0.02 * rng.standard_normal(n), 0.0)
    ps = np.where((v < 0.01) & (ps < 0.12), 0.0, ps)  # receivers hold zero when standing
    keep = np.ones(n, bool)
    seg = np.zeros(n, bool)
    for _ in range(gaps):
        i = int(rng.integers(60, max(61, n - 80)))
        k = int(rng.uniform(3, 20))
        keep[i:i + k] = False
        seg[i + k] = rng.random() < 0.5
    lat, lon = to_lat_lon(px, py, lat0, lon0)
    t0 = start.astimezone(timezone.utc).replace(microsecond=0)
    return [Fix(t0 + timedelta(seconds=i), float(lat[i]), float(lon[i]), float(pz[i]), float(ps[i]), bool(seg[i]))
            for i in range(n) if keep[i]]


def along(r: Route, s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """True plan position and height at road distance s."""
    g = np.arange(len(r.x)) * DS
    return np.interp(s, g, r.x), np.interp(s, g, r.y), np.interp(s, g, r.z)


def gpx(fixes: list[Fix], name: str, form: str) -> str:
    """form: "1.0" (speed element), "1.1x" (speed in the track-point extension v2), "1.1" (no speed)."""
    if form == "1.0":
        head = '<gpx version="1.0" creator="road logger" xmlns="http://www.topografix.com/GPX/1/0">'
    elif form == "1.1x":
        head = ('<gpx version="1.1" creator="road logger" xmlns="http://www.topografix.com/GPX/1/1" '
                'xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2">')
    else:
        head = '<gpx version="1.1" creator="road logger" xmlns="http://www.topografix.com/GPX/1/1">'
    o = ['<?xml version="1.0" encoding="UTF-8"?>', head, f"<trk><name>{name}</name><trkseg>"]
    for i, f in enumerate(fixes):
        if f.new_segment and i:
            o.append("</trkseg><trkseg>")
        sp = {"1.0": f"<speed>{f.speed:.2f}</speed>",
              "1.1x": f"<extensions><gpxtpx:TrackPointExtension><gpxtpx:speed>{f.speed:.2f}</gpxtpx:speed></gpxtpx:TrackPointExtension></extensions>",
              "1.1": ""}[form]
        o.append(f'<trkpt lat="{f.lat:.7f}" lon="{f.lon:.7f}"><ele>{f.ele:.1f}</ele><time>{f.time:%Y-%m-%dT%H:%M:%SZ}</time>{sp}</trkpt>')
    o.append("</trkseg></trk></gpx>")
    return "\n".join(o) + "\n"
