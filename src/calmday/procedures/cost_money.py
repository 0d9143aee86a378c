"""Prices in every measure, currencies by typed rates only, and which price goes with which use."""

from __future__ import annotations

import datetime as dt
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.constants import CUBIC_METRE_PER_IMPERIAL_GALLON, CUBIC_METRE_PER_US_GALLON
from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import Figure, exact
from calmday.metrology.fuels import fuel_properties
from calmday.metrology.units import parse_quantity
from calmday.procedures.cost_draws import CostDraws, PriceDraws, UseDraws
from calmday.procedures.cost_result import PriceFigures
from calmday.records.cost import CostSheet, DatedRate, FuelPrice

LITRE_M3: Final = 1e-3
_NEVER: Final = dt.date.min


class Exchange(msgspec.Struct, frozen=True):
    """How one currency becomes another: the factor, and the rate that was typed (None: the same currency)."""

    factor: float
    typed: DatedRate | None


def exchange(sheet: CostSheet, source: str, target: str) -> Exchange | None:
    """The newest typed rate between two currencies, either way round; None without one. Rates are never chained."""
    if source == target:
        return Exchange(1.0, None)
    pair = {source, target}
    known = [rate for rate in sheet.rates if {rate.rate.source, rate.rate.target} == pair]
    if not known:
        return None
    newest = max(known, key=lambda rate: rate.date or _NEVER)
    factor = newest.rate.factor if newest.rate.source == source else 1 / newest.rate.factor
    return Exchange(factor, newest)


def fits(price: FuelPrice, use: UseDraws) -> bool:
    """Whether a price is one of the fuel of this use; a price without a fuel is taken for any."""
    return price.fuel is None or use.fuel is None or price.fuel == use.fuel


def cost_per_metre(price: PriceDraws, use: UseDraws, *, over_year: bool = False) -> FloatArray:
    """Cost per metre (m,) in the currency of the price."""
    amount = price.over_year if over_year and price.over_year is not None else price.amount
    burnt = use.volume_m3pm if price.given.price.per == "volume" else use.mass_kgpm
    return np.asarray(burnt * amount)


def price_of(drawn: CostDraws, use: UseDraws, target: str = "") -> PriceDraws | None:
    """The price a use is reckoned with: of its fuel, in or exchangeable into `target`, the newest, else the first."""
    candidates = [
        price
        for price in drawn.prices
        if fits(price.given, use)
        and (not target or exchange(drawn.sheet, price.given.price.currency, target) is not None)
    ]
    if not candidates:
        return None
    own = [price for price in candidates if price.given.fuel is not None] or candidates
    return max(own, key=lambda price: price.given.date or _NEVER)  # of several of one day the first


def common_currency(drawn: CostDraws) -> str:
    """The currency in which all uses can be counted: the one asked for, else the only one there is; "" for none."""
    if drawn.sheet.currency:
        return drawn.sheet.currency
    used = {price.given.price.currency for price in drawn.prices}
    return used.pop() if len(used) == 1 else ""


def price_name(price: FuelPrice) -> str:
    """What a price is called: its name, or the figure with place and day."""
    if price.name:
        return price.name
    when = price.date.isoformat() if price.date is not None else ""
    return ", ".join(part for part in (price.as_entered, price.place, when) if part)


def price_figures(price: PriceDraws) -> PriceFigures:
    """One price in litres, gallons and kilograms."""
    given = price.given
    fuel = fuel_properties(given.fuel)
    density = fuel.density_15_kgpm3 if given.fuel is not None else None
    by_volume = price.amount if given.price.per == "volume" else None if density is None else price.amount * density
    by_mass = price.amount if given.price.per == "mass" else None if density is None else price.amount / density
    spread = fuel.density_15_sd_kgpm3 / fuel.density_15_kgpm3
    volume_spread = 0.0 if given.price.per == "volume" else spread
    mass_spread = 0.0 if given.price.per == "mass" else spread

    def shown(amount: float | None, measure: float, unit: str, relative: float) -> Figure | None:
        if amount is None:
            return None
        value = amount * measure
        reach = 1.959963984540054 * relative * value
        return Figure(value, relative * value, value - reach, value + reach, f"{given.price.currency}/{unit}")

    unit = f"{given.price.currency}/{given.price.unit}"
    one = parse_quantity(f"1 {given.price.unit}", given.price.per)
    return PriceFigures(
        name=price_name(given),
        fuel=given.fuel or "",
        as_entered=given.as_entered,
        currency=given.price.currency,
        per_litre=shown(by_volume, LITRE_M3, "L", volume_spread),
        per_us_gallon=shown(by_volume, CUBIC_METRE_PER_US_GALLON, "US gal", volume_spread),
        per_imp_gallon=shown(by_volume, CUBIC_METRE_PER_IMPERIAL_GALLON, "imp gal", volume_spread),
        per_kg=shown(by_mass, 1.0, "kg", mass_spread),
        lowest=exact(given.low.amount * one, unit) if given.low is not None else None,
        highest=exact(given.high.amount * one, unit) if given.high is not None else None,
        date=given.date.isoformat() if given.date is not None else "",
        place=given.place,
        tax=given.tax or "",
    )
