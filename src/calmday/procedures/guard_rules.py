"""Mistakes of reasoning that a comparison can show by itself.

Each is a row: what we saw, why it matters, what to do now. A rule never blocks; it says how much less can be claimed.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from calmday.procedures import guard_sees
from calmday.procedures.flag import Flag, flag
from calmday.procedures.guard_facts import Facts
from calmday.procedures.weighed_run_result import Severity


class Rule(msgspec.Struct, frozen=True, kw_only=True):
    """One mistake. `sees` gives what we saw, or an empty text where the rule does not fire."""

    code: str
    severity: Severity
    sees: Callable[[Facts], str]
    why: str
    remedy: str


RULES: tuple[Rule, ...] = (
    Rule(
        code="odometer-after-gearing", severity="stop", sees=guard_sees.odometer,
        why="An odometer driven by gearbox or wheel counts turns, not road: with another axle or tyre its factor is "
        "another, and the conclusion can turn round.",
        remedy="Use the satellite track or laps, or find the odometer's factor anew for each state of the vehicle.",
    ),
    Rule(
        code="same-readings-twice", severity="stop", sees=guard_sees.same_readings,
        why="Reading one filling again is not driving again; the scatter would look smaller than it is.",
        remedy="Keep one of them and leave the other out.",
    ),
    Rule(
        code="seal-broken", severity="stop", sees=guard_sees.seal_broken,
        why="A sealed order is worth something only if it can be shown not to have been changed.",
        remedy="Find the file that was sealed; if it is lost, say that the order was not sealed.",
    ),
    Rule(
        code="one-run-each", severity="caution", sees=guard_sees.one_each,
        why="Two runs of an unchanged vehicle differ by 1 to 2 % on a good day and by 3 to 5 % from day to day: one "
        "pair is an anecdote.",
        remedy="Go back to the old state and drive again: A-B-A at the least, three pairs for a fair figure.",
    ),
    Rule(
        code="single-run-group", severity="note", sees=guard_sees.single_side,
        why="Whatever happened to that run is in the answer, and nothing can average it away.",
        remedy="Repeat the state that has one run only.",
    ),
    Rule(
        code="all-before-then-after", severity="caution", sees=guard_sees.block_order,
        why="Whatever drifts meanwhile (a warming day, a drying road, a learning driver) reads as an effect.",
        remedy="Alternate: A-B-B-A, or return to A at the end and see whether it repeats.",
    ),
    Rule(
        code="in-step-with-order", severity="caution", sees=guard_sees.in_step,
        why="Whatever drifts meanwhile (a warming day, a drying road, a learning driver) reads as an effect of it.",
        remedy="Draw the order by lot and go back to earlier ones, or let a drift in the order be taken off.",
    ),
    Rule(
        code="order-not-given", severity="note", sees=guard_sees.order_unknown,
        why="Without it a drift in the order driven cannot be taken off, nor ruled out.",
        remedy="Give the order: it stands on the run sheets, or in the times of the tracks.",
    ),
    Rule(
        code="different-days", severity="caution", sees=guard_sees.different_days,
        why="Two days differ by several per cent of fuel through wind, air and tyres alone: was it the part or the "
        "weather?",
        remedy="Enter the track and the weather of each run, or drive both states on one day.",
    ),
    Rule(
        code="wind-on-a-loop", severity="caution", sees=guard_sees.loop_wind,
        why="Head and tail wind do not cancel over a round trip: drag grows with the square of the air speed, and side "
        "wind costs as well.",
        remedy="Let the day be taken off, or wait for less wind.",
    ),
    Rule(
        code="wind-differs", severity="caution", sees=guard_sees.wind_differs,
        why="Wind on a loop is a penalty, and the two groups did not pay the same.",
        remedy="Enter the tracks so that it can be taken off, or drive both states in the same wind.",
    ),
    Rule(
        code="temperature-differs", severity="caution", sees=guard_sees.air_differs,
        why="Cold air is denser and cold tyres roll harder.",
        remedy="Let temperature be taken off, drive both states on one day, or enter the tracks.",
    ),
    Rule(
        code="speed-differs", severity="caution", sees=guard_sees.speed_differs,
        why="Fuel goes up by two to three times the per cent of the speed on the open road.",
        remedy="Keep the same speed by satellite and compare lap times before you weigh.",
    ),
    Rule(
        code="driving-differs", severity="note", sees=guard_sees.driving_differs,
        why="A different way of driving is not an effect of the change.",
        remedy="Keep speed, stops and gears alike; then nothing needs taking off.",
    ),
    Rule(
        code="correction-larger-than-effect", severity="caution", sees=guard_sees.correction_larger,
        why="An answer smaller than its corrections stands on the corrections.",
        remedy="Repeat on quieter days, or with both states on one day, until the corrections are the smaller part.",
    ),
    Rule(
        code="stories-disagree", severity="caution", sees=guard_sees.stories_disagree,
        why="Somebody who looks at the raw figures alone will tell another story, and will be right to ask.",
        remedy="Show both, say what was taken off and how sure that is.",
    ),
    Rule(
        code="different-batches", severity="caution", sees=guard_sees.batches,
        why="Density and energy differ between batches by a per cent or more, winter and summer fuel by up to five.",
        remedy="Use one batch for the whole comparison, or weigh a measured litre of each.",
    ),
    Rule(
        code="gearing-changed", severity="note", sees=guard_sees.gearing,
        why="Factors of odometer and speedometer, and the engine speed at a road speed, belong to one state only.",
        remedy="Do not carry an old odometer factor over.",
    ),
    Rule(
        code="mass-differs", severity="caution", sees=guard_sees.mass,
        why="Mass costs on every hill, start and turn of the wheel: a passenger on one side only is a second change.",
        remedy="Load both states alike, or carry ballast.",
    ),
    Rule(
        code="pressure-differs", severity="note", sees=guard_sees.pressure,
        why="Ten per cent of pressure is worth one to one and a half per cent of fuel.",
        remedy="If pressure is not what you are testing, set it cold and alike before each run.",
    ),
    Rule(
        code="several-changes", severity="caution", sees=guard_sees.several_changes,
        why="The test says what all of them do together, and cannot say which of them did it.",
        remedy="Change one thing at a time, or drive every combination.",
    ),
    Rule(
        code="changes-tied", severity="caution", sees=guard_sees.tied,
        why="No reckoning can tell them apart.",
        remedy="Drive at least one run with one of them and without the other.",
    ),
    Rule(
        code="fewer-runs-than-planned", severity="caution", sees=guard_sees.fewer_than_planned,
        why="Stopping when the figures look good makes chance look like an effect.",
        remedy="Drive the rest, or say why the test ended early.",
    ),
    Rule(
        code="more-runs-than-planned", severity="note", sees=guard_sees.more_than_planned,
        why="Going on until it shows is the same as stopping when it looks good.",
        remedy="Say so beside the figure, and declare the number beforehand next time.",
    ),
    Rule(
        code="left-out-after-weighing", severity="caution", sees=guard_sees.left_out_late,
        why="A run dropped because of its weight takes the answer with it.",
        remedy="Look at the answer with those runs as well; drop runs only for what happened on the road.",
    ),
    Rule(
        code="left-out-when", severity="note", sees=guard_sees.left_out_unsaid,
        why="It makes all the difference whether the weight was known when the run was dropped.",
        remedy="Say for each: known before weighing, or not.",
    ),
    Rule(
        code="one-of-several-tried", severity="caution", sees=guard_sees.gadgets,
        why="Try enough things and one of them will shine by chance.",
        remedy="Report all of them, and test the winner again by itself.",
    ),
    Rule(
        code="not-blind", severity="note", sees=guard_sees.not_blind,
        why="Who hopes for a result drives a little differently without meaning to.",
        remedy="Where it is safe (tyre pressure, ballast, settings) let somebody else set it in a sealed order.",
    ),
    Rule(
        code="sealed-order-not-driven", severity="caution", sees=guard_sees.left_sealed_order,
        why="An order drawn by lot hides what is fitted and spreads a drift only where it is the order driven.",
        remedy="See that order and groups of the runs are right; if they are, say which run left the order, and why.",
    ),
    Rule(
        code="odd-run", severity="note", sees=guard_sees.odd,
        why="One such run moves the mean and widens the give-or-take.",
        remedy="Look for what happened on the road. Without a reason it stays in.",
    ),
    Rule(
        code="odd-baseline", severity="caution", sees=guard_sees.odd_baseline,
        why="After an unusually bad day the next one is better by itself.",
        remedy="Return to the old state once more before you believe it.",
    ),
    Rule(
        code="scatter-believed", severity="note", sees=guard_sees.scatter_believed,
        why="So few runs hardly say how much runs scatter.",
        remedy="A few more runs make the belief unimportant.",
    ),
    Rule(
        code="test-too-coarse", severity="caution", sees=guard_sees.too_coarse,
        why="Not having seen a difference is not the same as there being none.",
        remedy="Drive more runs, or longer ones, before you decide.",
    ),
    Rule(
        code="published-of-another-kind", severity="note", sees=guard_sees.published,
        why="Laboratory cycles, steady-speed figures and road tests are different experiments, mostly with another "
        "mass, other tyres and another fuel; label rules changed several times.",
        remedy="Name the differences instead of scoring one against the other.",
    ),
    Rule(
        code="two-gallons", severity="caution", sees=guard_sees.gallons,
        why="An imperial gallon holds 1.20095 US gallons.",
        remedy="Find out which gallon the published figure means.",
    ),
    Rule(
        code="fuel-caught-differently", severity="caution", sees=guard_sees.arrangements,
        why="A tank filled to the brim twice and a can on a scale do not agree to better than a few per cent.",
        remedy="Catch the fuel in one way throughout.",
    ),
)  # fmt: skip
"""Stops first, then what weakens the claim most."""


def flags_of(facts: Facts) -> tuple[Flag, ...]:
    """Every rule that fires."""
    return tuple(
        flag(rule.code, rule.severity, saw, rule.why, rule.remedy) for rule in RULES if (saw := rule.sees(facts))
    )
