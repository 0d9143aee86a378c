"""What each rule of `guard_rules` sees: one function per mistake, an empty text where it does not fire.

Limits without a source are common practice, and say so here: common practice, no source.
"""

from __future__ import annotations

from typing import Final

from calmday.metrology.rounding import counted, format_signed
from calmday.procedures.guard_facts import Facts

ORDER_TIE: Final = 0.8
LOOP_WIND_PENALTY: Final = 1.0
WIND_DIFFERENCE_MPS: Final = 2.0
AIR_DIFFERENCE_K: Final = 4.0
AIR_PERCENT_PER_K: Final = 0.28
"""Fuel per kelvin colder: 1.6 % by the tyres and 1.2 % by the air for 10 K, an estate of 1.2 t at 80 km/h, computed."""

SPEED_DIFFERENCE: Final = 0.5
"""Per cent. A published truck procedure lets elapsed times differ by so much between runs (SAE J1321, in summary)."""

DRIVING_DIFFERENCE: Final = 1.0
MASS_DIFFERENCE: Final = 1.5
PRESSURE_DIFFERENCE: Final = 3.0
GALLONS: Final = (0.155, 0.225)
"""Two figures that differ by this share are suspected of two gallons: 1 imp gal = 1.20095 US gal (exact, see units)."""


def one_each(f: Facts) -> str:
    return "There is one run before and one after." if f.before_runs == 1 and f.after_runs == 1 else ""


def single_side(f: Facts) -> str:
    runs = (f.before_runs or 0, f.after_runs or 0)
    return "One of the two groups is a single run." if min(runs) == 1 and max(runs) > 1 else ""


def block_order(f: Facts) -> str:
    if f.order_tie is None or abs(f.order_tie) < ORDER_TIE or (f.before_runs or 0) + (f.after_runs or 0) < 3:
        return ""
    return f"The runs were driven in the order {f.order}: nearly all of one kind first, then the other."


def in_step(f: Facts) -> str:
    if not f.in_step:
        return ""
    return f"In step with the order driven: {', '.join(f.in_step)}."


def order_unknown(f: Facts) -> str:
    several = (f.before_runs or 0) + (f.after_runs or 0) > 3
    return "The order in which the runs were driven is not given." if several and f.order_tie is None else ""


def different_days(f: Facts) -> str:
    if f.modelled is not False or f.days_shared is not False:
        return ""
    return "No day holds both a run before and a run after the change, and the weather could not be taken off."


def loop_wind(f: Facts) -> str:
    if f.modelled or f.loop_penalty is None or f.loop_penalty < LOOP_WIND_PENALTY:
        return ""
    return f"There was wind; by our reckoning it cost about {f.loop_penalty:.0f} % over the whole round."


def wind_differs(f: Facts) -> str:
    if f.modelled is not False or f.wind_before_mps is None or f.wind_after_mps is None:
        return ""
    if abs(f.wind_after_mps - f.wind_before_mps) < WIND_DIFFERENCE_MPS:
        return ""
    return (
        f"The wind was {f.wind_before_mps:.0f} m/s before and {f.wind_after_mps:.0f} m/s after, and was not taken off."
    )


def air_differs(f: Facts) -> str:
    if f.modelled is not False or f.air_before_c is None or f.air_after_c is None:
        return ""
    colder = f.air_before_c - f.air_after_c
    if abs(colder) < AIR_DIFFERENCE_K:
        return ""
    worth = AIR_PERCENT_PER_K * abs(colder)
    word = "colder" if colder > 0 else "warmer"
    return (
        f"The air was {abs(colder):.0f} °C {word} in the runs after the change; that alone is worth about "
        f"{worth:.1f} % of fuel."
    )


def speed_differs(f: Facts) -> str:
    if f.modelled is not False or not f.speed_before_kmh or f.speed_after_kmh is None:
        return ""
    change = 100 * (f.speed_after_kmh / f.speed_before_kmh - 1)
    if abs(change) < SPEED_DIFFERENCE:
        return ""
    return f"The runs after the change were driven {abs(change):.1f} % {'faster' if change > 0 else 'slower'}."


def driving_differs(f: Facts) -> str:
    if f.driving is None or abs(f.driving) < DRIVING_DIFFERENCE:
        return ""
    word = "hungrier" if f.driving > 0 else "thriftier"
    return (
        f"The runs after the change were driven in a {word} way (speed, stops), worth {abs(f.driving):.1f} % of fuel. "
        f"That has been taken off."
    )


def correction_larger(f: Facts) -> str:
    if f.correction is None or f.effect is None or abs(f.correction) <= abs(f.effect):
        return ""
    return (
        f"What was taken off ({f.taken_off or 'weather, way of driving'}) moved the difference by "
        f"{abs(f.correction):.1f} %; "
        f"the difference itself is {abs(f.effect):.1f} %."
    )


def stories_disagree(f: Facts) -> str:
    if None in (f.raw_effect, f.raw_low, f.raw_high, f.effect, f.low, f.high):
        return ""
    assert f.raw_effect is not None and f.raw_low is not None and f.raw_high is not None
    assert f.effect is not None and f.low is not None and f.high is not None
    seen, raw_seen = f.low > 0 or f.high < 0, f.raw_low > 0 or f.raw_high < 0
    opposite = f.effect * f.raw_effect < 0 and (seen or raw_seen)
    apart = f.raw_effect < f.low or f.raw_effect > f.high
    if not opposite and not apart:
        return ""
    return (
        f"As driven the change is {format_signed(f.raw_effect, 1)} %; with {_the(f.taken_off)} taken off it is "
        f"{format_signed(f.effect, 1)} %. The two stories differ."
    )


