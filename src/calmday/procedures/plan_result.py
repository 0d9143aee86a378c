"""What a plan gives: the result as `calmday plan --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Consumption, Flag, Provenance
from calmday.records.plan import Question

SCHEMA = "calmday/plan/1"

Answer = Literal["go", "go with a penalty", "no go"]


class PlanVerdict(msgspec.Struct, frozen=True, kw_only=True):
    """Whether to drive the test for this question, why, and what else would answer it. `penalty` what makes the answer
    less sure than it could be, and by how much, where it is to be driven all the same."""

    answer: Answer
    why: str
    instead: tuple[str, ...] = ()
    penalty: str = ""


class FitsScale(msgspec.Struct, frozen=True, kw_only=True):
    """Whether can and fuel can be weighed. `fits` in one filling; None where the scale's capacity is not known.

    `parts` fillings before the drive, None where no number of them helps; `doubt_times` how much larger the doubt of
    the readings before is with them, the root of their number.
    """

    fits: bool | None
    parts: int | None
    heaviest: Figure
    capacity: Figure | None
    filled: Figure
    left: Figure
    doubt_times: float
    words: str


class FuelReserve(msgspec.Struct, frozen=True, kw_only=True):
    """Fuel on board against fuel needed. `enough` chance that it lasts, 0 to 1; None where fuel on board is not
    known."""

    on_board: Figure | None
    needed: Figure
    left: Figure | None
    further: Figure | None
    enough: float | None
    words: str


class LapsOption(msgspec.Struct, frozen=True, kw_only=True):
    """What the test gives with so many laps. Half widths of 95 % intervals, in percent of the figure.

    `uncertainty_percent` of the calm-day figure, mean over simulated tests, nine in ten of them between `low_percent`
    and `high_percent`; `as_driven_percent` without the day taken out; `weighing_percent` of the fuel mass alone.
    """

    laps: int
    distance: Figure
    duration: Figure
    fuel_mass: Figure
    uncertainty_percent: float
    low_percent: float
    high_percent: float
    as_driven_percent: float
    weighing_percent: float
    parts: int | None
    lasts: bool | None


class SmallestChange(msgspec.Struct, frozen=True, kw_only=True):
    """Smallest change in percent that so many runs on either side would show four times in five.

    `percent` with the scatter believed beforehand counted in, `own_percent` by these runs alone (None where they have
    no freedom left to tell their scatter). `order` A before, B after the change.
    """

    runs_per_side: int
    order: str
    percent: float
    own_percent: float | None
    hours: float
    fuel_mass: Figure


class RunScatter(msgspec.Struct, frozen=True, kw_only=True):
    """Scatter from run to run on one day, one standard deviation in percent, and what it is made of.

    `worth` degrees of freedom that this belief counts for.
    """

    percent: float
    unexplained_percent: float
    weighing_percent: float
    worth: float
    words: str


class PlannedChange(msgspec.Struct, frozen=True, kw_only=True):
    """The before-and-after part of a plan: runs on either side, their order, and what they would show."""

    runs_per_side: int
    order: str
    percent: float
    runs_needed: int | None
    hours: float
    aim_percent: float


class PlannedWind(msgspec.Struct, frozen=True, kw_only=True):
    """The wind foretold: at 10 m, at the height of the vehicle, and what it will cost in percent of the calm-day
    figure."""

    at_mast: Figure
    at_vehicle: Figure
    from_deg: float | None
    penalty: Figure
    foretold: bool


class StopCost(msgspec.Struct, frozen=True, kw_only=True):
    """Fuel that one stop from the speed of the plan costs, without the waiting; and what a minute of idling costs.

    `kinetic` the part that stands for the kinetic energy alone, as rules of thumb count it.
    """

    stop: Figure
    kinetic: Figure
    idle_per_minute: Figure
    speed: Figure


class Holds(msgspec.Struct, frozen=True, kw_only=True):
    """Will it hold the speed? `chance` 0 to 1 against `head_wind` (at the height of the vehicle) and `grade`.

    `strongest_wind` it still holds the speed against; `same_grade` the hill that asks as much as the wind does.
    `wind_comes` chance that the wind foretold is as strong as that.
    """

    chance: float
    speed: Figure
    head_wind: Figure
    grade: Figure
    strongest_wind: Figure
    same_grade: Figure
    wind_comes: float


class Improvement(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that would make the answer surer, with the give-or-take it would then have, in percent."""

    code: str
    what: str
    uncertainty_percent: float
    minutes: float | None = None


class PlanResult(msgspec.Struct, frozen=True, kw_only=True):
    """The result of planning one test. Figures are None where the plan does not allow them.

    `uncertainty_percent` give-or-take to expect of the calm-day figure with `laps`; `laps_advised` fewest laps that
    reach `wanted_percent`, or after which more laps hardly help where none reaches it (`reaches_wanted` false).
    `smallest_detectable_percent` with `runs_per_side` of `change`. `learned_from` what the vehicle's figures rest on.
    """

    schema: str = SCHEMA
    label: str
    vehicle: str
    sentence: str
    question: Question
    verdict: PlanVerdict
    laps: int
    laps_advised: int
    reaches_wanted: bool
    wanted_percent: float
    wanted_assumed: bool
    lap_distance: Figure
    distance: Figure
    duration: Figure
    lap_time: Figure
    mean_speed: Figure
    speed: Figure
    fuel_mass: Figure
    fuel_volume: Figure
    fuel_per_lap: Figure
    fits_scale: FitsScale
    reserve: FuelReserve
    consumption: Consumption
    calm_day: Consumption
    uncertainty_percent: float
    as_driven_percent: float
    weighing_percent: float
    smallest_detectable_percent: float
    by_laps: tuple[LapsOption, ...]
    smallest_changes: tuple[SmallestChange, ...]
    scatter: RunScatter
    change: PlannedChange
    wind: PlannedWind
    stop_cost: StopCost
    holds: Holds | None = None
    improvements: tuple[Improvement, ...] = ()
    simulated_tests: int
    simulated_inside: float
    learned_from: str
    temperature: Figure
    flags: tuple[Flag, ...] = ()
    notes: tuple[str, ...] = ()
    provenance: Provenance
