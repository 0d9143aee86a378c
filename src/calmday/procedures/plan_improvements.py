"""What would make the answer of a planned test surer: the test simulated again with one thing better."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.draws import standard_normal
from calmday.procedures.plan_result import Improvement
from calmday.procedures.planned_days import days_of
from calmday.procedures.planned_route import drive_laps
from calmday.procedures.planned_test import Candidate, PlannedTest, lap_weights
from calmday.procedures.simulated_tests import Accuracy, Instruments, draw_day, simulate_tests
from calmday.procedures.what_next import (
    COASTDOWN_SD,
    KNOWN_MASS_SD,
    NULL_TEST_LEAVES,
    WEIGHED_LITRE_SD,
)
from calmday.records.plan import Forecast

CALM_WIND_MPS: Final = 1.5
CALM_DOUBT_MPS: Final = 0.7
CALM_DAYS: Final = 8
COASTDOWN_ROLLING_SD: Final = 0.06
LEAST_GAIN: Final = 0.03
"""What narrows the answer by less than this share is not worth a line."""

_HIDDEN: Final = ("fuel in lines", "level of the full tank")


def calm_accuracy(test: PlannedTest, chosen: Candidate) -> Accuracy:
    """The same test on a day with hardly any wind."""
    calm = msgspec.structs.replace(
        test.plan,
        forecast=(Forecast(wind_speed_mps=CALM_WIND_MPS, wind_from_deg=0.0, temperature_k=_temperature(test)),),
        weather=msgspec.structs.replace(test.plan.weather, readings=()),
        forecast_doubt_mps=CALM_DOUBT_MPS,
    )
    driven = drive_laps(test.route, test.driven_laps)
    weights = lap_weights(driven, (chosen.laps,))
    drawn = []
    for day in days_of(calm, test.route, driven, CALM_DAYS, test.seed):
        scores = standard_normal(test.draws, len(test.model.parameters), test.seed)
        drawn.append(draw_day(calm, day, weights, scores, _taught_values(test)))
    return simulate_tests(drawn, 0, chosen.instruments, test.seed, 8)


def _temperature(test: PlannedTest) -> float:
    return float(np.mean([day.drive.temperature_k.mean() for day in test.days]))


def _taught_values(test: PlannedTest) -> dict[str, np.ndarray] | None:
    """What earlier evidence taught, as it entered the test; None where nothing did."""
    return test.drawn[0].values if test.drawn[0].eased_sd == 0 else None


def improvements(test: PlannedTest, chosen: Candidate, calm: Accuracy) -> tuple[Improvement, ...]:
    """Things worth doing, the surest answer first; what is already done or hardly helps is left out."""
    own, now = chosen.instruments, chosen.accuracy.half_width
    found = [_of("calm-day", "drive it on a day with under 2 m/s of wind", calm.half_width, None)]
    if own.density > 1.05 * WEIGHED_LITRE_SD:
        half = _again(test, chosen, msgspec.structs.replace(own, density=WEIGHED_LITRE_SD))
        found.append(_of("weigh-litre", "weigh a litre of this fuel", half, 10.0))
    hidden = _without(chosen, _HIDDEN, math.sqrt(NULL_TEST_LEAVES))
    if not test.plan.fuel_system.null_test_kg and hidden < own.mass:
        half = _again(test, chosen, msgspec.structs.replace(own, mass=hidden))
        found.append(_of("null-test", "make three null tests of the fuel rig", half, 45.0))
    span = _with_span(chosen)
    if span < own.mass:
        half = _again(test, chosen, msgspec.structs.replace(own, mass=span))
        found.append(_of("check-scale", "check the scale with bottles of known mass", half, 10.0))
    narrower = _coastdown(test)
    if narrower:
        half = simulate_tests(test.drawn, chosen.column, own, test.seed, narrower=narrower).half_width
        found.append(_of("coastdown", "make three pairs of coastdowns", half, 90.0))
    if test.plan.engine_start == "cold":
        found += _warm(test, chosen)
    worth = [f for f in found if f.uncertainty_percent < 100 * (1 - LEAST_GAIN) * now]
    return tuple(sorted(worth, key=lambda f: f.uncertainty_percent))


def _of(code: str, what: str, half: float, minutes: float | None) -> Improvement:
    return Improvement(code=code, what=what, uncertainty_percent=100 * half, minutes=minutes)


def _again(test: PlannedTest, chosen: Candidate, instruments: Instruments) -> float:
    return simulate_tests(test.drawn, chosen.column, instruments, test.seed).half_width


def _warm(test: PlannedTest, chosen: Candidate) -> list[Improvement]:
    warm = msgspec.structs.replace(test.plan, engine_start="warm")
    weights = lap_weights(drive_laps(test.route, test.driven_laps), (chosen.laps,))
    scores = standard_normal(test.draws, len(test.model.parameters), test.seed)
    drawn = [draw_day(warm, day, weights, scores, _taught_values(test)) for day in test.days[:CALM_DAYS]]
    half = simulate_tests(drawn, 0, chosen.instruments, test.seed, 8).half_width
    return [_of("warm-start", "warm it up for 20 to 30 minutes before the first weighing", half, 25.0)]


def _without(chosen: Candidate, lines: tuple[str, ...], leaves: float) -> float:
    """Relative doubt of the mass with some lines of its budget narrowed."""
    parts = [
        (leaves if c.source.startswith(lines) else 1.0) * c.standard_uncertainty for c in chosen.weighing.contributions
    ]
    return math.hypot(*parts) / chosen.usual_kg if parts else math.inf


def _with_span(chosen: Candidate) -> float:
    """Relative doubt of the mass with a scale that bottles of known mass have checked."""
    mass = chosen.usual_kg
    parts = [
        min(c.standard_uncertainty, KNOWN_MASS_SD * mass) if c.source == "scale, accuracy" else c.standard_uncertainty
        for c in chosen.weighing.contributions
    ]
    return math.hypot(*parts) / mass if parts else math.inf


def _coastdown(test: PlannedTest) -> dict[str, float]:
    """Share of the spread of drag and rolling that three pairs of coastdowns leave."""
    values, left = test.drawn[0].values, {}
    for key, target in (("drag_area", COASTDOWN_SD), ("rolling_resistance", COASTDOWN_ROLLING_SD)):
        spread = float(np.log(values[key]).std())
        if spread > 1.1 * target:
            left[key] = target / spread
    return left
