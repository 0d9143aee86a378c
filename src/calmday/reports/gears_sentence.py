"""The one sentence about gears that a person can repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width, listed
from calmday.reports.words import clean, is_known, number, short

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.gears_result import Asked, Gear, GearsResult

ORDINALS = ("", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
KMH_PER_MPH = 1.609344
SAME_KMH = 1.0
"""Speeds closer than this are said to be the same; so are those that are the same as printed."""


def ordinal(gear: int) -> str:
    """`third`; beyond tenth `gear 11`."""
    return ORDINALS[gear] if gear < len(ORDINALS) else f"gear {gear}"


def gears_headline(result: GearsResult, unit: str = "km/h") -> str:
    """What the tallest gear holds here, and which gear holds more, with what stops them.

    >>> gears_headline(result)  # doctest: +SKIP
    'In fifth it holds 74 km/h into 7 m/s of wind, give or take 5; fourth holds 83.'
    """
    here = here_words(result.asked)
    holding = [gear for gear in result.gears if gear.sustained_speed is not None]
    name = clean(result.vehicle) or "the vehicle"
    if not holding:
        return f"{name[:1].upper()}{name[1:]} holds no speed in any gear{here}."
    top = result.gears[-1]
    best = result.gears[result.hold.top_speed_gear - 1]
    if top.sustained_speed is None:
        return (
            f"In {ordinal(top.gear)} it cannot hold any speed{here}; {ordinal(best.gear)} holds {_spoken(best, unit)}"
            f"{_stop(best)}."
        )
    said = f"In {ordinal(top.gear)} it holds {_spoken(top, unit)}{here}"
    said += _give_or_take(top.sustained_speed, unit)
    lower = _rounded(best.sustained_speed, unit)
    if best.gear == top.gear or _gain(best, top) < SAME_KMH or lower == _rounded(top.sustained_speed, unit):
        return f"{said}{_stop(top)}."
    return f"{said}; {ordinal(best.gear)} holds {lower}{_stop(best)}."


def _gain(best: Gear, top: Gear) -> float:
    if best.sustained_speed is None or top.sustained_speed is None:
        return 0.0
    return best.sustained_speed.value - top.sustained_speed.value


def _rounded(figure: Figure | None, unit: str) -> str:
    if figure is None or not is_known(figure):
        return "an unknown speed"
    figure = in_unit(figure, unit)
    half = figure.half_width
    return number(figure.value, min(decimals_for_half_width(half), 0)) if half > 0 else short(round(figure.value))


def in_unit(figure: Figure, unit: str) -> Figure:
    """A speed in km/h or mph."""
    return figure if unit == "km/h" else figure.scaled(1 / KMH_PER_MPH, "mph")


def _spoken(gear: Gear, unit: str) -> str:
    return f"{_rounded(gear.sustained_speed, unit)} {unit}"


def _give_or_take(figure: Figure, unit: str) -> str:
    half = in_unit(figure, unit).half_width
    if not half > 0:
        return ""
    places = min(decimals_for_half_width(half), 0)
    shown = number(half, places)
    return f", give or take {shown}" if shown.strip("0.") else ""


def _stop(gear: Gear) -> str:
    if gear.limit == "governor":
        return ", where the engine reaches its governed speed"
    return ""


def here_words(asked: Asked) -> str:
    """` into 7 m/s of wind up 3 % with 200 kg more`, or ` on the level in still air`."""
    wind, grade, load = asked.headwind.value, asked.grade.value, asked.payload.value
    parts = []
    if wind:
        parts.append(f"{'into' if wind > 0 else 'before'} {short(abs(wind))} m/s of wind")
    if grade:
        parts.append(f"{'up' if grade > 0 else 'down'} {short(abs(grade))} %")
    if load:
        parts.append(f"with {short(abs(load))} kg {'more' if load > 0 else 'less'}")
    return f" {listed(parts)}" if parts else " on the level in still air"


def hold_words(result: GearsResult, unit: str = "km/h") -> str:
    """Which gear to hold at the speed asked about, and why."""
    hold = result.hold
    at = short(round(in_unit(result.asked.speed, unit).value, 1))
    if hold.gear is None:
        return f"At {at} {unit}: {clean(hold.why)}."
    return f"Hold {ordinal(hold.gear)} at {at} {unit}: {clean(hold.why)}."


def shift_words(result: GearsResult, unit: str = "km/h") -> str:
    """When to change up on the level for least fuel, as far as the gears go.

    >>> shift_words(result)  # doctest: +SKIP
    'On the level change up at 23, 34, 47 and 57 km/h; uphill and into the wind as the card says.'
    """
    card = result.shift_card
    factor = (card.speedometer_factor or 1.0) * (1.0 if unit == "km/h" else KMH_PER_MPH)
    ups = [row.level_up for row in card.rows]
    speeds = [number(up / factor, 0) for up in ups if up is not None]
    if not speeds:
        return "On the level no higher gear pulls: stay in first."
    dial = " on the dial" if card.speedometer_factor else ""
    stop = ups.index(None) + 1 if None in ups else 0
    stay = f", and stay in {ordinal(card.rows[stop - 1].from_gear)}" if stop else ""
    return f"On the level change up at {listed(speeds)} {unit}{dial}{stay}; uphill and into the wind as the card says."
