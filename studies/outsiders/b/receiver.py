"""Satellite receiver: correlated position wander, Doppler noise, dropouts; GPX 1.0 and 1.1 writers."""
from __future__ import annotations
import math
from datetime import datetime, timedelta
import numpy as np
from .air import ar1


def degrees(lat0: float, lon0: float, e: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Path in local east/north metres to WGS-84 degrees, step by step with the radii of the ellipsoid at the step's mid latitude."""
    a, e2 = 6378137.0, 0.00669437999014
    lat = np.full_like(n, lat0)
    step = lambda x, first: np.concatenate([[first], np.diff(x)])
    for _ in range(4):
        mid = np.radians(0.5 * (lat + np.concatenate([[lat0], lat[:-1]])))
        w = 1 - e2 * np.sin(mid) ** 2
        lat = lat0 + np.degrees(np.cumsum(step(n, n[0]) * w ** 1.5 / (a * (1 - e2))))
    lon = lon0 + np.degrees(np.cumsum(step(e, e[0]) * np.sqrt(w) / (a * np.cos(mid))))
    return lat, lon


def observe(east: np.ndarray, north: np.ndarray, height: np.ndarray, v_h: np.ndarray, rng: np.random.Generator,
            dt: float, gaps: bool = True) -> dict[str, np.ndarray]:
    """1 Hz fixes from truth sampled every dt.  Wander 1.2-3 m (per axis) with 40-90 s; white 0.15-0.3 m;
    height 2-4 m with 60-120 s and a constant 5 m; Doppler 0.04 m/s coloured (4 s) + 0.04 white. All assumed, consumer class."""
    st = int(round(1 / dt)); sl = slice(0, len(east), st)
    e, n, h, v = (np.asarray(x)[sl] for x in (east, north, height, v_h))
    m = len(e); sd, tau, w = rng.uniform(1.2, 3.0), rng.uniform(40, 90), rng.uniform(0.15, 0.30)
    e = e + sd * ar1(rng, m, 1.0, tau) + w * rng.standard_normal(m)
    n = n + sd * ar1(rng, m, 1.0, tau) + w * rng.standard_normal(m)
    h = h + rng.uniform(2, 4) * ar1(rng, m, 1.0, rng.uniform(60, 120)) + rng.normal(0, 5) + 0.2 * rng.standard_normal(m)
    v = np.abs(v + 0.04 * ar1(rng, m, 1.0, 4.0) + 0.04 * rng.standard_normal(m))
    v = np.where((np.asarray(v_h)[sl] == 0) & (v < 0.12), 0.0, v)
    keep = np.ones(m, bool)
    if gaps:
        for _ in range(int(rng.poisson(1.5))):
            a = int(rng.integers(30, max(31, m - 40))); keep[a:a + int(rng.uniform(2, 15))] = False
        keep[0] = keep[-1] = True
    return {"i": np.arange(m)[keep], "e": e[keep], "n": n[keep], "h": h[keep], "v": v[keep]}


def gpx(obs: dict[str, np.ndarray], lat0: float, lon0: float, start: datetime, style: str) -> str:
    """style: '1.0' (<speed>), '1.1x' (speed in extensions), '1.1' (no speed)."""
    lat, lon = degrees(lat0, lon0, obs["e"], obs["n"])
    if style == "1.0":
        out = ['<?xml version="1.0" encoding="UTF-8"?>',
               '<gpx version="1.0" creator="field logger" xmlns="http://www.topografix.com/GPX/1/0">', "<trk><trkseg>"]
    else:
        ext = ' xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2"' if style == "1.1x" else ""
        out = ['<?xml version="1.0" encoding="UTF-8"?>',
               f'<gpx version="1.1" creator="field logger" xmlns="http://www.topografix.com/GPX/1/1"{ext}>', "<trk><trkseg>"]
    for k, la, lo, h, v in zip(obs["i"].tolist(), lat.tolist(), lon.tolist(), obs["h"].tolist(), obs["v"].tolist()):
        t = (start + timedelta(seconds=k)).strftime("%Y-%m-%dT%H:%M:%SZ")
        p = f'<trkpt lat="{la:.7f}" lon="{lo:.7f}"><ele>{h:.1f}</ele><time>{t}</time>'
        if style == "1.0": p += f"<speed>{v:.2f}</speed>"
        if style == "1.1x":
            p += f"<extensions><gpxtpx:TrackPointExtension><gpxtpx:speed>{v:.2f}</gpxtpx:speed></gpxtpx:TrackPointExtension></extensions>"
        out.append(p + "</trkpt>")
    return "\n".join(out) + "\n</trkseg></trk>\n</gpx>\n"
