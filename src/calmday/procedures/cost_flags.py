"""What a reader of a cost must know: where prices do not compare, and where the ways of counting disagree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from calmday.procedures.cost_draws import (
    ASSUMED_CONSUMPTION,
    ASSUMED_MILEAGE,
    PRICES_LATER,
    PRICES_TOGETHER,
    CostDraws,
    PriceDraws,
)
from calmday.procedures.cost_money import common_currency, exchange, price_name, price_of
from calmday.procedures.cost_result import Basis, Payback
from calmday.procedures.flag import Flag, flag

RATE_DAYS: Final = 31
"""Days between a price and the rate that carries it over, from which that is said."""


def cost_flags(drawn: CostDraws, bases: Sequence[Basis], back: Payback | None) -> Iterator[Flag]:
    """The flags of a cost sheet."""
    yield from _currencies(drawn)
    yield from _tax(drawn)
    yield from _dates(drawn)
    yield from _counting(drawn, bases)
    yield from _conversion(drawn, back)
    yield from _as_driven(drawn)
    if drawn.doubt_assumed:
        names = ", ".join(drawn.doubt_assumed)
        yield flag(
            "cost-doubt-assumed", "note",
            f"Nobody said how good these are: {names}.",
            f"{100 * ASSUMED_CONSUMPTION:.0f} % either way is taken for a consumption, {100 * ASSUMED_MILEAGE:.0f} % "
            "for a yearly distance.",
            "Write a give-or-take beside the figure, such as 0.4 L/100km or 5 %.",
        )  # fmt: skip


def cost_notes(drawn: CostDraws) -> tuple[str, ...]:
    """What was assumed on the way."""
    notes = ["litres of the consumption are at 15 °C; pumps sell at the day's temperature, 0.8 % for every 10 °C"]
    ranged = [price for price in drawn.prices if price.over_year is not None]
    if ranged:
        notes.append(
            "a price over the year is likeliest at the price of the day and never outside its lowest and highest "
            "(triangular, assumed)"
        )
    if len(ranged) > 1 and drawn.sheet.prices_move_together is None:
        notes.append(f"prices of several fuels rise and fall together, correlation {PRICES_TOGETHER} (assumed)")
    if drawn.sheet.conversion is not None and drawn.sheet.prices_later is None:
        notes.append(
            f"mean prices of later years lie within {100 * PRICES_LATER:.0f} % either way of those of the year seen "
            "(assumed)"
        )
    return tuple(notes)


def _used_prices(drawn: CostDraws) -> list[PriceDraws]:
    found = [price_of(drawn, use, drawn.sheet.currency) for use in drawn.uses]
    return [price for price in found if price is not None]


def _currencies(drawn: CostDraws) -> Iterator[Flag]:
    used = sorted({price.given.price.currency for price in drawn.prices})
    if len(used) > 1 and not common_currency(drawn):
        yield flag(
            "currencies-apart", "note",
            f"Prices are in {' and '.join(used)}.",
            "Amounts in different currencies are neither added nor ranked here: a rate belongs to a day.",
            "Name the currency to count in, and type each rate with the day you read it.",
        )  # fmt: skip
    target = drawn.sheet.currency
    without = [c for c in used if target and exchange(drawn.sheet, c, target) is None]
    if without:
        yield flag(
            "rate-missing", "caution",
            f"No rate between {', '.join(without)} and {target} was typed.",
            f"What is paid in {', '.join(without)} stays in its own currency and out of every ranking.",
            f"Type a rate such as 1 {without[0]} = 1.17 {target}, with its day. None is fetched.",
        )  # fmt: skip


def _tax(drawn: CostDraws) -> Iterator[Flag]:
    words = {price.given.tax for price in _used_prices(drawn)}
    if {"in", "out"} <= words:
        yield flag(
            "tax-mixed", "caution",
            "One price has the tax in it and another does not.",
            "The difference between them is then partly tax.",
            "Bring both to what you really pay.",
        )  # fmt: skip
    elif len(words) > 1 and None in words:
        yield flag(
            "tax-unknown", "note",
            "Of one price nobody says whether tax is in it.",
            "Where it is not, the comparison is off by the tax.",
            "Say whether the tax is in or out.",
        )  # fmt: skip


def _dates(drawn: CostDraws) -> Iterator[Flag]:
    undated = [price_name(price.given) for price in drawn.prices if price.given.date is None]
    if undated:
        yield flag(
            "price-undated", "note",
            f"No day is written beside {' and '.join(undated)}.",
            "A price without a day cannot be checked, nor compared with a later one.",
            "Write the day it was read.",
        )  # fmt: skip
    if not drawn.sheet.currency:
        return
    for price in drawn.prices:
        rate = exchange(drawn.sheet, price.given.price.currency, drawn.sheet.currency)
        if rate is None or rate.typed is None or rate.typed.date is None or price.given.date is None:
            continue
        days = abs((rate.typed.date - price.given.date).days)
        if days > RATE_DAYS:
            yield flag(
                "rate-from-another-time", "caution",
                f"The rate {rate.typed.as_entered} was read {days} days from the price {price_name(price.given)}.",
                "Rates move by several per cent in that time.",
                "Type a rate of about the day of the price.",
            )  # fmt: skip


def _counting(drawn: CostDraws, bases: Sequence[Basis]) -> Iterator[Flag]:
    fuels = {use.fuel for use in drawn.uses}
    least = {basis.least for basis in bases if basis.least}
    if len(drawn.uses) < 2 or len(fuels) < 2:
        return
    if len(least) > 1:
        yield flag(
            "counting-decides", "caution",
            "Which needs least depends on how it is counted.",
            "A litre of one fuel holds more mass, energy and carbon than a litre of another, and costs another price.",
            "Say which way of counting you mean, or show all five rows.",
        )  # fmt: skip
    else:
        yield flag(
            "different-fuels", "note",
            "The fuels are not the same.",
            "Litres of different fuels are different amounts of energy: diesel holds about an eighth more than petrol.",
            "Name the way of counting beside every percentage.",
        )  # fmt: skip


def _conversion(drawn: CostDraws, back: Payback | None) -> Iterator[Flag]:
    if drawn.sheet.conversion is None:
        return
    if back is None:
        if drawn.yearly_m is None:
            lacks, right = "how far you drive in a year", "the distance of a year"
        else:
            lacks = "a price for each fuel in the currency of the outlay, or a rate to it"
            right = "a price, or an exchange rate"
        yield flag(
            "payback-not-known", "caution",
            f"When the conversion pays cannot be said without {lacks}.",
            "It rests on what is saved each year.",
            f"Add {right}.",
        )  # fmt: skip
        return
    if back.pays_ever < 0.5:
        yield flag(
            "does-not-pay", "caution",
            f"In {100 * (1 - back.pays_ever):.0f} of 100 cases the conversion never pays for itself.",
            "What it saves on fuel does not cover what else it costs each year.",
            "There may be better reasons for it than money.",
        )  # fmt: skip
    if all(price.over_year is None for price in _used_prices(drawn)):
        yield flag(
            "price-of-one-day", "note",
            "Prices of one day are all that is known.",
            "How far they swing in a year is not in the payback.",
            "Add the lowest and the highest of the last year to each price.",
        )  # fmt: skip


def _as_driven(drawn: CostDraws) -> Iterator[Flag]:
    kinds = {use.origin.rsplit(", ", 1)[-1] for use in drawn.uses if use.origin.startswith("measured")}
    declared = [use.name for use in drawn.uses if use.origin.startswith("declared")]
    if kinds and declared and len(drawn.uses) > 1:
        yield flag(
            "unlike-figures", "caution",
            f"A weighed drive is compared with a figure that somebody gave ({', '.join(declared)}).",
            "A steady drive on a chosen loop uses less than a year of everyday driving, whatever the vehicle.",
            "Compare two weighed drives over the same loop, or two figures of a whole year.",
        )  # fmt: skip
