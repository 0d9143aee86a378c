"""Go, go with a penalty, or no go: for the question that was asked, not for tests in general."""

from __future__ import annotations

from typing import Final

from calmday.procedures.detectable import MOST_PER_SIDE
from calmday.procedures.plan_result import (
    FitsScale,
    FuelReserve,
    Holds,
    Improvement,
    PlannedChange,
    PlanVerdict,
)
from calmday.procedures.planned_test import Candidate

WANTED: Final = {"baseline": 0.03, "cost": 0.05, "comparison": 0.03, "capability": 0.05}
"""Give-or-take, or change, that is taken to be wanted where the plan does not say. Assumed."""

WIND_PENALTY: Final = 1.25
"""The wind is a penalty where it widens the answer to more than so many times that of a calm day."""

NEARLY: Final = 1.25
"""What misses the give-or-take wanted by less than this factor is worth driving all the same."""

HELPS: Final = 0.9
"""More laps help where they narrow the answer to less than this share."""

CAUSES: Final = {
    "calm-day": "wind makes",
    "weigh-litre": "fuel of unknown density makes",
    "null-test": "fuel hidden in the rig makes",
    "check-scale": "an unchecked scale makes",
    "coastdown": "drag and rolling that nobody measured make",
    "warm-start": "the cold start makes",
}
"""What costs the certainty that an improvement of that code would win back."""

SURE: Final = 0.95
MOST_RUNS: Final = 12
"""More runs on one side than this are not proposed for one day."""


def blocked(fits: FitsScale, reserve: FuelReserve) -> PlanVerdict | None:
    """What forbids the test whatever it asks: a scale that cannot weigh it, fuel that cannot last."""
    if fits.parts is None:
        return PlanVerdict(
            answer="no go",
            why=f"It cannot be weighed: {fits.words}",
            instead=("borrow a scale that carries the can and its fuel", "drive fewer laps"),
        )
    if reserve.enough is not None and reserve.enough < 0.5:
        return PlanVerdict(
            answer="no go",
            why=f"The fuel will not last: {reserve.words}",
            instead=("fill up first", "drive fewer laps"),
        )
    return None


def enough(half_width: float, wanted: float) -> bool:
    """Whether a give-or-take, as it is printed, is what is wanted: 3.04 % is 3.0 %, and 3 % is wanted."""
    return float(f"{half_width:.2g}") <= wanted * (1 + 1e-9)


def of_figure(
    wanted: float, chosen: Candidate, candidates: tuple[Candidate, ...], calm: float, better: tuple[Improvement, ...]
) -> PlanVerdict:
    """For a baseline or a cost: is the give-or-take small enough? `calm` that of the same test on a calm day."""
    now = chosen.accuracy.half_width
    shown = f"{100 * now:.2g} %"
    aim = f"{100 * wanted:.2g} %"
    helps = tuple(_then(b) for b in better)
    if enough(now, wanted):
        if now > WIND_PENALTY * calm:
            return PlanVerdict(
                answer="go with a penalty",
                why=f"It will be good to {shown}, which is enough; on a calm day it would be {100 * calm:.2g} %.",
                instead=helps,
                penalty=_penalty(CAUSES["calm-day"], now, calm),
            )
        return PlanVerdict(answer="go", why=f"It will be good to {shown}, and {aim} is wanted.", instead=helps)
    longer = next((c for c in candidates if c.laps > chosen.laps and enough(c.accuracy.half_width, wanted)), None)
    if longer is not None:
        return PlanVerdict(
            answer="go with a penalty",
            why=f"With {_laps(chosen.laps)} it will be good to {shown} only; {aim} is wanted.",
            instead=(f"drive {_laps(longer.laps)}: give or take {100 * longer.accuracy.half_width:.2g} %", *helps),
            penalty=_biggest(now, better, longer),
        )
    best = min(candidates, key=lambda c: c.accuracy.half_width)
    least = best.accuracy.half_width
    if least <= NEARLY * wanted:
        return PlanVerdict(
            answer="go with a penalty",
            why=f"It will be good to {shown}, where {aim} is wanted, and {_more(chosen, best)}.",
            instead=helps,
            penalty=_biggest(now, better),
        )
    helping = tuple(_then(b) for b in better if enough(b.uncertainty_percent, 100 * wanted))
    rest = tuple(f"{_then(b)}, not enough alone" for b in better if not enough(b.uncertainty_percent, 100 * wanted))
    return PlanVerdict(
        answer="no go",
        why=f"Do not drive this test for {aim}: it cannot give that. It will be good to {shown}, and "
        f"{_more(chosen, best)}.",
        instead=helping + rest if helping or rest else ("ask for less: no single thing makes it much surer",),
    )


