"""Roads: bending, hilly lines on a 5 m grid, closed or out-and-back, with surface and shelter as fields along them."""
from __future__ import annotations
import math
from dataclasses import dataclass
import numpy as np

STEP = 5.0   # m


@dataclass(frozen=True)
class Road:
    """One drive's whole line (laps concatenated); every array on the grid s = i * STEP (along the road)."""
    east: np.ndarray
    north: np.ndarray
    height: np.ndarray      # above the road's base
    course: np.ndarray      # rad, clockwise from north
    grade: np.ndarray       # dz/ds
    curvature: np.ndarray   # 1/m
    surface: np.ndarray     # rolling factor, mean 1
    shelter: np.ndarray     # wind factor, mean about 1
    kind: str
    lap_length: float
    laps: float

    @property
    def length(self) -> float: return STEP * (len(self.east) - 1)


def smooth_periodic(x: np.ndarray, sigma_m: float) -> np.ndarray:
    """Gaussian smoothing of a periodic series on the grid (FFT)."""
    k = np.fft.rfftfreq(len(x), STEP) * 2 * math.pi
    return np.fft.irfft(np.fft.rfft(x) * np.exp(-0.5 * (k * sigma_m) ** 2), len(x))


def field(rng: np.random.Generator, n: int, sigma_m: float) -> np.ndarray:
    """Unit-variance periodic Gaussian field of correlation length ~ sigma_m."""
    x = smooth_periodic(rng.standard_normal(n), sigma_m)
    x = x - x.mean()
    return x / x.std()


def _polygon(rng: np.random.Generator, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Closed country loop: a polygon of roads with rounded corners and wiggles."""
    nv = int(rng.integers(4, 9))
    ang = np.sort((np.arange(nv) + rng.uniform(-0.3, 0.3, nv)) * 2 * math.pi / nv)
    rad = rng.uniform(0.55, 1.3, nv)
    squeeze = rng.uniform(0.45, 1.0); turn = rng.uniform(0, 2 * math.pi)
    px, py = rad * np.cos(ang), squeeze * rad * np.sin(ang)
    px, py = px * math.cos(turn) - py * math.sin(turn), px * math.sin(turn) + py * math.cos(turn)
    if rng.uniform() < 0.5: px, py = px[::-1], py[::-1]
    px, py = np.append(px, px[0]), np.append(py, py[0])
    seg = np.hypot(np.diff(px), np.diff(py)); scale = length / seg.sum()
    cum = np.append(0, np.cumsum(seg)) * scale
    s = np.arange(int(length / STEP)) * STEP
    x, y = np.interp(s, cum, px * scale), np.interp(s, cum, py * scale)
    n = len(s)
    wig = rng.uniform(4, 18)
    x = x + wig * field(rng, n, 130); y = y + wig * field(rng, n, 130)
    c = rng.uniform(14, 28)
    return smooth_periodic(x, c), smooth_periodic(y, c)


def _line(rng: np.random.Generator, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Open road from A to B: heading wanders."""
    n = int(length / STEP) + 1
    h = rng.uniform(0, 2 * math.pi) + math.radians(rng.uniform(15, 35)) * field(rng, 2 * n, 700)[:n] \
        + math.radians(rng.uniform(3, 9)) * field(rng, 2 * n, 150)[:n]
    return np.cumsum(np.sin(h)) * STEP, np.cumsum(np.cos(h)) * STEP


def draw_road(rng: np.random.Generator, kind: str, total: float, hill: float) -> Road:
    """kind: 'loop' | 'out-and-back'; total: wanted length m; hill: rms grade."""
    if kind == "loop":
        lap = rng.uniform(4000, min(16000, total / 2)) if total > 9000 else total / 2
        laps = max(2, round(total / lap))
        x, y = _polygon(rng, lap)
        n = len(x)
    else:
        x, y = _line(rng, total / 2); n = len(x); laps = 1
    # height: power-law periodic field, wavelengths 600 m .. lap
    m = n if kind == "loop" else 2 * n
    k = np.fft.rfftfreq(m, STEP)
    amp = np.where((k > 0) & (k < 1 / 600), np.maximum(k, 1e-9) ** -1.3, 0)
    z = np.fft.irfft(amp * np.exp(1j * rng.uniform(0, 2 * math.pi, len(k))), m)
    g = np.gradient(z, STEP); z = z * hill / max(g.std(), 1e-12)
    z *= min(1.0, 0.09 / max(np.abs(np.gradient(z, STEP)).max(), 1e-9))
    surf = 1 + rng.uniform(0.01, 0.05) * field(rng, m, 1200)
    she = np.exp(rng.uniform(0.15, 0.30) * field(rng, m, 350)); she = she / she.mean()
    if kind == "out-and-back":
        z, surf, she = z[:n], surf[:n], she[:n]
        fwd = lambda a: np.concatenate([a, a[-2::-1]])
        x, y, z, surf, she = map(fwd, (x, y, z, surf, she))
        reps = 1
    else:
        reps = laps
        t = lambda a: np.append(np.tile(a, reps), a[0])
        x, y, z, surf, she = map(t, (x, y, z, surf, she))
    # re-grid to true arc length along the road (3-D)
    ds = np.sqrt(np.diff(x) ** 2 + np.diff(y) ** 2 + np.diff(z) ** 2)
    s = np.append(0, np.cumsum(ds)); grid = np.arange(0, s[-1], STEP)
    x, y, z, surf, she = (np.interp(grid, s, a) for a in (x, y, z, surf, she))
    ex, ny = np.diff(x), np.diff(y)
    course = np.unwrap(np.arctan2(ex, ny)); course = np.append(course, course[-1])
    curv = np.gradient(course, STEP)
    if kind == "out-and-back":                      # the U-turn is driven at walking pace, not as infinite curvature
        curv = np.where(np.abs(curv) > 0.08, 0.08 * np.sign(curv), curv)
    grade = np.gradient(z, STEP)
    return Road(x, y, z, course, grade, curv, surf / surf.mean(), she, kind, s[-1] / laps, laps)
