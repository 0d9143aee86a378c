"""What the dials' readings must be taken with."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from calmday.metrology.middle import median
from calmday.procedures.flag import Flag, flag

if TYPE_CHECKING:
    from calmday.procedures.dials_result import DialsResult
    from calmday.records.dials import Dials

LONG_ENOUGH_KM = 10.0
TOO_LITTLE = 0.8


def flags_of_dials(result: DialsResult, dials: Dials) -> tuple[Flag, ...]:
    """All flags, in the order in which to look."""
    return (*_speed(result, dials), *_way(result, dials), *_fuel(result, dials), *_changes(result, dials))


def _speed(result: DialsResult, dials: Dials) -> Iterator[Flag]:
    found = result.speedometer
    if found is None:
        return
    if found.shows_too_little > TOO_LITTLE:
        yield flag(
            "dial-shows-too-little", "caution",
            "The speedometer shows less than you drive.",
            "UN R39 lets no new vehicle leave the works like that, and every limit is then overstepped unseen.",
            "Drive by the receiver until it is put right, and ask whoever licenses the vehicle.",
        )  # fmt: skip
    if found.readings < 3:
        yield flag(
            "few-speeds", "caution",
            f"The dial was read at {'one speed' if found.readings == 1 else f'{found.readings} speeds'} only.",
            "A needle may be bent: one error low down, another high up.",
            "Read it at three steady speeds or more, spread over what you drive, held for ten seconds each.",
        )  # fmt: skip
    true = np.array([reading.true_mps.value for reading in dials.speedometer])
    shown = np.array([reading.indicated_mps for reading in dials.speedometer])
    off = np.abs(shown / true / median(shown / true) - 1)
    if true.size >= 4 and float(off.max()) > 0.12:
        worst = int(np.argmax(off))
        yield flag(
            "speed-reading-apart", "caution",
            f"At {3.6 * shown[worst]:.0f} km/h on the dial the reading lies apart from the others.",
            "Another unit, another moment, or a needle that sticks.",
            "Read that speed again.",
        )  # fmt: skip


def _way(result: DialsResult, dials: Dials) -> Iterator[Flag]:
    found = result.odometer
    if found is None:
        return
    total = sum(stretch.distance.value for stretch in found.stretches)
    if total < LONG_ENOUGH_KM:
        yield flag(
            "short-stretch", "caution",
            f"The odometer was read over {total:.1f} km in all.",
            f"One step of the last wheel is {100 * (dials.odometer_division_m or 100) / 1000 / total:.1f} % of that.",
            "Take ten kilometres and more, tyres warm, there and back.",
        )  # fmt: skip
    if len(found.stretches) == 1:
        yield flag(
            "one-stretch", "note",
            "The odometer was read over one stretch.",
            "What differs from one stretch to the next (tyres still cold, slip uphill) cannot be seen in one.",
            "Drive the way back too.",
        )  # fmt: skip
    if found.ended_by:
        yield flag(
            "factor-ended", "stop",
            f"After these readings tyres or axle were changed: {found.ended_by}.",
            "Factors of odometer and speedometer belong to what was fitted when they were found.",
            "Read the dials again.",
        )  # fmt: skip
    speed = result.speedometer
    if speed is not None and abs(speed.factor.value / found.factor.value - 1) > 0.02:
        yield flag(
            "two-factors", "note",
            f"Speedometer and odometer have different factors: {speed.factor.value:.3f} and {found.factor.value:.3f}.",
            "A speedometer is set to read high; an odometer is not. One is for speeds, the other for distances.",
            "Never use one for the other.",
        )  # fmt: skip


def _fuel(result: DialsResult, dials: Dials) -> Iterator[Flag]:
    gauge = result.fuel_gauge
    if gauge is not None and gauge.readings < 4:
        yield flag(
            "few-needle-readings", "caution",
            f"The gauge was read at {gauge.readings} place{'s' if gauge.readings > 1 else ''} only.",
            "Senders are seldom even; between the readings the curve is guessed.",
            "Fill an emptied tank in steps of a known amount and note the needle after each.",
        )  # fmt: skip
    if dials.gauge is not None and dials.gauge.capacity_m3 is None:
        yield flag(
            "capacity-assumed", "caution",
            "Nobody says what the tank holds.",
            "A usual tank was assumed, with a quarter either way.",
            "Enter capacity.",
        )  # fmt: skip
    if dials.range is not None and result.range is None:
        yield flag(
            "no-consumption", "caution",
            "How far the fuel goes was asked, but not what the vehicle uses.",
            "A range is fuel over consumption.",
            "Give consumption, or name a weighed run.",
        )  # fmt: skip
    if result.range is not None and result.range.known_by == "distance since full" and result.odometer is None:
        yield flag(
            "way-by-dial", "note",
            "The way since the tank was full is taken as true.",
            "By an odometer that is off it is off as much.",
            "Give the odometer's readings too, or the way by satellite.",
        )  # fmt: skip


def _changes(result: DialsResult, dials: Dials) -> Iterator[Flag]:
    for change in result.changes:
        if not np.isfinite(change.reads.value):
            yield flag(
                "tyre-not-known", "caution",
                f"What {change.what} does cannot be said.",
                "The tyre or rolling circumference that is fitted now is not on the build sheet.",
                "Enter it there.",
            )  # fmt: skip
        elif change.verdict in ("outside", "probably outside"):
            yield flag(
                "change-breaks-limits", "caution",
                f"After {change.what} the dial probably breaks the limits of UN R39.",
                "It would show less than you drive, or more than a tenth and 4 km/h too much.",
                "Have it matched, or drive by the receiver, and ask whoever licenses the vehicle.",
            )  # fmt: skip
    if dials.changes and any(c.final_drive is not None for c in dials.changes) and dials.driven_by == "gearbox":
        yield flag(
            "driven-by-gearbox", "note",
            "Both dials are taken to be driven from behind the gearbox.",
            "They then see the axle. Dials driven from a wheel do not.",
            "Say so where they are driven from a wheel.",
        )  # fmt: skip