def _biggest(now: float, better: tuple[Improvement, ...], longer: Candidate | None = None) -> str:
    """The one thing that costs most certainty, and what it costs."""
    rivals = [(b.uncertainty_percent / 100, CAUSES[b.code], "") for b in better]
    if longer is not None:
        rivals.append((longer.accuracy.half_width, "so short a drive makes", f" with {_laps(longer.laps)}"))
    if not rivals:
        return f"the answer is good to ± {100 * now:.2g} % only, and no single thing makes it surer"
    least, cause, with_ = min(rivals)
    return _penalty(cause, now, least) + with_


def _penalty(cause: str, now: float, without: float) -> str:
    return f"{cause} the answer ± {100 * now:.2g} % in place of ± {100 * without:.2g} %"


def _more(chosen: Candidate, best: Candidate) -> str:
    """What more laps would do."""
    if best.laps <= chosen.laps or best.accuracy.half_width > HELPS * chosen.accuracy.half_width:
        return "more laps hardly help"
    return f"even {_laps(best.laps)} give {100 * best.accuracy.half_width:.2g} %"


def _then(better: Improvement) -> str:
    return f"{better.what}: give or take {better.uncertainty_percent:.2g} %"


def of_change(change: PlannedChange, scatter_percent: float, hours: float | None) -> PlanVerdict:
    """For a comparison: can it show the change that matters?"""
    sides, aim = change.runs_per_side, f"{change.aim_percent:.2g} %"
    if change.percent <= change.aim_percent and (hours is None or change.hours <= hours):
        return PlanVerdict(
            answer="go",
            why=f"{_runs(2 * sides)} in the order {change.order} would show a change of {change.percent:.2g} %, and "
            f"{aim} would matter.",
        )
    if change.percent <= change.aim_percent:
        return PlanVerdict(
            answer="no go",
            why=f"There is not the time: {_runs(2 * sides)} take about {change.hours:.1f} h of the {hours:.1f} h there "
            "are.",
            instead=("spread the pairs over two days, with as many of either state on each day",),
        )
    if change.runs_needed is not None and change.runs_needed <= MOST_RUNS:
        return PlanVerdict(
            answer="go with a penalty",
            why=f"{_runs(2 * sides)} would show a change of {change.percent:.2g} % only, and {aim} would matter.",
            instead=(f"drive {change.runs_needed} runs on either side",),
            penalty=f"{_runs(2 * sides)} show a change of {change.percent:.2g} % or more, and {aim} would matter",
        )
    needed = change.runs_needed
    most = (
        f"It would take {needed} runs on either side" if needed else f"{MOST_PER_SIDE} runs on either side are too few"
    )
    return PlanVerdict(
        answer="no go",
        why=f"Do not drive this test: it cannot answer the question. {most} to show {aim} with runs that scatter by "
        f"{scatter_percent:.2g} %.",
        instead=(
            "a coastdown, if the change is in the air or in the tyres",
            "a timed hill at full load, if the change is in the power",
            "a control vehicle that drives along unchanged, which halves the scatter",
            "longer runs, if most of the scatter is weighing",
        ),
    )


def of_capability(found: Holds) -> PlanVerdict:
    """For a capability: does the test tell anything, and will the wind be there?"""
    speed, wind, grade = found.speed.value, found.head_wind.value, found.grade.value
    against = f"{speed:.0f} km/h against {wind:.1f} m/s" + (f" on a hill of {grade:.1f} %" if abs(grade) > 0.05 else "")
    if found.chance >= SURE or found.chance <= 1 - SURE:
        holds = found.chance >= SURE
        odds = _odds(found.chance if holds else 1 - found.chance)
        return PlanVerdict(
            answer="no go",
            why="Do not drive this test: the answer is known. "
            f"It {'holds' if holds else 'does not hold'} {against}, {odds}.",
            instead=(_open_question(found),),
        )
    if found.wind_comes < 0.3:
        return PlanVerdict(
            answer="no go",
            why=f"Whether it holds {against} is open, but the wind foretold is too weak to tell.",
            instead=(
                f"a hill of {found.same_grade.value:.1f} % in still air asks the same of the engine",
                "a windier day",
            ),
        )
    return PlanVerdict(
        answer="go",
        why=f"It is open whether it holds {against} ({100 * found.chance:.0f} times in 100): full load straight into "
        "the wind will tell.",
    )


def _open_question(found: Holds) -> str:
    """What could be asked instead: the wind at which it is open."""
    strongest = found.strongest_wind.value
    if strongest <= 0:
        return f"ask for less than {found.speed.value:.0f} km/h"
    return f"ask about a wind of {strongest:.0f} m/s from ahead, where it is open"


def _odds(chance: float) -> str:
    return "more than 99 times in 100" if chance > 0.99 else f"{100 * chance:.0f} times in 100"


def _laps(count: int) -> str:
    return f"{count} lap" if count == 1 else f"{count} laps"


def _runs(count: int) -> str:
    return f"{count} run" if count == 1 else f"{count} runs"
