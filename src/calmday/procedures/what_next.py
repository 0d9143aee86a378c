"""What to do next with a run: each thing worth doing, by how much it would narrow the figure for an hour's work.

Expected shrink, not a promise: a source of doubt in the run's own budget is replaced by what the measure leaves of it,
the others stay. Information is the logarithm of the ratio of the intervals, in bits (Lindley 1956, Ann. Math. Statist.
27, 986: for normal distributions the gain in Shannon information).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import BudgetLine, RunResult

WEIGHED_LITRE_SD = 0.003
"""Density by weighing a bottle filled to a mark, first with water and then with fuel, on one scale: 2 to 3 g in 1 kg,
relative. Assumed."""

KNOWN_MASS_SD = 0.0003
"""Scale checked with bottles of known mass: 0.3 g per kg. Assumed."""

TRACK_DISTANCE_SD = 0.002
COASTDOWN_SD = 0.033
"""Pairs of coastdowns: 5 to 8 % on the force at mid speed, a 95 % half width; trade."""

COEFFICIENT_PART = 0.25
"""Part of what tyres and rolling put into the doubt of a calm day that belongs to their coefficient, mean over 400
invented drives; the rest is how it goes with temperature, of which rolls on one day tell nothing."""

WEIGHBRIDGE_SD = 0.005
GEARING_KNOWN = (0.015 / 0.15) ** 2
NULL_TEST_LEAVES = (8.0 / 12.0) ** 2
"""Fuel that hides: 8 to 15 g in the trade, 12 g assumed; a practised hand keeps to the lower end."""

HALF_THE_WIND = (1 / 4) ** 2
"""The work of the wind goes with its square: half the wind leaves a quarter of the doubt."""

WARM_START = (0.10 * 0.9 / 0.42) ** 2
"""A warm start keeps a tenth of a cold one, known to 90 % where that was known to 42 %; model/vehicle_model.py."""

AROUND_A_RUN_MIN = 25.0
UNKNOWN_RUN_MIN = 60.0
LEAST_SHRINK = 0.03
"""A shrink of less than this of the give-or-take is not worth naming."""

OF_ONE_RUN = (
    *("scale, repeatability", "scale, before", "scale, after", "scale, added", "fuel in lines", "null test"),
    *("drips and vapour", "level of the full tank", "distance", "run-to-run", "wind at the vehicle", "gusts"),
    *("air density", "buoyancy", "pump meter", "fill, "),
)
"""Sources that another run draws anew; everything else is the same in every run of the vehicle."""

Shrink = Callable[[BudgetLine, float], float]
"""Share of a line's variance that a measure leaves; the second argument is the line's relative standard uncertainty."""


class NextStep(msgspec.Struct, frozen=True, kw_only=True):
    """One thing worth doing. `half_width_now`, `half_width_then` of the figure, 95 %; `bits_per_hour` ranks it."""

    code: str
    what: str
    why: str
    minutes: float
    half_width_now: float
    half_width_then: float
    unit: str
    bits_per_hour: float


class _Measure(msgspec.Struct, frozen=True):
    code: str
    what: str
    minutes: float
    lines: tuple[str, ...]
    leaves: Shrink


def own_share(budget: Sequence[BudgetLine]) -> float:
    """Share of the variance that belongs to one run alone and averages out over several [0 to 1]."""
    return min(1.0, sum(line.share for line in budget if line.source.startswith(OF_ONE_RUN)))


def what_next(result: RunResult, said: Collection[str]) -> tuple[NextStep, ...]:
    """Things worth doing after a run, the most information per hour first; empty where nothing narrows it by 3 %.

    `said` the keys that run and build sheet give, such as `fuel.density` or `vehicle.gear_ratios`.
    """
    figure, budget = _figure(result), result.budget or result.budget_as_driven
    if figure is None or not budget or figure.value <= 0:
        return ()
    relative = figure.standard_uncertainty / figure.value
    steps = [_step(measure, budget, figure, relative) for measure in _measures(result, frozenset(said))]
    worth = [s for s in steps if s.half_width_then < (1 - LEAST_SHRINK) * s.half_width_now]
    return tuple(sorted(worth, key=lambda step: -step.bits_per_hour))


def _figure(result: RunResult) -> Figure | None:
    best = result.calm_day if result.calm_day is not None else result.as_driven
    figure = best.L_per_100km
    return figure if math.isfinite(figure.value) and figure.standard_uncertainty > 0 else None


def _step(measure: _Measure, budget: Sequence[BudgetLine], figure: Figure, relative: float) -> NextStep:
    left = 0.0
    touched: list[tuple[float, str]] = []
    for line in budget:
        if line.source.startswith(measure.lines):
            kept = measure.leaves(line, math.sqrt(line.share) * relative)
            left += min(1.0, kept) * line.share
            touched.append((line.share, line.source))
        else:
            left += line.share
    total = math.fsum(line.share for line in budget)
    ratio = math.sqrt(left / total) if total > 0 else 1.0
    now = figure.half_width
    largest = max(touched, default=(0.0, ""))[1].partition(" (")[0]
    return NextStep(
        code=measure.code,
        what=measure.what,
        why=f"most of what it takes away: {largest}" if largest else "",
        minutes=measure.minutes,
        half_width_now=now,
        half_width_then=now * ratio,
        unit=figure.unit,
        bits_per_hour=-math.log2(ratio) / (measure.minutes / 60) if ratio > 0 else 0.0,
    )


def _to(target: float) -> Shrink:
    """The line's relative standard uncertainty becomes `target`, where it is larger."""
    return lambda _, relative: (target / relative) ** 2 if relative > target else 1.0


