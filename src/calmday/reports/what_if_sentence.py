"""The one sentence about a change that a person can repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.words import amount, clean, is_known, number, spoken_setting, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.what_if_result import Considered, WhatIfResult


def what_if_headline(result: WhatIfResult) -> str:
    """What the change does to fuel and to the speed it holds; without a change, what it uses as it is.

    >>> what_if_headline(result)  # doctest: +SKIP
    'With axle ratio 3.7 it would use 4.1 % less fuel at 90 km/h, somewhere from 3.2 to 5.0.'
    """
    if not result.changes and result.axle is not None and result.axle.saving_percent.low > 0:
        axle = result.axle
        saving = axle.saving_percent
        less = number(saving.value, decimals_for_half_width(saving.half_width))
        flat = f"{number(axle.flat_from, 2)} to {number(axle.flat_to, 2)}"
        return f"An axle of {flat} instead of {number(axle.now, 2)} would use {less} % less fuel."
    considered = result.together or (result.changes[0] if result.changes else None)
    if considered is None:
        used = result.before.windy
        speed = _speed(result)
        if used is None:
            return f"No gear surely holds {speed} there."
        return f"At a steady {speed} it uses {amount(used)} {unit_words(used.unit)}."
    name = (
        ", ".join(spoken_setting(each) for each in considered.settings)
        if considered is not result.together
        else "all changes"
    )
    said = f"With {name} it would use {_change(considered)}"
    other = considered.after.speed.value != result.before.speed.value
    return f"{said} {'than at' if other else 'at'} {_speed(result)}{_top(considered)}."


def change_name(considered: Considered) -> str:
    """A change by the name somebody gave it; one without a name by its settings as one says them."""
    keys = [each.partition(" ")[0] for each in considered.settings]
    nameless = considered.what == ", ".join(keys)
    return ", ".join(map(spoken_setting, considered.settings)) if nameless else clean(considered.what)


def _speed(result: WhatIfResult) -> str:
    return f"{number(result.before.speed.value, 0)} km/h"


def _change(considered: Considered) -> str:
    change = considered.difference.windy_percent
    if change is None:
        return "an amount that cannot be told, because no gear surely holds the speed,"
    low, high = sorted((abs(change.low), abs(change.high)))
    if change.low <= 0 <= change.high:
        if max(abs(change.low), abs(change.high)) < 0.05:
            return "as much fuel as now"
        return f"between {_percent(-change.low)} % less and {_percent(change.high)} % more fuel"
    word = "less" if change.value < 0 else "more"
    places = decimals_for_half_width(change.half_width)
    return (
        f"{number(abs(change.value), places)} % {word} fuel, somewhere from {number(low, places)} to "
        f"{number(high, places)} %,"
    )


def _percent(value: float) -> str:
    return number(max(value, 0.0), 1)


def _top(considered: Considered) -> str:
    found: Figure | None = considered.difference.sustained_speed
    if found is None or not is_known(found) or abs(found.value) < 1:
        return ""
    word = "faster" if found.value > 0 else "slower"
    return f" and could go {number(abs(found.value), 0)} km/h {word} flat out"
