"""The one sentence about a planned test, and the words that page, sheet and paper share."""

from __future__ import annotations

from calmday.metrology.figure import Figure
from calmday.procedures.plan_result import PlanResult
from calmday.reports.words import amount_unit, clean, duration, number

ANSWER_WORDS = {"go": "Go", "go with a penalty": "Go, with a penalty", "no go": "Do not drive this test"}
QUESTION_WORDS = {
    "baseline": "What does it use?",
    "comparison": "Did a change make a difference?",
    "capability": "Will it hold the speed?",
    "cost": "What does a distance cost?",
}


def plan_headline(result: PlanResult) -> str:
    """What the test will tell, as one can say it aloud."""
    verdict = result.verdict
    laps = laps_words(result.laps)
    if verdict.answer == "no go":
        return f"{verdict.why} Instead: {verdict.instead[0]}." if verdict.instead else verdict.why
    lead = f"{ANSWER_WORDS[verdict.answer]}: "
    if result.question == "comparison":
        change = result.change
        matters = f", where {percent_words(change.aim_percent)} would matter" if verdict.penalty else ""
        return (
            f"{lead}{2 * change.runs_per_side} runs of {laps}, in the order {change.order}, will show a change of "
            f"{percent_words(change.percent)} or more{matters}."
        )
    lead += f"{clean(verdict.penalty)}. " if verdict.penalty else ""
    if result.holds is not None:
        return f"{lead}{verdict.why[0].lower()}{verdict.why[1:]}"
    return (
        f"{lead}{laps} will burn about {fuel_words(result.fuel_mass)} and give the calm-day "
        f"figure to within {percent_words(result.uncertainty_percent)}."
    )


def laps_words(count: int) -> str:
    """`1 lap`, `3 laps`."""
    return f"{count} lap" if count == 1 else f"{count} laps"


def percent_words(percent: float) -> str:
    """A give-or-take in percent, to two digits at most."""
    if percent >= 9.95:
        return f"{number(percent, 0)} %"
    return f"{number(percent, 1)} %"


def fuel_words(figure: Figure) -> str:
    """A mass of fuel in grams or kilograms, rounded to what is known of it."""
    return amount_unit(figure if figure.value >= 10 else figure.scaled(1000, "g"))


def time_words(figure: Figure) -> str:
    """A length of time without its doubt, to the minute."""
    return duration(round(figure.value / 60) * 60) if figure.value >= 3600 else f"{number(figure.value / 60, 0)} min"
