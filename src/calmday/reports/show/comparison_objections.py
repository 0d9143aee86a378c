"""What an audience will say against a comparison, each with the answer of the result itself, or "fair point".

As for one run (`objections.py`): the five of the largest weight are printed. The weight is how usual the objection is
(0 to 1, our own judgement, no source), plus what the result says against itself: the share of the doubt it is about,
the size of a correction in half widths of the answer, or that the test was laid out so that the objection holds.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from calmday.metrology.rounding import counted
from calmday.reports.comparison_sentence import places, span
from calmday.reports.show.objections import PRINTED, Objection, of_doubt, share_of, weightiest
from calmday.reports.words import clean, is_known, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.comparison_result import ComparisonResult, Story

HOLDS: Final = 0.6
"""Added where the test was laid out so that the objection holds."""

SURE_RUNS: Final = 4
FEWEST_AT_EACH: Final = 2
"""Runs at each setting from which their number is no fair point; common practice, no source."""
DRIVING: Final = "way of driving"
WEATHER: Final = ("wind", "gusts", "drag in side wind", "air density", "cold", "temperature")


def objections_to_comparison(result: ComparisonResult, most: int = PRINTED) -> tuple[Objection, ...]:
    """The objections most to the point, the weightiest first."""
    return weightiest([make(result) for make in _MAKERS], most)


def percent_of(figure: Figure) -> str:
    """A change with its sign, to the places it deserves."""
    shown = number(figure.value, places(figure))
    plus = "+" if figure.value > 0 and shown.strip("0.") else ""
    return f"{plus}{shown} %"


def chance_words(chance: float) -> str:
    """A probability as so many times in a hundred."""
    if chance >= 0.995:
        return "more than 99 in 100"
    return "less than 1 in 100" if chance < 0.005 else f"{number(100 * chance, 0)} in 100"


def _half(result: ComparisonResult) -> float:
    change = result.change_percent
    return change.half_width if change is not None and is_known(change) and change.half_width > 0 else math.inf


def _weather(result: ComparisonResult) -> Objection:
    share = share_of(result.budget, WEATHER)
    moved = [one for one in result.corrections if is_known(one.difference_percent) and one.of != DRIVING]
    largest = max(moved, key=lambda one: abs(one.difference_percent.value), default=None)
    says = "It was the weather, not the part."
    if largest is None:
        taken = result.temperature_percent_per_K
        if taken is not None and is_known(taken):
            answer = f"Temperature is taken off: {percent_of(taken)} per °C. Wind is not."
        else:
            answer = "Nothing was taken off for the weather."
        answer += " Runs of every kind on the same day and in turns share it; anything else is in the answer."
        holds = result.design.interleaved is not True
        weight = 0.8 + (HOLDS if holds else 0.0)
        return Objection(code="weather", says=says, answer=answer, fair=holds, weight=weight)
    difference = largest.difference_percent
    size = min(1.0, abs(difference.value) / _half(result))
    answer = (
        f"What differed most between the two groups is “{clean(largest.of)}”: {number(largest.baseline_percent, 1)} %"
        f" before, {number(largest.changed_percent, 1)} % after. That difference is taken off, and how well it is known"
        f" is counted: all of the weather together makes {of_doubt(share)}."
    )
    fair = size >= 1 or share >= 0.5
    return Objection(code="weather", says=says, answer=answer, fair=fair, weight=0.7 + share + size)


def _few(result: ComparisonResult) -> Objection:
    design = result.design
    fewest = min(design.baseline_runs, design.changed_runs)
    answer = f"{counted(design.baseline_runs, 'run')} before and {design.changed_runs} after."
    if not result.baseline:
        used = [run for run in result.runs if run.used]
        fewest = len(used) // 2
        answer = f"{counted(len(used), 'run')}."
        if result.sweep is not None:
            fewest = min(point.runs for point in result.sweep.points) * SURE_RUNS // FEWEST_AT_EACH
            answer = f"{counted(len(used), 'run')} at {len(result.sweep.points)} settings."
    if result.smallest_detectable_percent is not None:
        smallest = number(result.smallest_detectable_percent, 1)
        answer += f" So laid out, a change of {smallest} % is seen four times in five; a smaller one may be missed."
    if result.aim_percent is not None and result.runs_needed:
        answer += f" To see {result.aim_percent:g} % so often, {result.runs_needed} more runs would do."
    elif result.aim_percent is not None and result.runs_needed == 0:
        answer += f" That is enough to see {result.aim_percent:g} %."
    fair = fewest < SURE_RUNS
    return Objection(
        code="few-runs", says="Too few runs.", answer=answer, fair=fair, weight=0.7 + (HOLDS if fair else 0.0)
    )


def _order(result: ComparisonResult) -> Objection:
    design = result.design
    says = "Everything got warmer as the day went on."
    drift = result.drift_percent_per_run
    ordered = all(run.order is not None for run in result.runs if run.used)
    answer = "The order driven was not written down."
    if ordered:
        answer = f"Order driven: {clean(design.order)}." if design.order else "The order driven stands in the report."
    if ordered and not result.baseline:
        answer += " What was tried did not go up or down in step with it."
        if any(flag.code == "in-step-with-order" for flag in result.flags):
            answer = "What was tried went up or down in step with the order driven: a drift would look just like it."
    if design.interleaved:
        answer += " Before and after took turns, so that whatever changes slowly falls on both alike."
    elif design.interleaved is False:
        answer += " Not in turns: whatever changed slowly meanwhile is in the answer."
    if drift is not None and is_known(drift):
        answer += f" A drift of {percent_of(drift)} per run was found and taken off."
    fair = design.interleaved is not True
    if not result.baseline:
        fair = not ordered or any(flag.code == "in-step-with-order" for flag in result.flags)
    return Objection(code="order", says=says, answer=answer, fair=fair, weight=0.5 + (HOLDS if fair else 0.0))


def _blind(result: ComparisonResult) -> Objection:
    blind = result.design.blind
    says = "You drove more gently with the new part."
    if blind:
        answer = "The driver did not know which was fitted."
        if result.design.digest_fits:
            answer += " The order was drawn by lot and sealed; the seal, opened, fits."
        return Objection(code="blind", says=says, answer=answer, fair=False, weight=0.35)
    knew = "The driver knew which was fitted." if blind is False else "Whether the driver knew was not written down."
    driving = next((one for one in result.corrections if one.of == DRIVING), None)
    told = ""
    if driving is not None:
        told = f" Differences in speed and stops are taken off: {percent_of(driving.difference_percent)}."
    answer = f"{knew}{told} Every run has its track, so the speeds can be looked up."
    if not any(run.level is not None for run in result.runs):
        answer = f"{knew} Nothing here shows how each run was driven."
    return Objection(code="blind", says=says, answer=answer, fair=True, weight=0.75)


def _dropped(result: ComparisonResult) -> Objection:
    design = result.design
    out = [run for run in result.runs if not run.used]
    planned = (
        f" {counted(design.planned, 'run was', 'runs were')} declared beforehand." if design.planned is not None else ""
    )
    if not out:
        done = design.baseline_runs + design.changed_runs
        stopped = design.planned is not None and done != design.planned
        undeclared = "" if design.planned is not None else " How many there would be was not declared beforehand."
        answer = f"No run was left out.{planned}{undeclared}"
        if stopped:
            answer += f" {done} were driven."
        fair = stopped or design.planned is None
        return Objection(
            code="dropped", says="You stopped when it looked good.", answer=answer, fair=fair,
            weight=0.4 + (HOLDS if stopped else 0.0),
        )  # fmt: skip
    late = [run for run in out if run.known_before_weighing is not True]
    named = "; ".join(f"{clean(run.label)}: {clean(run.left_out_because)}" for run in out[:4])
    more = f"; {len(out) - 4} more" if len(out) > 4 else ""
    answer = f"{len(out)} left out, each with its reason ({named}{more}).{planned}"
    if late:
        answer += f" For {len(late)} the reason was not known, or not said to be, before the fuel was weighed."
    return Objection(
        code="dropped", says="You threw out the bad runs.", answer=answer, fair=bool(late),
        weight=0.8 + (HOLDS if late else 0.0),
    )  # fmt: skip


def _base(result: ComparisonResult) -> Objection | None:
    change, economy = result.change_percent, result.mpg_change_percent
    if change is None or economy is None or not (is_known(change) and is_known(economy)):
        return None
    apart = abs(abs(change.value) - abs(economy.value))
    answer = (
        f"One and the same change: {percent_of(change)} fuel for the same distance is {percent_of(economy)} distance"
        " on the same fuel. Neither is more true; a percentage without its base says nothing."
    )
    weight = 0.4 + min(0.6, 0.2 * apart)
    return Objection(code="percent-base", says="Which per cent is that?", answer=answer, fair=False, weight=weight)


def _computed(result: ComparisonResult) -> Objection | None:
    plain = next((story for story in result.stories if "driven" in story.name), None)
    told = next((story for story in result.stories if story.headline), None)
    if plain is None or told is None or plain is told:
        return None
    moved = abs(told.change_percent.value - plain.change_percent.value)
    size = min(1.0, moved / _half(result))
    answer = (
        f"Both stand in the report: {percent_of(plain.change_percent)} as driven ({span(plain.change_percent)}),"
        f" {percent_of(told.change_percent)} {_as_told(result, told)} ({span(told.change_percent)})."
    )
    answer += " They tell the same story." if size < 1 else " They tell different stories, and the report says so."
    return Objection(
        code="computed", says="You corrected until it fitted.", answer=answer, fair=size >= 1, weight=0.5 + size
    )


def _as_told(result: ComparisonResult, told: Story) -> str:
    """What the headline's figures are, after their figure."""
    if result.basis == "calm day":
        return "with the day taken off"
    return f"with {told.name}" if told.name.endswith("taken off") else told.name


