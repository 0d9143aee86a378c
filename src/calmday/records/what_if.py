"""What if: the circumstances a vehicle is asked about, and changes that are imagined, none of them made."""

from __future__ import annotations

import msgspec

from calmday.metrology.money import Money
from calmday.records.vehicle import Vehicle


class Circumstances(msgspec.Struct, frozen=True, kw_only=True):
    """Steady driving. SI units; None where nobody said.

    `head_wind_mps` and `wind_around_mps` at vehicle height: the one from ahead, the other from all directions in turn,
    as on a loop. `station_wind_mps` as a station reports it at 10 m, brought down by the terrain, from all around.
    """

    speed_mps: float | None = None
    head_wind_mps: float = 0.0
    wind_around_mps: float = 0.0
    grade: float = 0.0
    payload_kg: float = 0.0
    temperature_k: float | None = None
    pressure_pa: float | None = None
    altitude_m: float | None = None


class ImaginedChange(msgspec.Struct, frozen=True, kw_only=True):
    """One change, or several made together.

    `vehicle` the build sheet with it; `factors` by parameter of the model what it is multiplied by, where the change
    was given in per cent; `told` the settings as the person wrote them. `cost` and `work_s` what it takes.
    """

    what: str
    told: tuple[str, ...]
    vehicle: Vehicle
    circumstances: Circumstances
    factors: tuple[tuple[str, float], ...] = ()
    cost: Money | None = None
    work_s: float | None = None


class YearPart(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of driving in a year: how far, in what circumstances, with how many cold starts."""

    distance_m: float
    circumstances: Circumstances
    cold_starts: int = 0


class WhatIf(msgspec.Struct, frozen=True, kw_only=True):
    """The whole question. `together` all changes made at once, None for fewer than two or where they contradict.

    `assumed_speed` nobody gave one. `price` per m3 of fuel; `distance_per_year_m` for what a change saves; `axle`
    whether the best axle is sought.
    """

    vehicle: Vehicle
    circumstances: Circumstances
    changes: tuple[ImaginedChange, ...] = ()
    together: ImaginedChange | None = None
    year: tuple[YearPart, ...] = ()
    price: Money | None = None
    distance_per_year_m: float | None = None
    axle: bool = False
    assumed_speed: bool = False
    file: str = ""


class GridAxis(msgspec.Struct, frozen=True, kw_only=True):
    """One axis of a grid of imagined changes. `texts` the values as they are shown.

    `parameter` of the model that is multiplied by `numbers`, or `state` the field of the circumstances that takes them
    (SI); the other is empty.
    """

    key: str
    texts: tuple[str, ...]
    numbers: tuple[float, ...]
    parameter: str = ""
    state: str = ""


class Grid(msgspec.Struct, frozen=True, kw_only=True):
    """Every combination of some axes, the last axis varying fastest. `draws` simulated vehicles at each."""

    vehicle: Vehicle
    circumstances: Circumstances
    axes: tuple[GridAxis, ...]
    draws: int = 100
    file: str = ""

    @property
    def count(self) -> int:
        """How many combinations there are."""
        total = 1
        for axis in self.axes:
            total *= len(axis.numbers)
        return total
