"""What driving costs: cost per distance, five ways of counting, break-even, payback, range, what a little saves."""

from __future__ import annotations

from itertools import combinations
from typing import Final

import numpy as np

from calmday.metrology.constants import METRE_PER_MILE
from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import Figure, from_draws
from calmday.metrology.units import parse_quantity
from calmday.procedures.consumption import consumption
from calmday.procedures.cost_draws import CostDraws, UseDraws
from calmday.procedures.cost_flags import cost_flags, cost_notes
from calmday.procedures.cost_money import (
    common_currency,
    cost_per_metre,
    exchange,
    fits,
    price_figures,
    price_name,
    price_of,
)
from calmday.procedures.cost_payback import exact_percent, payback
from calmday.procedures.cost_result import Basis, BreakEven, CostLine, CostResult, Difference, UseFigures
from calmday.procedures.weighed_run_result import Provenance

LITRE: Final = 1e-3
MONEY: Final = "money"


def result_of_cost(drawn: CostDraws, provenance: Provenance) -> CostResult:
    """Every figure of a cost sheet; the sentence is the caller's."""
    sheet = drawn.sheet
    bases = _bases(drawn)
    back = payback(drawn)
    return CostResult(
        label=sheet.label,
        sentence="",
        quoted_for=sheet.per_words,
        saving=exact_percent(sheet.saving),
        uses=tuple(_use(drawn, use) for use in drawn.uses),
        prices=tuple(price_figures(price) for price in drawn.prices),
        costs=_costs(drawn),
        bases=bases,
        differences=tuple(_differences(drawn)),
        break_even=tuple(_break_even(drawn, base, use) for base, use in combinations(drawn.uses, 2)),
        payback=back,
        rates=tuple(_rate_words(drawn)),
        flags=tuple(cost_flags(drawn, bases, back)),
        notes=cost_notes(drawn),
        provenance=provenance,
    )


def _use(drawn: CostDraws, use: UseDraws) -> UseFigures:
    sheet = drawn.sheet
    yearly = None if drawn.yearly_m is None else use.volume_m3pm * drawn.yearly_m / LITRE
    price = price_of(drawn, use, sheet.currency)
    currency = "" if price is None else price.given.price.currency
    spent = None
    if price is not None and drawn.yearly_m is not None:
        spent = cost_per_metre(price, use, over_year=True) * drawn.yearly_m
    return UseFigures(
        name=use.name,
        fuel=use.fuel or "",
        origin=use.origin,
        consumption=consumption(use.mass_kgpm, use.density_kgpm3, use.heating_jpkg, use.carbon_kgpkg, None, ""),
        range=None if sheet.tank_m3 is None else from_draws(sheet.tank_m3 / use.volume_m3pm / 1000, "km"),
        yearly_fuel=None if yearly is None else from_draws(yearly, "L"),
        saved_fuel=None if yearly is None else from_draws(sheet.saving * yearly, "L"),
        yearly_cost=None if spent is None else from_draws(spent, currency),
        saved_cost=None if spent is None else from_draws(sheet.saving * spent, currency),
        yearly_price="" if price is None else price_name(price.given),
    )


def _costs(drawn: CostDraws) -> tuple[CostLine, ...]:
    sheet = drawn.sheet
    lines = []
    for use in drawn.uses:
        for price in drawn.prices:
            if not fits(price.given, use):
                continue
            currency = price.given.price.currency
            each = cost_per_metre(price, use)
            rate = exchange(sheet, currency, sheet.currency) if sheet.currency else None
            unit = f"{currency}/{sheet.per_words}"
            lines.append(
                CostLine(
                    use=use.name,
                    price=price_name(price.given),
                    cost=from_draws(each * sheet.per_m, unit),
                    cost_per_km=from_draws(each * 1000, f"{currency}/km"),
                    cost_per_mile=from_draws(each * METRE_PER_MILE, f"{currency}/mile"),
                    cost_over_year=None
                    if price.over_year is None
                    else from_draws(cost_per_metre(price, use, over_year=True) * sheet.per_m, unit),
                    converted=None
                    if rate is None or rate.typed is None
                    else from_draws(rate.factor * each * sheet.per_m, f"{sheet.currency}/{sheet.per_words}"),
                    rate=rate.typed.as_entered if rate is not None and rate.typed is not None else "",
                )
            )
    return tuple(lines)


def _money_per_metre(drawn: CostDraws, use: UseDraws, currency: str) -> FloatArray | None:
    """Cost per metre in the common currency at the price of the day; None without price or rate."""
    price = price_of(drawn, use, currency) if currency else None
    if price is None:
        return None
    rate = exchange(drawn.sheet, price.given.price.currency, currency)
    return None if rate is None else np.asarray(rate.factor * cost_per_metre(price, use))