def _leaving(share: float) -> Shrink:
    return lambda _line, _relative: share


def _measures(result: RunResult, said: frozenset[str]) -> list[_Measure]:
    moving = result.moving_time.value * _MINUTES.get(result.moving_time.unit, math.nan) if result.moving_time else 0.0
    run = AROUND_A_RUN_MIN + (moving if math.isfinite(moving) and moving > 0 else UNKNOWN_RUN_MIN)
    wind = ("wind at the vehicle", "drag in side wind", "gusts")
    measures = [
        _Measure("weigh-litre", "Weigh a litre of this fuel", 10, ("fuel density",), _to(WEIGHED_LITRE_SD)),
        _Measure(
            "check-scale", "Check the scale with bottles of known mass", 10, ("scale, accuracy",), _to(KNOWN_MASS_SD)
        ),
        _Measure("second-run", "Drive the same run again", run, OF_ONE_RUN, _leaving(0.5)),
        _Measure("calmer-day", "Drive it again on a day with half the wind", run, wind, _leaving(HALF_THE_WIND)),
    ]
    if not said & {"fuel_system.repeatability", "fuel_system.null_test", "fuel_system.null_test[0]"}:
        hidden = ("fuel in lines", "level of the full tank")
        measures.append(
            _Measure("null-test", "Make three null tests: weigh, idle, weigh", 45, hidden, _leaving(NULL_TEST_LEAVES))
        )
    cold = ("cold engine", "cold tyres")
    measures.append(
        _Measure(
            "warm-start", "Drive it again, warmed up before the first weighing", run + 15, cold, _leaving(WARM_START)
        )
    )
    if not any(key.startswith("track") for key in said):
        measures.append(
            _Measure(
                "record-track", "Record a satellite track of the next run", run, ("distance",), _to(TRACK_DISTANCE_SD)
            )
        )
    if "vehicle.final_drive" not in said or not any(key.startswith("vehicle.gear_ratios") for key in said):
        measures.append(
            _Measure(
                "gearing", "Write down gear ratios, axle ratio and tyre", 30, ("gearing",), _leaving(GEARING_KNOWN)
            )
        )
    measures += _measured_parameters(result.estimates)
    return measures


_MINUTES: Mapping[str, float] = {"s": 1 / 60, "min": 1.0, "h": 60.0}


def _measured_parameters(estimates: Mapping[str, object]) -> list[_Measure]:
    """Coastdown and weighbridge: against what is known of the parameter after the run."""
    found = []
    for code, what, minutes, keys, lines, target in (
        ("coastdown", "Make three pairs of coastdowns", 90.0, ("drag_area", "rolling_resistance"),
         ("air drag", "tyres and rolling"), COASTDOWN_SD),
        ("weighbridge", "Weigh the vehicle as driven", 30.0, ("test_mass",), ("mass",), WEIGHBRIDGE_SD),
    ):  # fmt: skip
        known = [_relative(estimates[key]) for key in keys if key in estimates]
        if known and max(known) > target:
            found.append(_Measure(code, what, minutes, lines, _told((target / max(known)) ** 2)))
    return found


def _told(left: float) -> Shrink:
    """`left` of the variance of the measured parameter itself; what else stands in its line stays."""

    def leaves(line: BudgetLine, _relative: float) -> float:
        return 1 - COEFFICIENT_PART * (1 - left) if line.source == "tyres and rolling" else left

    return leaves


def _relative(estimate: object) -> float:
    value, spread = getattr(estimate, "value", 0.0), getattr(estimate, "standard_uncertainty", 0.0)
    return abs(spread / value) if value else 0.0
