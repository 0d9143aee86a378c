"""Simulated tests against the reduction of a weighed run: the same interval from two ways of keeping draws."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from plan_samples import fen_hauler_plan

from calmday.metrology.draws import standard_normal
from calmday.model.basis import AS_DRIVEN, CALM_DAY, build_basis
from calmday.model.conditioning import condition
from calmday.model.forward import Forward
from calmday.procedures.planned_days import days_of
from calmday.procedures.planned_route import drive_laps, route_of
from calmday.procedures.planned_test import plan_test
from calmday.procedures.simulated_tests import (
    REACH,
    Instruments,
    draw_day,
    model_of,
    simulate_tests,
)

LAPS = 2


def conditioned_half_widths(mass_sd: float, tests: int) -> list[float]:
    """Half widths of ln(calm day) by `model.conditioning`, of tests whose truth is a fresh draw of the vehicle."""
    plan = fen_hauler_plan()
    route = route_of(plan)
    days = days_of(plan, route, drive_laps(route, LAPS), 4, 1)
    halves = []
    for k, day in enumerate(days):
        model = model_of(plan, day.drive)
        forward = Forward(model, day.drive, build_basis(model, day.drive))

        def log_fuel(scores, on=AS_DRIVEN, model=model, forward=forward):
            return np.log(forward.fuel_energy_j(model.parameters.values(scores), on))

        size, linear = len(model.parameters), model.parameters.column("indicated_efficiency")
        truths = standard_normal(tests, size, 50 + k)
        for j, truth in enumerate(truths):
            read = float(log_fuel(truth[None])[0])
            scores = standard_normal(1500, size + 2, 100 + 10 * k + j)
            masses = read + mass_sd * scores[:, size]
            found = condition(log_fuel, scores[:, :size], scores[:, size + 1], masses, j, linear)
            calm = log_fuel(found.scores, CALM_DAY) - found.modelled + masses[found.picked]
            low, high = np.quantile(calm, (0.025, 0.975))
            halves.append(float(high - low) / 2)
    return halves


@pytest.mark.parametrize("mass_sd", [0.004, 0.02])
def test_the_interval_is_that_of_the_reduction(mass_sd: float) -> None:
    plan = fen_hauler_plan()
    route = route_of(plan)
    laps = drive_laps(route, LAPS)
    days = days_of(plan, route, laps, 4, 1)
    scores = standard_normal(1500, len(model_of(plan, days[0].drive).parameters), 9)
    weights = np.full((laps.lap.size, 1), laps.paced.step_s)
    drawn = [draw_day(plan, day, weights, scores) for day in days]
    here = simulate_tests(drawn, 0, Instruments(mass=mass_sd, distance=0.0, density=0.0), 3, 6).half_width
    there = conditioned_half_widths(mass_sd, 6)
    # both are means over 24 tests of half widths that differ by a tenth or so
    assert here == pytest.approx(np.mean(there), rel=0.08)


def test_simulated_intervals_hold_their_truth() -> None:
    plan = fen_hauler_plan()
    test = plan_test(plan, draws=800, days=24)
    inside = [c.accuracy.covered for c in test.candidates]
    # 96 tests each, not independent between numbers of laps: 95 % within three standard deviations of 2.2 %
    assert 0.885 <= np.mean(inside) <= 1.0


def test_distance_and_density_add_in_squares() -> None:
    test = plan_test(fen_hauler_plan(), draws=400, days=6)
    chosen = test.candidates[0]
    alone = simulate_tests(test.drawn, 0, Instruments(mass=chosen.instruments.mass, distance=0, density=0), 3)
    both = simulate_tests(test.drawn, 0, Instruments(mass=chosen.instruments.mass, distance=0.006, density=0.008), 3)
    expected = math.hypot(alone.half_width, REACH * 0.01)
    assert both.half_width == pytest.approx(expected, rel=0.01)


def test_what_is_told_narrower_narrows_the_answer() -> None:
    test = plan_test(fen_hauler_plan(), draws=800, days=8)
    own = test.candidates[1].instruments
    plain = simulate_tests(test.drawn, 1, own, 3)
    told = simulate_tests(test.drawn, 1, own, 3, narrower={"drag_area": 0.3, "rolling_resistance": 0.3})
    assert told.half_width < plain.half_width


def test_more_laps_never_make_it_worse() -> None:
    test = plan_test(fen_hauler_plan(), draws=800)
    halves = [c.accuracy.half_width for c in test.candidates]
    assert all(later <= earlier * 1.02 for earlier, later in pairwise(halves))


def test_the_same_seed_gives_the_same_plan() -> None:
    first, second = (plan_test(fen_hauler_plan(), draws=300, days=4) for _ in range(2))
    assert first.candidates[0].accuracy == second.candidates[0].accuracy