def _several(result: ComparisonResult) -> Objection | None:
    tried = result.design.gadgets_tried
    if result.effects:
        tied = [effect for effect in result.effects if effect.tied_to]
        answer = f"{len(result.effects)} changes were made, fitted and taken off in turns so that each shows by itself."
        if tied:
            answer = f"{len(result.effects)} changes were made; {len(tied)} of them cannot be told from each other."
        says = "Which of the changes did it?"
        weight = 0.6 + (HOLDS if tied else 0.0)
        return Objection(code="several", says=says, answer=answer, fair=bool(tied), weight=weight)
    if tried is not None and tried > 1:
        answer = (
            f"{tried} were tried. If none did anything, the best of {tried} would still look good: once in twenty each."
            " This one needs to be tested again, by itself."
        )
        says = "You only show the one that worked."
        return Objection(code="tried", says=says, answer=answer, fair=True, weight=0.7 + HOLDS)
    return None


def _luck(result: ComparisonResult) -> Objection | None:
    chance, change = result.probability_less_fuel, result.change_percent
    if chance is None or change is None or not is_known(change):
        return None
    less = "less" if chance >= 0.5 else "more"
    shown = chance_words(max(chance, 1 - chance))
    answer = f"The chance that it uses {less} fuel at all is {shown}; how much: {span(change)}."
    seen = change.high < 0 or change.low > 0
    return Objection(
        code="luck", says="That is just luck.", answer=answer, fair=not seen, weight=0.6 + (0 if seen else 0.4)
    )


_MAKERS: Final[tuple[Callable[[ComparisonResult], Objection | None], ...]] = (
    *(_weather, _few, _blind, _order, _dropped, _computed, _several, _luck, _base),
)
