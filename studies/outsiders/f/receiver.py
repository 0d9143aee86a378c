"""A consumer satellite receiver: wandering position, quiet Doppler speed, a few gaps."""
from dataclasses import dataclass
import math
import numpy as np
from .randoms import Array, ornstein_uhlenbeck
from .road import DT, _metric


@dataclass(frozen=True)
class Fixes:
    """1 Hz fixes; `segment` counts receiver restarts."""
    t: Array; lat: Array; lon: Array; ele: Array; speed: Array | None; segment: Array


def observe(rng: np.random.Generator, t: Array, lat: Array, lon: Array, ele: Array, v: Array, grade: Array,
            doppler: bool) -> Fixes:
    """Errors [R 8]: position 2-3 m per axis with a time constant of about a minute, Doppler 0.05-0.1 m/s."""
    k = int(round(1 / DT)); i = np.arange(0, len(t), k); n = len(i)
    sd, tau = rng.uniform(1.5, 3.0), rng.uniform(50, 110)
    north = sd * ornstein_uhlenbeck(rng, n, 1, tau) + rng.normal(0, .25, n)
    east = 0.8 * sd * ornstein_uhlenbeck(rng, n, 1, tau) + rng.normal(0, .25, n)
    up = 1.6 * sd * ornstein_uhlenbeck(rng, n, 1, 2.5 * tau) + rng.normal(0, .4, n) + rng.normal(0, 4)
    my, mx = _metric(lat[i])
    horizontal = v[i] * np.cos(np.arctan(grade[i]))
    noise = rng.uniform(.03, .07) * ornstein_uhlenbeck(rng, n, 1, 2.5) + rng.normal(0, rng.uniform(.03, .06), n)
    speed = np.abs(horizontal + noise * np.where(v[i] < .05, .5, 1))
    keep = np.ones(n, bool); seg = np.zeros(n, int)
    for _ in range(int(rng.integers(0, 5))):
        a = int(rng.integers(40, n - 40)); long = int(rng.integers(2, 13))
        keep[a:a + long] = False
        if long > 9: seg[a + long:] += 1
    return Fixes(t[i][keep], (lat[i] + north / my)[keep], (lon[i] + east / mx)[keep], (ele[i] + up)[keep],
                 speed[keep] if doppler else None, seg[keep])
