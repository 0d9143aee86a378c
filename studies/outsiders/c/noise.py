"""Correlated random series."""
from __future__ import annotations

import numpy as np
from numpy.random import Generator


def ou(rng: Generator, n: int, step: float, scale: float) -> np.ndarray:
    """Unit-variance first-order Gauss-Markov series, correlation exp(-|lag|/scale)."""
    rho = float(np.exp(-step / scale))
    q = float(np.sqrt(1.0 - rho * rho))
    e = rng.standard_normal(n).tolist()
    out = [0.0] * n
    x = e[0] if n else 0.0
    for i in range(n):
        if i:
            x = rho * x + q * e[i]
        out[i] = x
    return np.array(out)


def clipped(rng: Generator, mean: float, sd: float, k: float = 2.2) -> float:
    """Normal draw cut at +-k sd, so that no vehicle is absurd."""
    return float(mean + sd * np.clip(rng.standard_normal(), -k, k))
