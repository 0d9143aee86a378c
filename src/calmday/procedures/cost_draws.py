"""Draws behind a cost: consumption, density, prices over a year, mileage, outlay; what two costs share stays shared."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.constants import (
    CUBIC_METRE_PER_IMPERIAL_GALLON,
    CUBIC_METRE_PER_US_GALLON,
    METRE_PER_MILE,
)
from calmday.metrology.draws import FloatArray, standard_normal
from calmday.metrology.fuels import fuel_properties
from calmday.metrology.propagation import from_half_width_95
from calmday.procedures.weighed_run import WeighedRun
from calmday.records.cost import CostSheet, FuelPrice, FuelUse

ASSUMED_CONSUMPTION: Final = 0.05
"""95 % half width of a consumption whose teller did not say how good it is, as a part of it. Assumed."""
ASSUMED_MILEAGE: Final = 0.20
"""The same of a yearly distance. Assumed."""
PRICES_TOGETHER: Final = 0.7
"""Correlation of fuel prices over a year, where nobody said. Assumed: they share the crude oil, not the tax."""
PRICES_LATER: Final = 0.15
"""95 % half width of the mean price of later years, as a part of that of the year seen, where nobody said. Assumed."""
WIDE: Final = 0.5
"""From this half width on, as a part of the value, a figure above zero is drawn log-normally."""


class UseDraws(msgspec.Struct, frozen=True, kw_only=True):
    """One use as draws, each (m,): fuel per distance by volume at 15 degC (m3/m) and by mass (kg/m), and its fuel."""

    name: str
    fuel: str | None
    origin: str
    volume_m3pm: FloatArray
    mass_kgpm: FloatArray
    density_kgpm3: FloatArray
    heating_jpkg: FloatArray
    carbon_kgpkg: FloatArray


class PriceDraws(msgspec.Struct, frozen=True, kw_only=True):
    """One price: `amount` of the day per m3 or kg, `over_year` (m,) between lowest and highest; None: not known.

    `later` (m,) what the price of later years is multiplied by.
    """

    given: FuelPrice
    amount: float
    over_year: FloatArray | None
    later: FloatArray


class CostDraws(msgspec.Struct, frozen=True, kw_only=True):
    """Everything drawn once for a cost sheet."""

    sheet: CostSheet
    uses: tuple[UseDraws, ...]
    prices: tuple[PriceDraws, ...]
    yearly_m: FloatArray | None
    outlay: FloatArray | None
    yearly_other: FloatArray | None
    doubt_assumed: tuple[str, ...]


OWN_ORDER: Final = 1_000_003
"""Added to the seed: runs are drawn from the seed itself, and rows of unrelated draws must not go together."""


def positive_draws(value: float, half_width: float | None, scores: FloatArray) -> FloatArray:
    """Draws of a figure above zero with this 95 % half width: normal, or log-normal of the same mean and spread."""
    if half_width is None:
        return np.full(scores.size, value)
    spread = from_half_width_95(half_width)
    if half_width <= WIDE * value:
        return np.asarray(value + spread * scores)
    log_variance = math.log1p((spread / value) ** 2)
    return np.asarray(value * np.exp(math.sqrt(log_variance) * scores - log_variance / 2))


def triangular_draws(low: float, mode: float, high: float, scores: FloatArray) -> FloatArray:
    """Draws of a triangular distribution by rank of `scores`: likeliest at `mode`, never outside [low, high]."""
    if not high > low:
        return np.full(scores.size, mode)
    ranks = np.empty(scores.size)
    ranks[np.argsort(scores, kind="stable")] = (np.arange(scores.size) + 0.5) / scores.size
    split = (mode - low) / (high - low)
    rising = low + np.sqrt(ranks * (high - low) * (mode - low))
    falling = high - np.sqrt((1 - ranks) * (high - low) * (high - mode))
    return np.asarray(np.where(ranks < split, rising, falling))


def volume_of(unit: str, values: FloatArray, density_kgpm3: FloatArray) -> FloatArray:
    """Fuel volume per distance (m3/m) of a consumption in one of the consumption units."""
    match unit:
        case "L_per_100km":
            return np.asarray(values * 1e-8)
        case "mpg_us":
            return np.asarray(CUBIC_METRE_PER_US_GALLON / METRE_PER_MILE / values)
        case "mpg_imp":
            return np.asarray(CUBIC_METRE_PER_IMPERIAL_GALLON / METRE_PER_MILE / values)
        case "km_per_L":
            return np.asarray(1e-6 / values)
        case _:
            return np.asarray(values * 1e-6 / density_kgpm3)


def draw_cost(sheet: CostSheet, runs: Mapping[int, WeighedRun], draws: int, seed: int) -> CostDraws:
    """Draw everything a cost sheet declares. `runs` the reduced runs of the uses that name one, by their place."""
    scores = standard_normal(draws, 4 * len(sheet.uses) + 2 * len(sheet.prices) + 5, seed + OWN_ORDER)
    columns = iter(scores.T)
    assumed: list[str] = []
    uses = tuple(
        _run_draws(use, runs[i], [next(columns) for _ in range(4)], np.random.PCG64(seed + OWN_ORDER + i))
        if i in runs
        else _given_draws(use, [next(columns) for _ in range(4)], assumed)
        for i, use in enumerate(sheet.uses)
    )
    shared = next(columns)
    together = sheet.prices_move_together
    weight = math.sqrt(PRICES_TOGETHER if together is None else together)
    own = math.sqrt(max(1 - weight**2, 0.0))
    swings = [weight * shared + own * next(columns) for _ in sheet.prices]
    mileage, outlay, other, drift = (next(columns) for _ in range(4))
    spread = from_half_width_95(PRICES_LATER if sheet.prices_later is None else sheet.prices_later)
    later = [np.exp(spread * (weight * drift + own * next(columns)) - spread**2 / 2) for _ in sheet.prices]
    prices = tuple(map(_price_draws, sheet.prices, swings, later))
    return CostDraws(
        sheet=sheet,
        uses=uses,
        prices=prices,
        yearly_m=_yearly(sheet, mileage, assumed),
        outlay=_outlay(sheet, outlay),
        yearly_other=_other(sheet, other),
        doubt_assumed=tuple(assumed),
    )


def _given_draws(use: FuelUse, scores: Sequence[FloatArray], assumed: list[str]) -> UseDraws:
    fuel = fuel_properties(use.fuel)
    given = use.consumption
    if given is None:
        raise ValueError("a use without a consumption has no draws")
    half = given.half_width
    if half is None:
        assumed.append(use.name)
        half = ASSUMED_CONSUMPTION * given.value
    density = _density(use, scores[1])
    volume = volume_of(given.unit, positive_draws(given.value, half, scores[0]), density)
    return UseDraws(
        name=use.name,
        fuel=use.fuel,
        origin="declared" if given.as_entered == use.name else f"declared: {given.as_entered}",
        volume_m3pm=volume,
        mass_kgpm=volume * density,
        density_kgpm3=density,
        heating_jpkg=fuel.net_heating_value_jpkg + fuel.net_heating_value_sd_jpkg * scores[2],
        carbon_kgpkg=fuel.co2_kgpkg + fuel.co2_sd_kgpkg * scores[3],
    )


def _density(use: FuelUse, scores: FloatArray) -> FloatArray:
    fuel = fuel_properties(use.fuel)
    if use.density_kgpm3 is None:
        return np.asarray(fuel.density_15_kgpm3 + fuel.density_15_sd_kgpm3 * scores)
    half = use.density_kgpm3.half_width or 0.005 * use.density_kgpm3.value  # a hydrometer in the shop; assumed
    return np.asarray(use.density_kgpm3.value + from_half_width_95(half) * scores)


def _run_draws(use: FuelUse, run: WeighedRun, scores: Sequence[FloatArray], source: np.random.PCG64) -> UseDraws:
    """A measured use: the draws of the run itself, in an order of their own: two runs were drawn from one seed."""
    order = np.random.Generator(source).permutation(len(scores[0]))
    own = run.draws
    kind = use.fuel or run.run.fuel.kind or run.run.vehicle.engine.fuel
    fuel = fuel_properties(kind)
    calm = use.run_figure == "calm day" and own.calm_day_m3pm is not None and own.calm_day_kgpm is not None
    volume = own.calm_day_m3pm if calm and own.calm_day_m3pm is not None else own.as_driven_m3pm
    mass = own.calm_day_kgpm if calm and own.calm_day_kgpm is not None else own.as_driven_kgpm
    volume, mass = volume[order], mass[order]
    return UseDraws(
        name=use.name,
        fuel=kind,
        origin=f"measured: {run.run.label}, {'calm day' if calm else 'as driven'}",
        volume_m3pm=volume,
        mass_kgpm=mass,
        density_kgpm3=np.asarray(mass / volume),
        heating_jpkg=fuel.net_heating_value_jpkg + fuel.net_heating_value_sd_jpkg * scores[2],
        carbon_kgpkg=fuel.co2_kgpkg + fuel.co2_sd_kgpkg * scores[3],
    )


def _price_draws(price: FuelPrice, scores: FloatArray, later: FloatArray) -> PriceDraws:
    amount = price.price.amount
    if price.low is None and price.high is None:
        return PriceDraws(given=price, amount=amount, over_year=None, later=later)
    low = price.low.amount if price.low is not None else amount
    high = price.high.amount if price.high is not None else amount
    return PriceDraws(given=price, amount=amount, over_year=triangular_draws(low, amount, high, scores), later=later)


def _yearly(sheet: CostSheet, scores: FloatArray, assumed: list[str]) -> FloatArray | None:
    given = sheet.yearly_distance_m
    if given is None:
        return None
    if given.half_width is None:
        assumed.append("yearly distance")
    half = given.half_width if given.half_width is not None else ASSUMED_MILEAGE * given.value
    return positive_draws(given.value, half, scores)


def _outlay(sheet: CostSheet, scores: FloatArray) -> FloatArray | None:
    if sheet.conversion is None:
        return None
    given = sheet.conversion.outlay
    return positive_draws(given.money.amount, given.half_width, scores)


def _other(sheet: CostSheet, scores: FloatArray) -> FloatArray | None:
    if sheet.conversion is None or sheet.conversion.yearly is None:
        return None
    given = sheet.conversion.yearly
    spread = from_half_width_95(given.half_width) if given.half_width is not None else 0.0
    return np.asarray(given.money.amount + spread * scores)
