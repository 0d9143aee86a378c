"""What pulls and climbs give: the result as `calmday pull --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.standing_start import StandingStart
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/pull/1"


class PowerPoint(msgspec.Struct, frozen=True, kw_only=True):
    """Full-load power at one engine speed, averaged over the pulls that went through it.

    `engine_power` at the flywheel in the air of the day, accessories driven; `corrected_power` under the standard;
    `wheel_power` at the tyres with the vehicle at steady speed; `of_chart` engine power over that of the full-load
    curve carried to the air of the day, None without a curve.
    """

    engine_speed: Figure
    torque: Figure
    engine_power: Figure
    wheel_power: Figure
    corrected_power: Figure
    of_chart: Figure | None
    pulls: int


class OnePull(msgspec.Struct, frozen=True, kw_only=True):
    """One pull or one timing of a climb: what was driven, and its own power at its mean engine speed.

    `measured_time` from `from_speed` to `to_speed`, `predicted_time` what the build sheet's thrust model says; None
    for climbs and where the model does not get there.
    """

    number: int
    kind: Literal["acceleration", "climb"]
    gear: int
    from_speed: Figure
    to_speed: Figure
    duration: Figure
    grade: Figure
    headwind: Figure
    engine_speed: Figure
    engine_power: Figure
    speed_noise: Figure
    measured_time: Figure | None
    predicted_time: Figure | None


class Corrected(msgspec.Struct, frozen=True, kw_only=True):
    """How power was brought to standard conditions. `within_limits` false: the standard does not allow the factor."""

    standard: str
    factor: float
    within_limits: bool
    limits: str
    status: str


class DoubtLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of doubt and its share of the variance of the power."""

    source: str
    share: float


class PullResult(msgspec.Struct, frozen=True, kw_only=True):
    """Power of an engine from pulls and climbs on the road. `peak_power` the highest of `points`, `peak_at` its speed;
    None on a day of starts from rest alone, which say nothing of power by themselves.

    `scatter` pull to pull, one standard deviation in percent; None for a single pull.
    """

    schema: str = SCHEMA
    vehicle: str
    label: str
    sentence: str
    peak_power: Figure | None
    peak_at: Figure | None
    corrected_peak_power: Figure | None
    of_chart: Figure | None
    points: tuple[PowerPoint, ...]
    pulls: tuple[OnePull, ...]
    correction: Corrected | None
    scatter: Figure | None
    doubt: tuple[DoubtLine, ...]
    starts: tuple[StandingStart, ...] = ()
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
