"""What gears give: the result as `calmday gears --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/gears/1"

Limit = Literal["power", "governor", "gearing"]
ChangeBasis = Literal["equal acceleration", "governed speed", "smooth running", "load", "stay"]


class LimitShares(msgspec.Struct, frozen=True, kw_only=True):
    """Share of the simulated vehicles that each limit stops; they add up to one."""

    power: float
    governor: float
    gearing: float


class Gear(msgspec.Struct, frozen=True, kw_only=True):
    """One gear in the conditions asked for.

    `sustained_speed` the speed it holds, over the simulated vehicles that hold any (`holds` their share; None below one
    half), `limit` what stops it going faster, `engine_speed_there` at that speed. At the chosen speed: `engine_speed`,
    `reserve` (thrust less resistance), `reserve_grade` what that could climb, the grade it is on included,
    `strongest_headwind` at which nothing is left, `load` part of full load needed, `fuel` used, `holds_chosen` share of
    vehicles that hold it; None where the engine cannot turn at that speed, and `out_of_range` says why.
    """

    gear: int
    overall_ratio: float
    speed_per_1000rpm: Figure
    speed_at_governed: Figure
    labouring_below: Figure
    sustained_speed: Figure | None
    holds: float
    limit: Limit
    limit_shares: LimitShares
    engine_speed_there: Figure | None
    steepest_grade: Figure
    steepest_grade_at: Figure
    engine_speed: Figure | None
    reserve: Figure | None
    reserve_grade: Figure | None
    strongest_headwind: Figure | None
    load: Figure | None
    fuel: Figure | None
    holds_chosen: float
    out_of_range: str = ""


class ShiftPoint(msgspec.Struct, frozen=True, kw_only=True):
    """A change up. `speed` by satellite, None where it is better to stay; `speedometer` what the dial shows then.

    `reached` share of vehicles that get that far in the lower gear. `fuel_saving` what the change saves at that speed.
    """

    from_gear: int
    to_gear: int
    speed: Figure | None
    speedometer: Figure | None
    engine_speed_before: Figure | None
    engine_speed_after: Figure | None
    basis: ChangeBasis
    reached: float = 1.0
    fuel_saving: Figure | None = None


class ShiftPoints(msgspec.Struct, frozen=True, kw_only=True):
    """Where to change up, lower gear first."""

    best_acceleration: tuple[ShiftPoint, ...]
    least_fuel: tuple[ShiftPoint, ...]


class ThrustCurve(msgspec.Struct, frozen=True, kw_only=True):
    """Full-load thrust of a gear over road speed: mean over the draws and the bounds of its 95 % interval."""

    gear: int
    speed: tuple[float, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    unit: str = "N"
    speed_unit: str = "km/h"


class RoadLoadCurve(msgspec.Struct, frozen=True, kw_only=True):
    """Resistance over road speed in the conditions asked for, mean and 95 % bounds."""

    speed: tuple[float, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    unit: str = "N"
    speed_unit: str = "km/h"


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """The conditions of this answer. `assumed_speed` true where nobody chose the speed."""

    headwind: Figure
    grade: Figure
    payload: Figure
    air_density: Figure
    temperature: Figure
    speed: Figure
    assumed_speed: bool
    full_load_factor: Figure
    chart_standard: str = ""


class Hold(msgspec.Struct, frozen=True, kw_only=True):
    """Which gear to hold at the chosen speed: the tallest that surely pulls there, and why. None: none does."""

    gear: int | None
    top_speed_gear: int
    top_speed: Figure | None
    why: str


class CardRow(msgspec.Struct, frozen=True, kw_only=True):
    """One change on the shift card, satellite speeds in km/h: change up, and come back down. None: stay.

    `level_rpm`, `hill_rpm`, `headwind_rpm` the engine speed at the change up, for a rev counter.
    """

    from_gear: int
    to_gear: int
    level_up: float | None
    level_down: float | None
    hill_up: float | None
    hill_down: float | None
    headwind_up: float | None
    headwind_down: float | None
    level_rpm: float | None = None
    hill_rpm: float | None = None
    headwind_rpm: float | None = None


class GearBand(msgspec.Struct, frozen=True, kw_only=True):
    """Speeds a gear is good for, km/h: from where the engine begins to labour to governed speed."""

    gear: int
    slowest: float
    fastest: float


class TachometerMarks(msgspec.Struct, frozen=True, kw_only=True):
    """Where to put marks on the glass of a rev counter, rpm: below `labour` the engine labours, `cruise_slow` to
    `cruise_fast` is good for hours, `change_by` the latest change up, `governed` not to be exceeded."""

    labour: float
    cruise_slow: float
    cruise_fast: float
    change_by: float
    governed: float


class ShiftCard(msgspec.Struct, frozen=True, kw_only=True):
    """What is printed large for the dashboard. `cruise` 10 to 15 % under governed speed in the gear that carries it.

    `reserve` the share of full load that a change for least fuel leaves in hand in the next gear.
    """

    rows: tuple[CardRow, ...]
    bands: tuple[GearBand, ...]
    hill_grade: float
    headwind: float
    cruise_gear: int | None
    cruise_slow: float | None
    cruise_fast: float | None
    speedometer_factor: float | None = None
    reserve: float = 0.18
    marks: TachometerMarks | None = None


class Prediction(msgspec.Struct, frozen=True, kw_only=True):
    """From rest at full load, level and as asked. A time is None where fewer than half of the vehicles get there."""

    to_100_kmh: Figure | None
    to_60_mph: Figure | None
    quarter_mile: Figure | None
    quarter_mile_speed: Figure | None


class HeldBack(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch of a drive at full load. Forces in newton; `cause` the largest of them in words.

    `wind` what the wind added to the drag, `hill` what the grade asked for, `gear` thrust that the gear left unused
    against the best gear at that speed. `lower_gear` and `lower_gear_speed` what the next lower gear would have held.
    """

    start_s: float
    end_s: float
    gear: int
    speed: Figure
    wind: Figure
    hill: Figure
    gear_loss: Figure
    cause: Literal["wind", "hill", "gear", "engine"]
    lower_gear: int | None
    lower_gear_speed: Figure | None


class AlongRun(msgspec.Struct, frozen=True, kw_only=True):
    """Engine speed and load along a recorded drive, one entry per sample; gear 0: standing or clutch open.

    The gear is the tallest that could have done what was recorded; without a rev counter or sound it is not known.
    """

    label: str
    time_at_full_load: Figure
    share_at_full_load: Figure
    held_back: tuple[HeldBack, ...]
    time_s: tuple[float, ...]
    speed_kmh: tuple[float, ...]
    gear: tuple[int, ...]
    engine_speed_rpm: tuple[float, ...]
    load: tuple[float, ...]
    load_low: tuple[float, ...]
    load_high: tuple[float, ...]


class GearsResult(msgspec.Struct, frozen=True, kw_only=True):
    """Gears, thrust, shift points of one vehicle in stated conditions."""

    schema: str = SCHEMA
    vehicle: str
    sentence: str
    asked: Asked
    gears: tuple[Gear, ...]
    hold: Hold
    shift_points: ShiftPoints
    shift_card: ShiftCard
    thrust: tuple[ThrustCurve, ...]
    road_load: RoadLoadCurve
    acceleration: Prediction
    run: AlongRun | None = None
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
