"""Seeded streams and correlated noise."""
import math
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def stream(*key: object) -> np.random.Generator:
    """A generator that depends on the key only (so cases are independent of each other)."""
    text = "/".join(str(k) for k in key)
    return np.random.default_rng([ord(c) for c in text])


def ornstein_uhlenbeck(rng: np.random.Generator, n: int, step: float, scale: float) -> Array:
    """Unit-variance Gauss-Markov process, correlation exp(-lag/scale), sampled every `step`."""
    a = math.exp(-step / scale)
    b = math.sqrt(1.0 - a * a)
    x = rng.standard_normal()
    out = []
    for e in rng.standard_normal(n).tolist():
        x = a * x + b * e
        out.append(x)
    return np.array(out)


def lognormal(rng: np.random.Generator, median: float, sigma: float) -> float:
    """Log-normal, truncated at 2.5 sigma: nothing outlandish."""
    return median * math.exp(sigma * float(np.clip(rng.standard_normal(), -2.5, 2.5)))


def normal(rng: np.random.Generator, mean: float, sd: float) -> float:
    """Normal, truncated at 2.5 sigma."""
    return mean + sd * float(np.clip(rng.standard_normal(), -2.5, 2.5))
