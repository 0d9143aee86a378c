"""What coastdowns give: the result as `calmday coastdown --json` prints it. Names are a contract."""

from __future__ import annotations

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance, ReferenceConditions

SCHEMA = "calmday/coastdown/1"


class RoadLoad(msgspec.Struct, frozen=True, kw_only=True):
    """Force that holds the vehicle back in neutral, f0 + f1 V + f2 V^2 with V in km/h, on the calm standard day."""

    f0: Figure
    f1: Figure
    f2: Figure


class ForceAt(msgspec.Struct, frozen=True, kw_only=True):
    """Road load at one speed on the calm standard day, and what of it is air, tyres and driveline."""

    speed: Figure
    force: Figure
    air: Figure
    rolling: Figure
    driveline: Figure
    power: Figure


class BookRoadLoad(msgspec.Struct, frozen=True, kw_only=True):
    """The same passes reduced as regulations do: times between speeds, both ways, a curve through them, corrections.

    Wind is corrected only along the road, gusts and side wind not at all. `f0` N, `f1` N/(km/h), `f2` N/(km/h)^2;
    `force` N at the speed `force_speed` km/h; `precision_percent` statistical precision p of the
    times; `status` how well the source is known.
    """

    f0: float
    f1: float
    f2: float
    force_speed: float
    force: float
    precision_percent: float | None
    pairs: int
    status: str


class OnePass(msgspec.Struct, frozen=True, kw_only=True):
    """One roll. `headwind` found along its way; `misfit` rms of recorded less modelled speed, m/s; `extra_force` what
    this pass alone was held back by more than the others say, N. `time_s`, `recorded_kmh`, `modelled_kmh` for a
    picture.
    """

    number: int
    table: int
    from_speed: Figure
    to_speed: Figure
    duration: Figure
    heading_deg: float | None
    headwind: Figure
    misfit: Figure
    extra_force: Figure
    odd: bool
    why: str
    time_s: tuple[float, ...]
    recorded_kmh: tuple[float, ...]
    modelled_kmh: tuple[float, ...]


class MorePasses(msgspec.Struct, frozen=True, kw_only=True):
    """How the give-or-take of the road load at `speed` falls with more passes like these.

    `passes` how many in all reach `wanted_percent`, None where no number does; `floor_percent` what mass, rotating
    parts and tyres leave however many there are. Half widths of 95 %, in percent.
    """

    speed: Figure
    now_percent: float
    wanted_percent: float
    passes: int | None
    floor_percent: float
    table: tuple[tuple[int, float], ...]


class DoubtLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of doubt and its share of the variance of the road load at the middle speed."""

    source: str
    share: float


class FitQuality(msgspec.Struct, frozen=True, kw_only=True):
    """How the posterior draws were got: effective number of them after weighting, rounds of moves and share taken."""

    draws: int
    effective_draws: float
    moves: int
    accepted: float
    sound: bool
    gusts_over_report: float
    grade_waves_percent: float


class CoastdownResult(msgspec.Struct, frozen=True, kw_only=True):
    """Drag and rolling from rolls in neutral.

    `rolling_resistance` all that is not air over weight, at 60 km/h: tyres, bearings and what turns in neutral, for
    coasting cannot tell them apart. `tyre_rolling_resistance` of the tyres with wheel bearings, as a build sheet means
    it, at 70 km/h; both at 20 degC, warm. `..._before` the same quantity before the passes, from the build sheet and
    what is usual. `correlation` of drag area and rolling resistance.
    `wind_along` head wind at vehicle height in the direction of the first pass, mean of the day; `grade` of each road
    in the direction first driven.
    """

    schema: str = SCHEMA
    vehicle: str
    label: str
    sentence: str
    drag_area: Figure
    rolling_resistance: Figure
    tyre_rolling_resistance: Figure
    correlation: float
    road_load: RoadLoad
    forces: tuple[ForceAt, ...]
    drag_area_before: Figure
    rolling_resistance_before: Figure
    tyre_rolling_resistance_before: Figure
    wind_along: Figure
    wind_across: Figure
    grade: tuple[Figure, ...]
    by_the_book: BookRoadLoad | None
    passes: tuple[OnePass, ...]
    more_passes: MorePasses
    doubt: tuple[DoubtLine, ...]
    quality: FitQuality
    reference: ReferenceConditions = ReferenceConditions()
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
