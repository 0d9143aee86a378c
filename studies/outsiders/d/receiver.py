"""The satellite receiver: correlated position wander, Doppler speed noise, dropouts; GPX writers."""
from __future__ import annotations
from dataclasses import dataclass
from datetime import datetime, timedelta
import math
import numpy as np
from .roads import radii

Rng = np.random.Generator


@dataclass(frozen=True)
class Fixes:
    t: np.ndarray; lat: np.ndarray; lon: np.ndarray; ele: np.ndarray; speed: np.ndarray; course: np.ndarray
    segment: np.ndarray


def _ou(rng: Rng, n: int, dt: float, sd: float, tau: float) -> np.ndarray:
    a = math.exp(-dt / tau)
    e = rng.normal(size=n) * math.sqrt(1 - a * a)
    x = np.empty(n)
    x[0] = rng.normal()
    last, el = float(x[0]), e.tolist()
    for i in range(1, n):
        last = a * last + el[i]
        x[i] = last
    k = np.hanning(max(3, int(8 / dt) | 1)); k /= k.sum()       # receivers filter: no jitter from the wander
    h = k.size // 2
    return sd * np.convolve(np.concatenate([np.full(h, x[0]), x, np.full(h, x[-1])]), k, "valid")


def observe(rng: Rng, t: np.ndarray, lat: np.ndarray, lon: np.ndarray, z: np.ndarray, heading: np.ndarray,
            ground_speed: np.ndarray, dt: float = 1.0, drop: bool = True) -> Fixes:
    """``t`` etc. already at the receiver's rate."""
    n = t.size
    sd, tau = rng.uniform(1.2, 3.5), rng.uniform(50, 120)       # m, s: consumer receiver, open sky
    white = rng.uniform(0.05, 0.25)
    de = _ou(rng, n, dt, sd, tau) + white * rng.normal(size=n)
    dn = _ou(rng, n, dt, sd * 1.15, tau) + white * rng.normal(size=n)
    m, nn = radii(lat)
    la = lat + np.degrees(dn / m)
    lo = lon + np.degrees(de / (nn * np.cos(np.radians(lat))))
    ele = z + _ou(rng, n, dt, rng.uniform(2, 6), 200.0) + rng.normal(0, 3) + 0.2 * rng.normal(size=n)
    sw = rng.uniform(0.04, 0.12)                                # m/s, Doppler
    speed = np.abs(ground_speed + sw * rng.normal(size=n) + _ou(rng, n, dt, 0.04, 20.0))
    speed = np.where((ground_speed < 0.05) & (speed < 0.25), np.where(rng.random(n) < .7, 0.0, speed), speed)
    course = (np.degrees(heading) + rng.normal(size=n) * np.clip(6 / np.maximum(ground_speed, .3), .2, 40)) % 360
    keep, seg = np.ones(n, bool), np.zeros(n, int)
    if drop:
        for _ in range(int(rng.integers(0, 4))):
            i = int(rng.integers(30, n - 60))
            w = int(rng.integers(3, 16))
            keep[i:i + w] = False
            if w > 10:
                seg[i + w:] += 1
    return Fixes(t[keep], la[keep], lo[keep], ele[keep], speed[keep], course[keep], seg[keep])


def _iso(start: datetime, t: float) -> str:
    w = start + timedelta(seconds=round(float(t), 1))
    return f"{w:%Y-%m-%dT%H:%M:%S}" + (f".{w.microsecond // 100000}" if w.microsecond else "") + "Z"


def gpx(f: Fixes, start_utc: datetime, flavour: str) -> str:
    """flavour: '1.0' (<speed> element), '1.1' (TrackPointExtension v2 speed) or '1.1-plain' (no speed)."""
    if flavour == "1.0":
        head = '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.0" creator="phone" xmlns="http://www.topografix.com/GPX/1/0">\n<trk><name>drive</name>'
    else:
        head = ('<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="phone" xmlns="http://www.topografix.com/GPX/1/1" '
                'xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2">\n<trk><name>drive</name>')
    out = [head, "<trkseg>"]
    seg = int(f.segment[0])
    for i in range(f.t.size):
        if f.segment[i] != seg:
            out += ["</trkseg>", "<trkseg>"]
            seg = int(f.segment[i])
        p = f'<trkpt lat="{f.lat[i]:.7f}" lon="{f.lon[i]:.7f}"><ele>{f.ele[i]:.1f}</ele><time>{_iso(start_utc, f.t[i])}</time>'
        if flavour == "1.0":
            p += f"<course>{f.course[i]:.1f}</course><speed>{f.speed[i]:.2f}</speed>"
        elif flavour == "1.1":
            p += (f"<extensions><gpxtpx:TrackPointExtension><gpxtpx:speed>{f.speed[i]:.2f}</gpxtpx:speed>"
                  f"<gpxtpx:course>{f.course[i]:.1f}</gpxtpx:course></gpxtpx:TrackPointExtension></extensions>")
        out.append(p + "</trkpt>")
    out += ["</trkseg>", "</trk>", "</gpx>", ""]
    return "\n".join(out)
