"""Mixtures of normals: what is left when an unknown scatter is averaged over."""

from __future__ import annotations

import math
from statistics import NormalDist

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure

FloatArray = NDArray[np.float64]

_CDF = NormalDist().cdf
_DENSITY = 1.0 / math.sqrt(2.0 * math.pi)


class NormalMixture(msgspec.Struct, frozen=True):
    """Normals with `weight` (g,) summing to 1, `mean` (g,) and `sd` (g,)."""

    weight: FloatArray
    mean: FloatArray
    sd: FloatArray

    def below(self, x: float) -> float:
        """P(X <= x)."""
        total = 0.0
        for weight, mean, sd in zip(self.weight.tolist(), self.mean.tolist(), self.sd.tolist(), strict=True):
            if sd > 0.0:
                total += weight * _CDF((x - mean) / sd)
            elif x >= mean:
                total += weight
        return total

    def _density(self, x: float) -> float:
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            z = (x - self.mean) / self.sd
            return float(np.nansum(self.weight * np.exp(-0.5 * z * z) / self.sd)) * _DENSITY

    def quantile(self, probability: float) -> float:
        """The x with P(X <= x) = `probability`: Newton steps inside a bracket."""
        reach = float(self.sd.max())
        low, high = float(self.mean.min()), float(self.mean.max())
        if reach <= 0.0:
            return low
        step = float(self.weight @ self.sd)
        while self.below(low) > probability:
            low, step = low - step, 2.0 * step
        step = float(self.weight @ self.sd)
        while self.below(high) < probability:
            high, step = high + step, 2.0 * step
        x = 0.5 * (low + high)
        for _ in range(200):
            excess = self.below(x) - probability
            low, high = (low, x) if excess > 0.0 else (x, high)
            slope = self._density(x)
            step = x - excess / slope if slope > 0.0 else math.inf
            following = step if low < step < high else 0.5 * (low + high)
            if abs(following - x) <= 1e-12 * (1e-3 + abs(following)):
                return following
            x = following
        return x

    @property
    def middle(self) -> float:
        """The mean."""
        return float(self.weight @ self.mean)

    @property
    def spread(self) -> float:
        """The standard deviation, of that part of the mixture that has one."""
        return math.sqrt(max(float(self.weight @ (self.sd**2 + (self.mean - self.middle) ** 2)), 0.0))

    def figure(self, unit: str) -> Figure:
        """Value, standard uncertainty and 95 % interval. The value is the median: with three runs there is no mean."""
        value = self.quantile(0.5)
        low, high = self.quantile(0.025), self.quantile(0.975)
        return Figure(value, self.spread, low, high, unit)
