"""A planned test as draws: the fuel of every number of laps on every possible day, and what the reduction will give."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.draws import FloatArray, standard_normal
from calmday.metrology.figure import Figure, middle_of
from calmday.metrology.middle import median
from calmday.model.vehicle_model import VehicleModel
from calmday.procedures.gears_vehicle import carried_over
from calmday.procedures.planned_days import Day, days_of
from calmday.procedures.planned_route import LappedDrive, Route, drive_laps, route_of
from calmday.procedures.planned_weighing import Weighed, density_of, weighed
from calmday.procedures.simulated_tests import (
    OF_THE_DAY,
    Accuracy,
    DrawnDay,
    Instruments,
    draw_day,
    model_of,
    simulate_tests,
)
from calmday.records.plan import Plan
from calmday.reduction.fuel_density import BatchDensity

DEFAULT_PLAN_DRAWS: Final = 800
FEWEST_PLAN_DRAWS: Final = 200
DEFAULT_PLAN_SEED: Final = 20260412
DAYS: Final = 24
TESTS_EACH: Final = 4

USUAL_MOST_M: Final = 120_000.0
USUAL_MOST_S: Final = 3 * 3600.0
MOST_COLUMNS: Final = 10
FEWEST_DRIVEN: Final = 4
WARM_S: Final = 2400.0
"""Laps are driven one by one until everything is warm; further ones are like the two before the last."""


Known = tuple[VehicleModel, Mapping[str, FloatArray]]
"""A model with draws of its parameters after what earlier runs and other evidence taught."""


class Candidate(msgspec.Struct, frozen=True, kw_only=True):
    """The test with one number of laps. `fuel_kg` what it will burn, with how it will be driven; draws (p,)."""

    laps: int
    column: int
    distance_m: float
    duration_s: float
    fuel_kg: FloatArray
    calm_kg: FloatArray
    weighing: Weighed
    instruments: Instruments
    accuracy: Accuracy

    @property
    def usual_kg(self) -> float:
        """The fuel to expect, kg: the middle draw."""
        return median(self.fuel_kg)


class PlannedTest(msgspec.Struct, frozen=True, kw_only=True):
    """Everything behind a plan's figures. `driven_laps` how many laps were driven one by one."""

    plan: Plan
    route: Route
    days: tuple[Day, ...]
    drawn: tuple[DrawnDay, ...]
    candidates: tuple[Candidate, ...]
    density: BatchDensity
    lap_s: float
    driven_laps: int
    seed: int
    draws: int

    @property
    def model(self) -> VehicleModel:
        return self.drawn[0].model

    def with_laps(self, laps: int) -> Candidate:
        """The candidate with so many laps."""
        return next(c for c in self.candidates if c.laps == laps)


def plan_test(
    plan: Plan,
    draws: int = DEFAULT_PLAN_DRAWS,
    seed: int = DEFAULT_PLAN_SEED,
    known: Known | None = None,
    days: int = DAYS,
) -> PlannedTest:
    """Simulate a test that is to be driven. The same seed gives the same plan. Raises InputError, and ValueError for
    too few draws."""
    if draws < FEWEST_PLAN_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_PLAN_DRAWS} or more")
    route = route_of(plan)
    single = drive_laps(route, 1)
    lap_s = single.paced.duration_s
    most = most_laps(plan, route, lap_s)
    driven = drive_laps(route, min(most, max(FEWEST_DRIVEN, math.ceil(WARM_S / lap_s) + 2)))
    counts = lap_counts(plan, most)
    weights = lap_weights(driven, counts)
    possible = days_of(plan, route, driven, days, seed)
    model = model_of(plan, possible[0].drive)
    scores = standard_normal(draws, len(model.parameters), seed)
    taught = _taught(model, known, draws)
    drawn = tuple(draw_day(plan, day, weights, scores, taught) for day in possible)
    density = density_of(plan)
    test = PlannedTest(
        plan=plan,
        route=route,
        days=possible,
        drawn=drawn,
        candidates=(),
        density=density,
        lap_s=lap_s,
        driven_laps=int(driven.lap[-1]) + 1,
        seed=seed,
        draws=draws,
    )
    found = tuple(_candidate(test, driven, column, laps) for column, laps in enumerate(counts))
    return msgspec.structs.replace(test, candidates=found)


