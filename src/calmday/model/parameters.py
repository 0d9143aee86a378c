"""Uncertain parameters: a centre, a spread, a shape, and who stands behind them.

Every parameter is driven by one standard-normal score z, so that a draw of the whole vehicle is one row of scores and
what two computations share (the same drag area before and after) is shared by construction.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.records.declared import Declared, Origin

FloatArray = NDArray[np.float64]
Values = Mapping[str, FloatArray]

HALF_WIDTH_PER_SD = 1.959963984540054


class Parameter(msgspec.Struct, frozen=True, kw_only=True):
    """One uncertain parameter.

    `shape` "log": value = centre exp(spread z); "normal": value = centre + spread z, kept within [floor, ceiling];
    "share" (between 0 and 1): odds = odds of the centre x exp(spread z).
    `group` the words a budget uses for it. `origin` declared, assumed...; `source` what the centre and spread rest on.
    """

    key: str
    centre: float
    spread: float
    shape: Literal["log", "normal", "share"]
    unit: str
    group: str
    origin: Origin
    source: str
    floor: float = -np.inf
    ceiling: float = np.inf

    def values(self, scores: FloatArray) -> FloatArray:
        """Parameter values for standard-normal scores, same shape."""
        if self.shape == "log":
            return self.centre * np.exp(self.spread * scores)
        if self.shape == "share":
            return 1 / (1 + (1 - self.centre) / self.centre * np.exp(-self.spread * scores))
        return np.clip(self.centre + self.spread * scores, self.floor, self.ceiling)


class ParameterSet(msgspec.Struct, frozen=True):
    """An ordered set of parameters; column k of a score matrix belongs to parameter k."""

    parameters: tuple[Parameter, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(parameter.key for parameter in self.parameters)

    def __len__(self) -> int:
        return len(self.parameters)

    def __getitem__(self, key: str) -> Parameter:
        for parameter in self.parameters:
            if parameter.key == key:
                return parameter
        raise KeyError(key)

    def column(self, key: str) -> int:
        """Column of a parameter in a score matrix."""
        return self.keys.index(key)

    def values(self, scores: FloatArray) -> dict[str, FloatArray]:
        """Values by key, each of shape (m,), for scores of shape (m, len(self))."""
        return {p.key: p.values(scores[:, column]) for column, p in enumerate(self.parameters)}


def normal_parameter(
    key: str, centre: float, spread: float, unit: str, group: str, source: str, **limits: float
) -> Parameter:
    """An assumed parameter with a normal spread, kept within `floor` and `ceiling` where given."""
    return Parameter(
        key=key,
        centre=centre,
        spread=spread,
        shape="normal",
        unit=unit,
        group=group,
        origin="assumed",
        source=source,
        **limits,
    )


def log_parameter(key: str, centre: float, spread: float, unit: str, group: str, source: str) -> Parameter:
    """An assumed parameter with a relative (log-normal) spread."""
    return Parameter(
        key=key, centre=centre, spread=spread, shape="log", unit=unit, group=group, origin="assumed", source=source
    )


def declared_or(
    declared: Declared | None,
    *,
    key: str,
    default: float,
    default_spread: float,
    declared_spread: float,
    unit: str,
    group: str,
    source: str,
) -> Parameter:
    """A log-normal parameter: the declared value with its own half width or a usual one, else the class default.

    Spreads are relative standard deviations.
    """
    if declared is None:
        return log_parameter(key, default, default_spread, unit, group, source)
    spread = declared_spread
    basis = f"declared; usual doubt of such a figure ({100 * declared_spread:.2g} %) assumed"
    if declared.half_width is not None:
        spread = declared.half_width / HALF_WIDTH_PER_SD / abs(declared.value)
        basis = "declared with its own give-or-take"
    return Parameter(
        key=key,
        centre=declared.value,
        spread=spread,
        shape="log",
        unit=unit,
        group=group,
        origin=declared.origin,
        source=basis,
    )
