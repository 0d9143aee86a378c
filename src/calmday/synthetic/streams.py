"""Separate random streams by name, so that changing one choice of a scenario leaves all others as they
were.
"""

from __future__ import annotations

import zlib

import numpy as np


def stream(seed: int, name: str) -> np.random.Generator:
    """The generator of one named part of a scenario."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, zlib.crc32(name.encode())])))


def uniform(generator: np.random.Generator, low: float, high: float) -> float:
    """One rectangular draw as a plain float."""
    return float(generator.uniform(low, high))


def normal(generator: np.random.Generator, mean: float, sd: float, reach: float = 3.0) -> float:
    """One normal draw, cut at `reach` standard deviations."""
    return mean + sd * float(np.clip(generator.standard_normal(), -reach, reach))


def lognormal(generator: np.random.Generator, median: float, sd: float) -> float:
    """One log-normal draw, cut at three standard deviations."""
    return median * float(np.exp(normal(generator, 0.0, sd)))


def chance(generator: np.random.Generator, probability: float) -> bool:
    """True with the given probability."""
    return bool(generator.random() < probability)
