"""What a reader of a what-if must know."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from calmday.procedures.flag import Flag, flag, gravest_first
from calmday.procedures.what_if import Steady
from calmday.records.what_if import WhatIf


def flags_of_what_if(question: WhatIf, before: Steady, after: Sequence[Steady], learnt: bool) -> tuple[Flag, ...]:
    """All remarks on an answer, the most serious first."""
    return gravest_first([*_held(question, before, after), *_assumed(question), *_engine(question), *_class(learnt)])


def _held(question: WhatIf, before: Steady, after: Sequence[Steady]) -> Iterator[Flag]:
    if before.gear is None:
        yield flag(
            "speed-not-held", "stop",
            "As it is, no gear surely holds this speed in this wind and on this grade.",
            "A steady consumption needs a steady speed.",
            "Ask for a lower speed, less wind or a gentler grade.",
        )  # fmt: skip
    for change, side in zip(question.changes, after, strict=True):
        if side.gear is None and before.gear is not None:
            yield flag(
                "speed-not-held-after", "caution",
                f"With {change.what}, no gear surely holds this speed in this wind and on this grade.",
                "The change takes away more pull than there is in hand.",
                "Look at the reserve before, or ask for a smaller change.",
            )  # fmt: skip
        elif before.gear is not None and side.gear is not None and side.gear < before.gear:
            yield flag(
                "lower-gear-after", "note",
                f"With {change.what}, it is held in gear {side.gear + 1} instead of {before.gear + 1}.",
                "The taller gear no longer surely pulls there, and the lower one turns the engine faster.",
                "Where the road is gentler than asked for, the taller gear may do.",
            )  # fmt: skip


def _assumed(question: WhatIf) -> Iterator[Flag]:
    if question.assumed_speed:
        yield flag(
            "speed-assumed", "note",
            "No speed was given: 80 km/h.",
            "What a change does depends on the speed.",
            "Say the speed you drive.",
        )  # fmt: skip
    if not question.vehicle.gear_ratios or question.vehicle.final_drive is None:
        yield flag(
            "gearing-assumed", "caution",
            "The build sheet states no gear ratios or no axle ratio.",
            "Gears of a usual vehicle are assumed.",
            "Enter gear_ratios and final_drive.",
        )  # fmt: skip


def _engine(question: WhatIf) -> Iterator[Flag]:
    engine = question.vehicle.engine
    for change in question.changes:
        other = change.vehicle.engine
        if other.full_load == engine.full_load is not None and (
            other.displacement_m3 != engine.displacement_m3
            or other.fuel != engine.fuel
            or other.induction != engine.induction
        ):
            yield flag(
                "curve-kept", "caution",
                f"With {change.what}, the full-load curve is still that of the engine as it is.",
                "What the changed engine pulls is not known from it.",
                'Set full_load to a curve of that engine, or full_load_power = "+10 %".',
            )  # fmt: skip


def _class(learnt: bool) -> Iterator[Flag]:
    if not learnt:
        yield flag(
            "nothing-learnt", "note",
            "Nothing but the build sheet is known of this vehicle.",
            "Levels rest on what is usual; differences are much surer than levels.",
            "Name a weighed run to learn from.",
        )  # fmt: skip
