"""What a planner must know: the weather foretold, the scale, the fuel, the start, what was assumed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from calmday.procedures.flag import Flag, flag, gravest_first
from calmday.procedures.plan_result import FitsScale, FuelReserve
from calmday.procedures.planned_days import foretold
from calmday.procedures.planned_test import Candidate, PlannedTest
from calmday.procedures.run_flags_driving import GUST_LIMIT_MPS, SHORT_COLD_RUN_M, WIND_LIMIT_MPS
from calmday.procedures.run_flags_fuel import another_fuel

COASTDOWN_WIND_MPS: Final = 3.0
COASTDOWN_GUST_MPS: Final = 5.0
COASTDOWN_CROSS_MPS: Final = 2.0
"""Mean wind, gust and cross wind that older published coastdown rules allow (as summarised; dry road, air within 7.5 %
of its reference density)."""

GALE_MPS: Final = 17.2
"""Where Beaufort 8, gale, begins, mean wind at 10 m. WMO-No. 306, code table 1100 (from memory)."""

FREEZING_K: Final = 276.15
WEIGHING_SHARE: Final = 0.5


def flags_of_plan(test: PlannedTest, chosen: Candidate, fits: FitsScale, reserve: FuelReserve) -> tuple[Flag, ...]:
    """All remarks on a plan, the most serious first."""
    found = [
        *another_fuel("The plan", test.plan.fuel.kind, test.plan.vehicle.engine.fuel),
        *_weather(test),
        *_fuel(fits, reserve),
        *_weighing(chosen),
        *_start(test, chosen),
        *_route(test),
    ]
    return gravest_first(found)


def _weather(test: PlannedTest) -> Iterator[Flag]:
    told = foretold(test.plan)
    windy = [f for f in told if f.wind_speed_mps is not None]
    if not windy:
        yield flag(
            "no-forecast", "caution",
            "No wind is foretold.",
            "An ordinary day's wind from any direction is assumed, and the answer to expect is as wide as that.",
            "Enter the forecast for the hours of the test, at 10 m.",
        )  # fmt: skip
    mean = max((f.wind_speed_mps or 0.0 for f in windy), default=0.0)
    gust = max((f.gust_mps for f in windy if f.gust_mps is not None), default=0.0)
    if mean >= GALE_MPS:
        yield flag(
            "gale-foretold", "stop", f"A gale is foretold: {mean:.0f} m/s.",
            "A light or a high vehicle may be blown off its lane, and trees fall.",
            "Stay at home. Choose another day.",
        )  # fmt: skip
    elif mean > WIND_LIMIT_MPS or gust > GUST_LIMIT_MPS:
        gusts = f" with gusts of {gust:.0f} m/s" if gust else ""
        yield flag(
            "forecast-above-procedure-limit", "caution",
            f"{mean:.0f} m/s of wind are foretold{gusts}; published test procedures stop at a mean of "
            f"{WIND_LIMIT_MPS:.0f} m/s or gusts of {GUST_LIMIT_MPS:.0f}.",
            "Wind does not cancel on a loop, and the calm-day figure is wider for it.",
            "Early morning is often quietest. A comparison in turns suffers less than a single figure.",
        )  # fmt: skip
    elif mean > COASTDOWN_WIND_MPS or gust > COASTDOWN_GUST_MPS:
        yield flag(
            "too-windy-for-coastdown", "note",
            f"{mean:.0f} m/s of wind are foretold.",
            f"Good for weighed runs; published coastdown rules ask for {COASTDOWN_WIND_MPS:.0f} m/s at the most, gusts "
            f"{COASTDOWN_GUST_MPS:.0f}, across {COASTDOWN_CROSS_MPS:.0f}.",
            "Keep coastdowns for a quieter hour.",
        )  # fmt: skip
    cold = [f.temperature_k for f in told if f.temperature_k is not None and f.temperature_k < FREEZING_K]
    if cold:
        yield flag(
            "frost", "caution",
            "It may freeze.",
            "Ice on the road ends a test; scales read wrongly in frost, and winter fuel has less in each litre.",
            "Wait for a milder hour, and let the scale come to the temperature of the place.",
        )  # fmt: skip


def _fuel(fits: FitsScale, reserve: FuelReserve) -> Iterator[Flag]:
    if fits.parts is None:
        yield flag(
            "scale-too-small", "stop", fits.words, "What cannot be weighed cannot be reported.",
            "Borrow a larger scale, or drive fewer laps.",
        )  # fmt: skip
    elif fits.parts > 1:
        yield flag(
            "weigh-in-parts", "caution", fits.words,
            f"Each weighing brings its own error: the readings before the drive are {fits.doubt_times:.1f} times as "
            "unsure.",
            f"Decant into {fits.parts} cans and weigh each, or drive fewer laps.",
        )  # fmt: skip
    elif fits.fits is None:
        yield flag(
            "capacity-not-said", "note", "It is not said what the scale carries.",
            f"Can and fuel come to {fits.heaviest.value:.1f} kg.",
            "Compare that with the plate on the scale.",
        )  # fmt: skip
    if reserve.enough is not None and reserve.enough < 0.975:
        yield flag(
            "fuel-may-not-last", "stop" if reserve.enough < 0.5 else "caution", reserve.words,
            "Running dry draws air, ruins the run and may hurt the injection pump.",
            "Fill up, or drive fewer laps.",
        )  # fmt: skip


def _weighing(chosen: Candidate) -> Iterator[Flag]:
    mass = chosen.instruments.mass
    if 1.96 * mass > WEIGHING_SHARE * chosen.accuracy.half_width and mass > 0.01:
        yield flag(
            "too-little-fuel-planned", "caution",
            f"{1000 * chosen.usual_kg:.0f} g of fuel are burnt, and the weighing is good to "
            f"{196 * mass:.2g} % of that.",
            "Fuel that hides in lines and filter weighs more the less is burnt.",
            "Drive further, or find out by null tests what hides.",
        )  # fmt: skip


def _start(test: PlannedTest, chosen: Candidate) -> Iterator[Flag]:
    if test.plan.engine_start == "cold" and chosen.distance_m < SHORT_COLD_RUN_M:
        yield flag(
            "cold-start-in-short-run", "caution",
            f"A cold start is planned for {chosen.distance_m / 1000:.0f} km.",
            "Warming up takes as much fuel on a short run as on a long one, and nobody knows the amount well.",
            "Drive 20 to 30 minutes before the first weighing.",
        )  # fmt: skip


def _route(test: PlannedTest) -> Iterator[Flag]:
    if not test.route.tracked:
        yield flag(
            "route-not-tracked", "note",
            "There is no track of the route.",
            "Hills, bends and stops are assumed, and the fuel to expect is wider for it.",
            "Drive the lap once with the receiver on, and give the track as route.",
        )  # fmt: skip
    elif not test.route.closed:
        yield flag(
            "route-not-closed", "caution",
            "The track of the route does not come back to its start.",
            "A finish that is higher or lower than the start costs or saves fuel: 10 m are 6 to 13 g on a usual "
            "vehicle.",
            "Plan a loop, or drive out and back.",
        )  # fmt: skip
