"""From a simulated plan to its result: what to expect, whether it fits, how sure it will be, and whether to go."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.draws import FloatArray, standard_normal
from calmday.metrology.figure import Figure, exact, from_draws, middle_of
from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import Conditions
from calmday.procedures.comparison import BELIEF_WORTH, USUAL_SCATTER
from calmday.procedures.consumption import consumption
from calmday.procedures.detectable import (
    SIDES,
    changes_in,
    degrees_of_freedom,
    order_of,
    runs_for,
    smallest_change,
)
from calmday.procedures.plan_fit import fits_scale, reserve_of
from calmday.procedures.plan_flags import flags_of_plan
from calmday.procedures.plan_improvements import calm_accuracy, improvements
from calmday.procedures.plan_result import (
    Holds,
    LapsOption,
    PlannedChange,
    PlannedWind,
    PlanResult,
    RunScatter,
    SmallestChange,
    StopCost,
)
from calmday.procedures.plan_verdict import WANTED, blocked, enough, of_capability, of_change, of_figure
from calmday.procedures.planned_days import forecast_day, foretold
from calmday.procedures.planned_holding import holds
from calmday.procedures.planned_route import drive_laps
from calmday.procedures.planned_test import Candidate, PlannedTest, in_kg, per_distance
from calmday.procedures.simulated_tests import REACH, log_fuel
from calmday.procedures.stop_cost import idle_fuel_kgps, kinetic_fuel_kg, stop_fuel_kg
from calmday.procedures.weighed_run_result import Consumption, Provenance
from calmday.procedures.what_next import AROUND_A_RUN_MIN

USUAL_CHANGE_S: Final = 20 * 60.0
"""How long one change between the two states takes where the plan does not say; common practice, no source."""

USUAL_SIDES: Final = 4
HARDLY: Final = 1.08
"""More laps hardly help where the most looked at narrow the answer by less than this factor."""

SCATTER_HARDLY: Final = 1.15
_THIN: Final = 300


def result_of_plan(test: PlannedTest, made: Provenance, learned_from: str) -> PlanResult:
    """The printable result, without its sentence."""
    plan = test.plan
    wanted = plan.wanted if plan.wanted is not None else WANTED[plan.question]
    advised, reaches = laps_advised(test, wanted)
    chosen = test.with_laps(plan.laps if plan.laps is not None else advised)
    fits, reserve = fits_scale(plan, chosen), reserve_of(plan, test, chosen)
    calm = calm_accuracy(test, chosen)
    better = improvements(test, chosen, calm)
    scatter = run_scatter(test, chosen)
    change = _change(test, chosen, scatter)
    held = _holds(test) if plan.question == "capability" else None
    if plan.question == "comparison":
        verdict = blocked(fits, reserve) or of_change(change, scatter.percent, plan.hours)
    elif held is not None:
        verdict = of_capability(held)
    else:
        verdict = blocked(fits, reserve) or of_figure(wanted, chosen, test.candidates, calm.half_width, better)
    return _assembled(
        test,
        chosen,
        made,
        learned_from,
        {
            "verdict": verdict,
            "laps_advised": advised,
            "reaches_wanted": reaches,
            "wanted_percent": 100 * wanted,
            "wanted_assumed": plan.wanted is None,
            "fits_scale": fits,
            "reserve": reserve,
            "smallest_detectable_percent": change.percent,
            "smallest_changes": _changes(test, chosen, scatter),
            "scatter": scatter,
            "change": change,
            "holds": held,
            "improvements": better,
            "flags": flags_of_plan(test, chosen, fits, reserve),
        },
    )


def _assembled(
    test: PlannedTest, chosen: Candidate, made: Provenance, learned_from: str, judged: dict[str, object]
) -> PlanResult:
    plan = test.plan
    fuel = chosen.fuel_kg
    volume = fuel / per_distance(test, fuel, 1.0)[1]
    air = np.array([float(day.drive.temperature_k.mean()) for day in test.days]) - ZERO_CELSIUS_K
    return PlanResult(
        label=plan.label,
        vehicle=plan.vehicle.name,
        sentence="",
        question=plan.question,
        laps=chosen.laps,
        lap_distance=exact(test.route.length_m / 1000, "km"),
        distance=_distance(test, chosen.distance_m),
        duration=_with_pace(chosen.duration_s, test.route.pace_sd, "s"),
        lap_time=_with_pace(test.lap_s, test.route.pace_sd, "s"),
        mean_speed=_with_pace(3.6 * chosen.distance_m / chosen.duration_s, test.route.pace_sd, "km/h"),
        speed=exact(3.6 * test.route.speed_mps, "km/h"),
        fuel_mass=in_kg(fuel),
        fuel_volume=middle_of(1000 * volume, "L"),
        fuel_per_lap=in_kg(fuel / chosen.laps),
        consumption=_consumption(test, fuel, chosen.distance_m),
        calm_day=_consumption(test, chosen.calm_kg, chosen.distance_m),
        uncertainty_percent=100 * chosen.accuracy.half_width,
        as_driven_percent=100 * chosen.instruments.as_driven,
        weighing_percent=100 * REACH * chosen.instruments.mass,
        by_laps=tuple(_option(test, c) for c in test.candidates),
        wind=_wind(test),
        stop_cost=_stop_cost(test),
        simulated_tests=chosen.accuracy.tests,
        simulated_inside=chosen.accuracy.covered,
        learned_from=learned_from,
        temperature=from_draws(air, "degC"),
        notes=_notes(test),
        provenance=made,
        **judged,  # type: ignore[arg-type]
    )


def laps_advised(test: PlannedTest, wanted: float) -> tuple[int, bool]:
    """Fewest laps that give what is wanted, and whether any number does; else those after which more hardly help.

    For a comparison: fewest laps at which weighing no longer adds much to the scatter between runs.
    """
    if test.plan.question == "comparison":
        scatters = [math.hypot(USUAL_SCATTER, _own_mass(c)) for c in test.candidates]
        best = min(scatters)
        for candidate, scatter in zip(test.candidates, scatters, strict=True):
            if scatter <= SCATTER_HARDLY * best:
                return candidate.laps, True
    for candidate in test.candidates:
        if enough(candidate.accuracy.half_width, wanted):
            return candidate.laps, True
    least = min(c.accuracy.half_width for c in test.candidates)
    return next(c.laps for c in test.candidates if c.accuracy.half_width <= HARDLY * least), False


def _own_mass(candidate: Candidate) -> float:
    """Relative doubt of a weighing that another run draws anew: all but the span of the scale."""
    weighing = candidate.weighing
    own = math.sqrt(max(weighing.mass_sd_kg**2 - weighing.common_sd_kg**2, 0.0))
    return min(own / candidate.usual_kg, 1.0)


def run_scatter(test: PlannedTest, chosen: Candidate) -> RunScatter:
    """What runs of one state on one day will scatter by: declared, or what nobody explains with the weighing."""
    unexplained, weighing = USUAL_SCATTER, _own_mass(chosen)
    declared = test.plan.run_scatter
    total = declared if declared is not None else math.hypot(unexplained, weighing)
    words = (
        f"scatter of {100 * total:.2g} % as declared"
        if declared is not None
        else f"{100 * unexplained:.2g} % that nobody explains and {100 * weighing:.2g} % of weighing, assumed until "
        "runs have shown it"
    )
    return RunScatter(
        percent=100 * total,
        unexplained_percent=100 * unexplained,
        weighing_percent=100 * weighing,
        worth=BELIEF_WORTH,
        words=words,
    )


def _hours(test: PlannedTest, chosen: Candidate, order: str) -> float:
    """Time for all runs of an order: driving, weighing around each, and changing over, h."""
    change_s = test.plan.change_s if test.plan.change_s is not None else USUAL_CHANGE_S
    return (len(order) * (chosen.duration_s + 60 * AROUND_A_RUN_MIN) + changes_in(order) * change_s) / 3600


def _smallest(scatter: RunScatter, per_side: int) -> float:
    freedom = scatter.worth + max(degrees_of_freedom(per_side), 0)
    return smallest_change(scatter.percent, per_side, freedom)


def _change(test: PlannedTest, chosen: Candidate, scatter: RunScatter) -> PlannedChange:
    plan = test.plan
    sides = plan.runs_per_side or USUAL_SIDES
    aim = 100 * (plan.smallest_change if plan.smallest_change is not None else WANTED["comparison"])
    needed = runs_for(aim, scatter.percent, scatter.worth)
    order = order_of(sides)
    return PlannedChange(
        runs_per_side=sides,
        order=order,
        percent=_smallest(scatter, sides),
        runs_needed=needed or None,
        hours=_hours(test, chosen, order),
        aim_percent=aim,
    )


def _changes(test: PlannedTest, chosen: Candidate, scatter: RunScatter) -> tuple[SmallestChange, ...]:
    found = []
    for sides in SIDES:
        freedom = degrees_of_freedom(sides)
        order = order_of(sides)
        found.append(
            SmallestChange(
                runs_per_side=sides,
                order=order,
                percent=_smallest(scatter, sides),
                own_percent=smallest_change(scatter.percent, sides, freedom) if freedom > 0 else None,
                hours=_hours(test, chosen, order),
                fuel_mass=in_kg(2 * sides * chosen.fuel_kg),
            )
        )
    return tuple(found)


def _option(test: PlannedTest, candidate: Candidate) -> LapsOption:
    reserve = reserve_of(test.plan, test, candidate)
    return LapsOption(
        laps=candidate.laps,
        distance=_distance(test, candidate.distance_m),
        duration=_with_pace(candidate.duration_s, test.route.pace_sd, "s"),
        fuel_mass=in_kg(candidate.fuel_kg),
        uncertainty_percent=100 * candidate.accuracy.half_width,
        low_percent=100 * candidate.accuracy.low,
        high_percent=100 * candidate.accuracy.high,
        as_driven_percent=100 * candidate.instruments.as_driven,
        weighing_percent=100 * REACH * candidate.instruments.mass,
        parts=candidate.weighing.parts,
        lasts=None if reserve.enough is None else reserve.enough >= 0.975,
    )


def _distance(test: PlannedTest, metres: float) -> Figure:
    sd = test.route.distance_sd * metres / 1000
    return Figure(metres / 1000, sd, metres / 1000 - REACH * sd, metres / 1000 + REACH * sd, "km")


def _with_pace(value: float, relative_sd: float, unit: str) -> Figure:
    sd = relative_sd * value
    return Figure(value, sd, value - REACH * sd, value + REACH * sd, unit)


def _consumption(test: PlannedTest, fuel_kg: FloatArray, distance_m: float) -> Consumption:
    mass, density = per_distance(test, fuel_kg, distance_m)
    properties = fuel_properties(test.model.fuel)
    scores = standard_normal(mass.size, 2, test.seed + 5)
    return consumption(
        mass,
        density,
        properties.net_heating_value_jpkg + properties.net_heating_value_sd_jpkg * scores[:, 0],
        properties.co2_kgpkg + properties.co2_sd_kgpkg * scores[:, 1],
        test.plan.fuel.price_per_m3,
        test.plan.fuel.price_currency,
        read=middle_of,
    )


def _at_vehicle(test: PlannedTest) -> FloatArray:
    """Draws of the mean wind at vehicle height over the possible days, with the doubt of bringing it there."""
    found = []
    for day, drawn in zip(test.days, test.drawn, strict=True):
        p, drive = drawn.values, day.drive
        east = p["wind_factor"] * float(drive.wind_east_mps.mean()) + p["wind_offset_east"]
        north = p["wind_factor"] * float(drive.wind_north_mps.mean()) + p["wind_offset_north"]
        found.append(np.hypot(east, north))
    return np.concatenate(found)


def _wind(test: PlannedTest) -> PlannedWind:
    told = [f for f in foretold(test.plan) if f.wind_speed_mps is not None]
    mast = np.array([day.weather.wind_at_mast_mps for day in test.days])
    penalties = []
    for day, drawn in zip(test.days[:8], test.drawn[:8], strict=True):
        rows = slice(0, _THIN)
        values = {key: value[rows] for key, value in drawn.values.items()}
        weights = day.drive.step_s[:, None]
        with_wind = log_fuel(drawn.model, day.drive, values, weights, Conditions())
        without = log_fuel(drawn.model, day.drive, values, weights, Conditions(wind=False))
        calm = log_fuel(drawn.model, day.drive, values, weights, Conditions(False, False, False, False))
        penalties.append((100 * (np.exp(with_wind - calm) - np.exp(without - calm)))[:, 0])
    return PlannedWind(
        at_mast=from_draws(mast, "m/s"),
        at_vehicle=from_draws(_at_vehicle(test), "m/s"),
        from_deg=told[0].wind_from_deg if told else None,
        penalty=from_draws(np.concatenate(penalties), "%"),
        foretold=bool(told),
    )


def _stop_cost(test: PlannedTest) -> StopCost:
    drawn = test.drawn[0]
    values = _with_efficiency(drawn.values, drawn.eased_sd, test.seed)
    return StopCost(
        stop=from_draws(1000 * stop_fuel_kg(drawn.model, values, test.route.speed_mps), "g"),
        kinetic=from_draws(1000 * kinetic_fuel_kg(drawn.model, values, test.route.speed_mps), "g"),
        idle_per_minute=from_draws(60_000 * idle_fuel_kgps(drawn.model, values), "g"),
        speed=exact(3.6 * test.route.speed_mps, "km/h"),
    )


def _with_efficiency(values: dict[str, FloatArray], eased_sd: float, seed: int) -> dict[str, FloatArray]:
    """The draws with the spread of the indicated efficiency put back where it was taken out."""
    if eased_sd == 0:
        return values
    scores = standard_normal(values["indicated_efficiency"].size, 1, seed + 6)[:, 0]
    return values | {"indicated_efficiency": values["indicated_efficiency"] * np.exp(eased_sd * scores)}


def _holds(test: PlannedTest) -> Holds:
    plan = test.plan
    drawn = test.drawn[0]
    foretold_mps = _at_vehicle(test)
    draws = drawn.values["test_mass"].size
    wind = np.resize(foretold_mps, draws)
    if plan.head_wind_mps is not None:
        wind = np.full(draws, plan.head_wind_mps)
    return holds(drawn.model, drawn.values, test.route.speed_mps, wind, plan.grade or 0.0, foretold_mps)


def _notes(test: PlannedTest) -> tuple[str, ...]:
    day = forecast_day(test.plan, test.route, drive_laps(test.route, 1))
    return tuple(dict.fromkeys((*test.route.notes, *test.density.notes, *day.weather.notes)))
