"""The one sentence about money that a person can repeat."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width, listed
from calmday.reports.words import clean, is_known, number, short

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.cost_result import CostLine, CostResult, Payback

MOST_TOLD = 4


def cost_headline(result: CostResult) -> str:
    """When the conversion pays, or what the distance costs.

    >>> cost_headline(result)  # doctest: +SKIP
    'The change has paid for itself after about 61 000 km, or 4 years (somewhere from 3 to 6 years).'
    """
    if result.payback is not None:
        return payback_words(result.payback)
    if not result.costs:
        return "We can't tell what it costs: no price fits the fuel."
    per = clean(result.quoted_for)
    names = {line.use for line in result.costs}
    if len(result.costs) == 1:
        line = result.costs[0]
        return f"{clean(line.use)} costs {money(line.cost)} for {per}{_give_or_take(line.cost)}, at {_price(line)}."
    if len(names) == 1:
        told = [f"{money(line.cost)} at {_price(line)}" for line in result.costs[:MOST_TOLD]]
        more = ", and more below" if len(result.costs) > MOST_TOLD else ""
        return f"{clean(result.costs[0].use)} costs {listed(told)} for {per}{more}."
    shown = _one_each(result.costs)
    told = [f"{clean(line.use)} costs {money(line.cost)}" for line in shown[:MOST_TOLD]]
    return f"For {per}, {listed(told)}{_sure(result)}."


def payback_words(back: Payback) -> str:
    """When a conversion has paid for itself, in words."""
    if back.pays_ever < 0.05:
        return "The change does not pay for itself: what it saves on fuel does not cover what it costs."
    never = round(100 * (1 - back.pays_ever))
    if not math.isfinite(back.years.value):
        return f"More likely than not the change never pays for itself (in {never} of 100 cases)."
    if back.years.value <= 0:
        return "The change has paid for itself already: it brought in more than it cost."
    ends = (
        f"somewhere from {years_between(back.years)}"
        if math.isfinite(back.years.high)
        else f"at the earliest {years_words(back.years.low, back.years.value)}"
    )
    tail = f"; in {never} of 100 cases it never does" if never >= 1 else ""
    distance = number(back.distance.value, -_digits(back.distance.value))
    return (
        f"The change has paid for itself after about {distance} km, or {years_words(back.years.value)} ({ends}){tail}."
    )


def years_between(years: Figure) -> str:
    """`1.4 to 3.5 years`, `8 to 14 months`: the unit once where both ends share it."""
    low, high = years_words(years.low, years.value), years_words(years.high, years.value)
    number_low, _, unit = low.partition(" ")
    same = unit.rstrip("s") == high.partition(" ")[2].rstrip("s") and unit
    return f"{number_low if same else low} to {high}"


def years_words(years: float, beside: float = 0.0) -> str:
    """`8 months`, `2.5 years`, `12 years`; `never` where it has no end. In years where what stands beside it is."""
    if not math.isfinite(years):
        return "never"
    if max(years, beside) < 1.5:
        months = max(round(12 * years), 1)
        return f"{months} month{'s' if months != 1 else ''}"
    return f"{number(years, 1 if years < 10 else 0)} years"


def money(figure: Figure) -> str:
    """`12.2 EUR`: rounded to its doubt, but never finer than hundredths."""
    currency = figure.unit.split("/")[0]
    if not is_known(figure):
        return "an unknown amount"
    return f"{number(figure.value, _places(figure))} {currency}"


def _places(figure: Figure) -> int:
    half = figure.half_width
    return min(decimals_for_half_width(half), 2) if half > 0 else 2


def _give_or_take(figure: Figure) -> str:
    shown = number(figure.half_width, _places(figure)) if figure.half_width > 0 else ""
    return f", give or take {shown}" if shown.strip("0.") else ""


def _digits(value: float) -> int:
    """How many places left of the point are rounded away so that two figures stay."""
    return max(math.floor(math.log10(value)) - 1, 0) if value > 0 else 0


def _price(line: CostLine) -> str:
    return clean(line.price)


def _one_each(costs: tuple[CostLine, ...]) -> list[CostLine]:
    found: dict[str, CostLine] = {}
    for line in costs:
        found.setdefault(line.use, line)
    return list(found.values())


def _sure(result: CostResult) -> str:
    """Which costs least, where that can be said in one currency."""
    basis = next((each for each in result.bases if each.basis == "money"), None)
    if basis is None or not basis.least or basis.sure is None:
        return ""
    if basis.sure < 0.9:
        return "; which of them costs less we can't tell"
    return f"; {clean(basis.least)} costs least ({short(round(100 * basis.sure))} of 100 cases)"
