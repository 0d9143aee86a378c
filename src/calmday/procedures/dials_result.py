"""What the dials are worth: the result as `calmday dials --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/dials/1"

LimitVerdict = Literal["within", "probably within", "open", "probably outside", "outside"]


class DialSpeed(msgspec.Struct, frozen=True, kw_only=True):
    """One speed on the dial. `error` indicated minus true; `factor` true over indicated; `upper_limit` the most that
    UN R39 lets a dial show at this true speed; `within_limits` the chance that it keeps to the rule; `read` false where
    no reading is near."""

    indicated: Figure
    true_speed: Figure
    error: Figure
    factor: Figure
    upper_limit: Figure
    within_limits: float
    read: bool


class SpeedometerResult(msgspec.Struct, frozen=True, kw_only=True):
    """A speedometer against the receiver. `factor` true over indicated at the middle of what was read; `scatter` what
    single readings scatter; `verdict` on the limits of UN R39 over the range that was read."""

    factor: Figure
    offset: Figure
    scatter: Figure
    readings: int
    speeds: tuple[DialSpeed, ...]
    verdict: LimitVerdict
    shows_too_little: float


class StretchResult(msgspec.Struct, frozen=True, kw_only=True):
    """One stretch of road on the odometer."""

    indicated: Figure
    distance: Figure
    factor: Figure


class OdometerResult(msgspec.Struct, frozen=True, kw_only=True):
    """An odometer against true distance. `factor` true over indicated; `belongs_to` what was fitted."""

    factor: Figure
    stretches: tuple[StretchResult, ...]
    belongs_to: str
    since: str
    ended_by: str


class GaugePoint(msgspec.Struct, frozen=True, kw_only=True):
    """What is in the tank at one place of the needle."""

    needle: float
    content: Figure


class GaugeResult(msgspec.Struct, frozen=True, kw_only=True):
    """A fuel gauge. `points` content over needle; `linear_off` how far it is from an even dial at the most."""

    capacity: Figure
    readings: int
    points: tuple[GaugePoint, ...]
    read: tuple[GaugePoint, ...]
    linear_off: Figure


class RangeResult(msgspec.Struct, frozen=True, kw_only=True):
    """How far the fuel goes. `count_on` what 95 tanks in 100 reach."""

    known_by: Literal["needle", "distance since full"]
    fuel_left: Figure
    consumption: Figure
    distance: Figure
    count_on: float


class ChangedDials(msgspec.Struct, frozen=True, kw_only=True):
    """What a change will do, before it is made. `reads` new over old indication at the same true speed; at the same
    speed on the dial `true_speed` after, where it was `true_before`."""

    what: str
    reads: Figure
    odometer_factor: Figure | None
    at_indicated: Figure | None
    true_before: Figure | None
    true_speed: Figure | None
    verdict: LimitVerdict | None
    engine_speed_change: Figure


class DialsResult(msgspec.Struct, frozen=True, kw_only=True):
    """Everything about the dials. None: not asked."""

    schema: str = SCHEMA
    label: str
    vehicle: str
    sentence: str
    speedometer: SpeedometerResult | None
    odometer: OdometerResult | None
    fuel_gauge: GaugeResult | None
    range: RangeResult | None
    changes: tuple[ChangedDials, ...]
    flags: tuple[Flag, ...]
    provenance: Provenance