def most_laps(plan: Plan, route: Route, lap_s: float) -> int:
    """The most laps looked at: as asked, else as many as make a long test."""
    if plan.most_laps is not None:
        return max(plan.most_laps, plan.laps or 1)
    usual = min(USUAL_MOST_M / route.length_m, USUAL_MOST_S / lap_s)
    return max(1, round(usual), plan.laps or 1)


def lap_counts(plan: Plan, most: int) -> tuple[int, ...]:
    """Numbers of laps to look at, few enough to read: all, or about evenly spaced ratios with the one asked for."""
    if most <= MOST_COLUMNS:
        return tuple(range(1, most + 1))
    spaced = {round(n) for n in np.geomspace(1, most, MOST_COLUMNS)}
    return tuple(sorted(spaced | ({plan.laps} if plan.laps else set())))


def lap_weights(driven: LappedDrive, counts: tuple[int, ...]) -> FloatArray:
    """Seconds that each sample stands for with each number of laps, (n, l)."""
    last = int(driven.lap[-1])
    columns = []
    for laps in counts:
        times = np.where(driven.lap < laps, 1.0, 0.0)
        if laps > last + 1:
            times[(driven.lap == last - 1) | (driven.lap == last - 2)] += (laps - last - 1) / 2
        columns.append(driven.paced.step_s * times)
    return np.stack(columns, axis=1)


def _taught(model: VehicleModel, known: Known | None, draws: int) -> dict[str, FloatArray] | None:
    """Draws of what is already known of the vehicle, as many as asked for; parameters of the day are left out."""
    if known is None:
        return None
    found = carried_over(model, known[0], dict(known[1]))
    rows = np.linspace(0, len(next(iter(known[1].values()))) - 1, draws).astype(np.int64)
    return {key: values[rows] for key, values in found.items() if key not in OF_THE_DAY}


def _candidate(test: PlannedTest, driven: LappedDrive, column: int, laps: int) -> Candidate:
    fuel, calm = _predicted(test, column)
    middle, most = median(fuel), float(np.quantile(fuel, 0.975))
    weighing = weighed(test.plan, middle, most)
    instruments = Instruments(
        mass=min(weighing.mass_sd_kg / middle, 1.0),
        distance=test.route.distance_sd,
        density=test.density.sd_kgpm3 / test.density.density_15_kgpm3,
    )
    return Candidate(
        laps=laps,
        column=column,
        distance_m=laps * test.route.length_m,
        duration_s=float(lap_weights(driven, (laps,)).sum()),
        fuel_kg=fuel,
        calm_kg=calm,
        weighing=weighing,
        instruments=instruments,
        accuracy=simulate_tests(test.drawn, column, instruments, test.seed, TESTS_EACH),
    )


def _predicted(test: PlannedTest, column: int) -> tuple[FloatArray, FloatArray]:
    """Fuel of the drive and of its calm day, kg: all days and draws, with how it will be driven and what nobody
    explains."""
    driven = np.concatenate([day.log_fuel[:, column] for day in test.drawn])
    ratio = np.concatenate([day.log_ratio[:, column] for day in test.drawn])
    own = standard_normal(driven.size, 3, test.seed + 3)
    day = test.drawn[0]
    log = driven + day.eased_sd * own[:, 0] + day.run_sd * own[:, 1] + test.route.pace_sd * own[:, 2]
    return np.exp(log), np.exp(log + ratio)


def per_distance(test: PlannedTest, fuel_kg: FloatArray, distance_m: float) -> tuple[FloatArray, FloatArray]:
    """Draws of mass per distance (kg/m) and of the density at 15 degC (kg/m3)."""
    scores = standard_normal(fuel_kg.size, 1, test.seed + 4)[:, 0]
    return fuel_kg / distance_m, test.density.density_15_kgpm3 + test.density.sd_kgpm3 * scores


def in_kg(draws: FloatArray) -> Figure:
    """A mass with its interval; the middle draw."""
    return middle_of(draws, "kg")