def _counted(drawn: CostDraws) -> list[tuple[str, str, list[FloatArray | None]]]:
    """Each way of counting: its name, its unit, the draws of every use."""
    uses, currency = drawn.uses, common_currency(drawn)
    per = drawn.sheet.per_words
    return [
        ("volume", "L/100km", [use.volume_m3pm * 1e8 for use in uses]),
        ("mass", "g/km", [use.mass_kgpm * 1e6 for use in uses]),
        ("energy", "MJ/km", [use.mass_kgpm * use.heating_jpkg * 1e-3 for use in uses]),
        ("carbon dioxide", "g/km", [use.mass_kgpm * use.carbon_kgpkg * 1e6 for use in uses]),
        (
            MONEY,
            f"{currency}/{per}" if currency else "",
            [None if (m := _money_per_metre(drawn, use, currency)) is None else m * drawn.sheet.per_m for use in uses],
        ),
    ]


def _bases(drawn: CostDraws) -> tuple[Basis, ...]:
    found = []
    for basis, unit, draws in _counted(drawn):
        known = [values for values in draws if values is not None]
        whole = len(known) == len(draws)
        least, sure, why = "", None, ""
        if basis == MONEY and whole and sum(not values.any() for values in known) > 1:
            why = "more than one costs nothing"
        elif whole and len(known) > 1:
            share = np.bincount(np.argmin(np.stack(known), axis=0), minlength=len(known)) / known[0].size
            best = int(np.argmin([values.mean() for values in known]))
            least, sure = drawn.uses[best].name, float(share[best])
        elif not whole:
            why = _why_no_money(drawn)
        found.append(
            Basis(
                basis=basis,
                unit=unit,
                figures=tuple(None if values is None else from_draws(values, unit) for values in draws),
                least=least,
                sure=sure,
                why=why,
            )
        )
    return tuple(found)


def _why_no_money(drawn: CostDraws) -> str:
    if not common_currency(drawn):
        return "prices in several currencies, and no currency named to count in"
    missing = [use.name for use in drawn.uses if price_of(drawn, use) is None]
    if missing:
        return f"no price for the fuel of {', '.join(missing)}"
    return "no exchange rate was typed"


def _differences(drawn: CostDraws) -> list[Difference]:
    """Every pair, the earlier use as the base, counted each way that is known for both and not nought."""
    found = []
    for i, j in combinations(range(len(drawn.uses)), 2):
        for basis, _, draws in _counted(drawn):
            base, use = draws[i], draws[j]
            if base is None or use is None or not (base.any() and use.any()):
                continue  # not known, or free: of nothing there are no per cent
            found.append(
                Difference(
                    basis=basis,
                    use=drawn.uses[j].name,
                    base=drawn.uses[i].name,
                    fuel_change=from_draws(100 * (use / base - 1), "%"),
                    distance_change=from_draws(100 * (base / use - 1), "%"),
                    symmetric=from_draws(200 * (use - base) / (use + base), "%"),
                )
            )
    return found


def _break_even(drawn: CostDraws, base: UseDraws, use: UseDraws) -> BreakEven:
    """Cost is the same where price of use / price of base = L/100 km of base / L/100 km of use."""
    ratio = base.volume_m3pm / use.volume_m3pm
    sheet = drawn.sheet
    theirs = price_of(drawn, base, sheet.currency)
    ours = price_of(drawn, use, sheet.currency)
    most: Figure | None = None
    now: float | None = None
    cheaper: float | None = None
    if theirs is not None:
        # shown per litre, or per the measure that the other fuel is sold in
        unit = theirs.given.price.unit if theirs.given.price.per == "volume" else "L"
        measure = parse_quantity(f"1 {unit}", "volume")
        per_metre = cost_per_metre(theirs, base)
        most = from_draws(per_metre / use.volume_m3pm * measure, f"{theirs.given.price.currency}/{unit}")
    if theirs is not None and ours is not None:
        rate = exchange(sheet, ours.given.price.currency, theirs.given.price.currency)
        if rate is not None:
            a, b = cost_per_metre(theirs, base), rate.factor * cost_per_metre(ours, use)
            if a.any():
                now = float(np.mean((b / use.volume_m3pm) / (a / base.volume_m3pm)))
            cheaper = float((b < a).mean())
    return BreakEven(
        use=use.name,
        base=base.name,
        price_ratio=from_draws(ratio, "1"),
        ratio_now=now,
        break_even_price=most,
        at_price="" if theirs is None else price_name(theirs.given),
        cheaper=cheaper,
    )


def _rate_words(drawn: CostDraws) -> list[str]:
    return [
        ", ".join(part for part in (r.as_entered, r.date.isoformat() if r.date else "", r.source) if part)
        for r in drawn.sheet.rates
    ]