def _the(taken_off: str) -> str:
    return f"the {taken_off}" if taken_off else "the day"


def batches(f: Facts) -> str:
    before, after = set(f.batches_before), set(f.batches_after)
    if not before or not after or before == after:
        return ""
    if before & after and len(before | after) > 1:
        return f"More than one batch of fuel was used: {', '.join(sorted(before | after))}."
    return f"The runs before burnt {', '.join(sorted(before))}, the runs after {', '.join(sorted(after))}."


def odometer(f: Facts) -> str:
    if not f.gearing_changed or not f.odometer_stale:
        return ""
    return f"{f.gearing_changed} changed between the groups, and the distance is by odometer."


def gearing(f: Facts) -> str:
    if not f.gearing_changed or f.odometer_stale:
        return ""
    return f"{f.gearing_changed} changed between the groups. The distance does not hang on it here."


def mass(f: Facts) -> str:
    if f.mass_difference is None or abs(f.mass_difference) < MASS_DIFFERENCE:
        return ""
    word = "heavier" if f.mass_difference > 0 else "lighter"
    return f"The vehicle was {abs(f.mass_difference):.1f} % {word} in the runs after the change."


def pressure(f: Facts) -> str:
    if f.pressure_difference is None or abs(f.pressure_difference) < PRESSURE_DIFFERENCE:
        return ""
    word = "higher" if f.pressure_difference > 0 else "lower"
    return f"Tyre pressure was {abs(f.pressure_difference):.0f} % {word} in the runs after the change."


def several_changes(f: Facts) -> str:
    if len(f.sheet_differences) < 2:
        return ""
    places = ", ".join(f.sheet_differences)
    return f"The build sheets of the two groups differ in {len(f.sheet_differences)} places: {places}."


def tied(f: Facts) -> str:
    return f"These changes were never made one without the other: {'; '.join(f.tied)}." if f.tied else ""


def fewer_than_planned(f: Facts) -> str:
    done = (f.before_runs or 0) + (f.after_runs or 0)
    if f.planned_runs is None or done >= f.planned_runs:
        return ""
    return f"{counted(f.planned_runs, 'run was', 'runs were')} planned and {counted(done, 'counts', 'count')}."


def more_than_planned(f: Facts) -> str:
    done = (f.before_runs or 0) + (f.after_runs or 0)
    if f.planned_runs is None or done <= f.planned_runs:
        return ""
    return f"{counted(f.planned_runs, 'run was', 'runs were')} planned and {done} were made."


def left_out_late(f: Facts) -> str:
    if not f.left_out_late:
        return ""
    return f"Left out for a reason found only after weighing: {', '.join(f.left_out_late)}."


def left_out_unsaid(f: Facts) -> str:
    if not f.left_out_unsaid:
        return ""
    return f"Left out, without word whether the reason was known before weighing: {', '.join(f.left_out_unsaid)}."


def gadgets(f: Facts) -> str:
    if f.of_several is None or f.of_several < 2:
        return ""
    chance = 100 * (1 - 0.95**f.of_several)
    return (
        f"This is one of {f.of_several} changes tried. Without any effect at all, one of {f.of_several} looks like a "
        f"difference {chance:.0f} times in 100."
    )


def not_blind(f: Facts) -> str:
    return "The driver knew which part was fitted." if f.blind is False else ""


def seal_broken(f: Facts) -> str:
    return "The order opened is not the one that was sealed: its digest differs." if f.seal_fits is False else ""


def left_sealed_order(f: Facts) -> str:
    if f.left_sealed_order is None:
        return ""
    sealed, driven = f.left_sealed_order
    return f"The order that was sealed is {sealed}; the runs were driven {driven}."


def odd(f: Facts) -> str:
    return f"Far from where the other runs put it: {', '.join(f.odd)}." if f.odd else ""


def odd_baseline(f: Facts) -> str:
    return "The answer hangs on a baseline run that is itself odd." if f.odd_baseline_decides else ""


def same_readings(f: Facts) -> str:
    return f"The same weighings stand in more than one run: {'; '.join(f.same_readings)}." if f.same_readings else ""


def scatter_believed(f: Facts) -> str:
    if not f.scatter_matters:
        return ""
    return f"The give-or-take rests on what is believed of the scatter beforehand. {f.scatter_worth_words}".strip()


def too_coarse(f: Facts) -> str:
    if f.detectable is None or f.smallest_change is None or f.detectable <= f.smallest_change:
        return ""
    if f.low is not None and f.high is not None and (f.low > 0 or f.high < 0):
        return ""
    return (
        f"This test would have seen a change of {f.detectable:.1f} % four times in five; "
        f"{f.smallest_change:.1f} % was said to matter."
    )


def published(f: Facts) -> str:
    if not f.published_kind:
        return ""
    return f"A published figure is named beside this test: {f.published_kind}."


def gallons(f: Facts) -> str:
    apart = abs(f.published_differs) if f.published_differs is not None else 0.0
    if not GALLONS[0] <= apart <= GALLONS[1]:
        return ""
    return f"The published figure and this one differ by {100 * apart:.0f} %: as much as the two gallons do."


def arrangements(f: Facts) -> str:
    if len(f.mixed_arrangements) < 2:
        return ""
    return f"Fuel was caught in more than one way: {', '.join(f.mixed_arrangements)}."
