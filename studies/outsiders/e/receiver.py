"""A consumer receiver: slow wander of the position, small speed noise, a few gaps."""
from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
from numpy.random import Generator

from .route import A_M, E2, Route
from .weather import _ou


def record(t: np.ndarray, s: np.ndarray, v: np.ndarray, grade: np.ndarray, route: Route, rng: Generator) -> dict[str, np.ndarray]:
    """1 Hz fixes of a drive given at times t."""
    ts = np.arange(0, t[-1], 1.0)
    x, sp = np.interp(ts, t, s), np.interp(ts, t, v)
    pos, _ = route.fold(np.clip(x, 0, route.total - 1e-6))
    lat, lon = np.interp(pos, route.s, route.lat), np.interp(pos, route.s, route.lon)
    z = np.interp(pos, route.s, route.z)
    n = len(ts)
    wander = rng.uniform(1.2, 3.0)                     # m per axis, time constant about a minute [R 8, A]
    north = _ou(rng, n, 1, rng.uniform(40, 90), wander) + _ou(rng, n, 1, 4, .25) + rng.normal(0, .10, n)
    east = _ou(rng, n, 1, rng.uniform(40, 90), wander) + _ou(rng, n, 1, 4, .25) + rng.normal(0, .10, n)
    baro = rng.random() < .5
    up = _ou(rng, n, 1, 600, 2.0) + rng.normal(0, .2, n) if baro else _ou(rng, n, 1, 120, rng.uniform(2, 4)) + rng.normal(0, .4, n)
    w = 1 - E2 * np.sin(lat) ** 2
    horizontal = sp * np.sqrt(1 - np.interp(ts, t, grade) ** 2)
    doppler = np.abs(horizontal + rng.normal(0, rng.uniform(.04, .09), n) + _ou(rng, n, 1, 6, .04))
    doppler = np.where((sp < .05) & (doppler < .2), 0.0, doppler)
    keep = np.ones(n, bool)
    for _ in range(int(rng.poisson(2.0))):
        i = int(rng.integers(60, max(61, n - 60)))
        keep[i:min(i + int(rng.integers(2, 15)), n - 10)] = False
    return {"t": ts[keep], "lat": np.degrees(lat + north / (A_M * (1 - E2) / w ** 1.5))[keep],
            "lon": np.degrees(lon + east / (A_M / np.sqrt(w) * np.cos(lat)))[keep], "ele": (z + up)[keep], "speed": doppler[keep]}


def gpx(fix: dict[str, np.ndarray], start_utc: datetime, form: str) -> str:
    """form: '1.0' (<speed>), '1.1+speed' (TrackPointExtension v2), '1.1' (no speed)."""
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    if form == "1.0":
        head += '<gpx version="1.0" creator="an outsider" xmlns="http://www.topografix.com/GPX/1/0">\n'
    else:
        ext = ' xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2"' if "+" in form else ""
        head += f'<gpx version="1.1" creator="an outsider" xmlns="http://www.topografix.com/GPX/1/1"{ext}>\n'
    rows = []
    for t, la, lo, z, v in zip(fix["t"].tolist(), fix["lat"].tolist(), fix["lon"].tolist(), fix["ele"].tolist(), fix["speed"].tolist()):
        stamp = (start_utc + timedelta(seconds=t)).strftime("%Y-%m-%dT%H:%M:%SZ")
        tail = f"<speed>{v:.2f}</speed>" if form == "1.0" else \
            f"<extensions><gpxtpx:TrackPointExtension><gpxtpx:speed>{v:.2f}</gpxtpx:speed></gpxtpx:TrackPointExtension></extensions>" if "+" in form else ""
        rows.append(f'<trkpt lat="{la:.7f}" lon="{lo:.7f}"><ele>{z:.1f}</ele><time>{stamp}</time>{tail}</trkpt>')
    return head + "<trk><trkseg>\n" + "\n".join(rows) + "\n</trkseg></trk></gpx>\n"
