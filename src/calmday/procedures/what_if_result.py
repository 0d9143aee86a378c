"""What a change would do: the result as `calmday whatif --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/whatif/1"


class SteadyState(msgspec.Struct, frozen=True, kw_only=True):
    """Driving at a steady speed.

    `gear` the tallest that surely pulls (None: none holds the speed, and the figures that need it are None); `calm` and
    `windy` fuel in still air and in the wind asked for; `sustained_speed` the fastest any gear holds into that wind.
    `reserve` thrust less resistance, `load` part of full load, both in that gear into that wind.
    """

    speed: Figure
    gear: int | None
    engine_speed: Figure | None
    calm: Figure | None
    windy: Figure | None
    fuel_mass: Figure | None
    load: Figure | None
    reserve: Figure | None
    sustained_speed: Figure | None


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """After less before, over draws that are the same vehicle: what the two have in common has cancelled.

    `calm_percent` and `windy_percent` change of fuel in per cent of before; `litres` the change in still air, L/100 km;
    `probability_less_fuel` share of the draws in which the change saves fuel in the wind asked for.
    """

    calm_percent: Figure | None
    windy_percent: Figure | None
    litres: Figure | None
    sustained_speed: Figure | None
    engine_speed: Figure | None
    probability_less_fuel: float | None


class Worth(msgspec.Struct, frozen=True, kw_only=True):
    """What a change saves and costs. `per_year` fuel money saved in a year; `payback` distance until it has paid for
    itself, its `high` None where it may never; `rank` 1 saves most for its money (or for its work, or of all), as
    `ranked_by` says. `cost` in `cost_currency`, all other money in `currency`."""

    rank: int
    saving: Figure | None
    per_year: Figure | None
    currency: str
    cost: float | None
    work_hours: float | None
    payback_km: float | None
    payback_low_km: float | None
    payback_high_km: float | None
    saving_per_work_hour: Figure | None
    cost_currency: str = ""
    ranked_by: Literal["money", "work", "fuel"] = "fuel"


class Considered(msgspec.Struct, frozen=True, kw_only=True):
    """One change, or all together."""

    what: str
    settings: tuple[str, ...]
    after: SteadyState
    difference: Difference
    worth: Worth | None = None


class AxlePoint(msgspec.Struct, frozen=True, kw_only=True):
    """One axle ratio: fuel over the duty, the gear held at the main speed, the fastest it can go."""

    ratio: float
    fuel: Figure | None
    gear: int | None
    top_gear_holds: float


class Axle(msgspec.Struct, frozen=True, kw_only=True):
    """The axle ratio that uses least: `flat_from` to `flat_to` are within one per cent of it and hold the speed."""

    now: float
    best: float
    flat_from: float
    flat_to: float
    saving_percent: Figure
    points: tuple[AxlePoint, ...]


class YearTotal(msgspec.Struct, frozen=True, kw_only=True):
    """A year's driving: fuel before and after, of which cold starts, and money where a price was given."""

    distance: Figure
    fuel_before: Figure
    fuel_after: Figure | None
    per_100_km_before: Figure
    per_100_km_after: Figure | None
    cold_starts: Figure
    saved: Figure | None
    money_saved: Figure | None
    currency: str


class OverSpeed(msgspec.Struct, frozen=True, kw_only=True):
    """Fuel over steady speed in the wind asked for, L/100 km with its 95 % band, only where some gear surely pulls;
    `what` the side of the question. `speed` in km/h."""

    what: str
    speed: tuple[float, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


class WhatIfResult(msgspec.Struct, frozen=True, kw_only=True):
    """The answer. `changes` each alone, best first; `together` all at once, `interaction_percent` what that is more or
    less than the changes one by one."""

    vehicle: str
    sentence: str
    before: SteadyState
    changes: tuple[Considered, ...]
    together: Considered | None
    interaction_percent: Figure | None
    axle: Axle | None
    year: YearTotal | None
    over_speed: tuple[OverSpeed, ...]
    learnt_from: str
    flags: tuple[Flag, ...]
    provenance: Provenance
    schema: str = SCHEMA
