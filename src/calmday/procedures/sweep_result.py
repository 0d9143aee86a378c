"""What a sweep gives: the result as `calmday sweep --json` prints it. Names are a contract."""

from __future__ import annotations

import msgspec

from calmday.procedures.weighed_run_result import Provenance

SCHEMA = "calmday/sweep/1"


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """One combination: its settings as written, fuel with its 95 % interval (L/100 km), gear, engine speed, and the
    share of vehicles that hold the speed straight into the wind."""

    settings: dict[str, str]
    fuel_L_per_100km: float
    low: float
    high: float
    gear: int
    engine_speed_rpm: float
    holds: float


class SweepResult(msgspec.Struct, frozen=True, kw_only=True):
    """A grid in short: how many combinations there were, how many of them hold the speed, and those that use least."""

    vehicle: str
    combinations: int
    draws: int
    axes: tuple[str, ...]
    held: int
    best: tuple[Place, ...]
    provenance: Provenance
    schema: str = SCHEMA
