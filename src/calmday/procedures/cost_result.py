"""What driving costs: the result as `calmday cost --json` prints it. Names are a contract."""

from __future__ import annotations

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Consumption, Flag, Provenance

SCHEMA = "calmday/cost/1"


class UseFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What one use burns. `origin` where the figure comes from; `range` on the tank named, `yearly_fuel` in a year,
    `yearly_cost` that fuel at the price `yearly_price`, `saved_fuel` and `saved_cost` what a small saving is worth."""

    name: str
    fuel: str
    origin: str
    consumption: Consumption
    range: Figure | None
    yearly_fuel: Figure | None
    saved_fuel: Figure | None
    yearly_cost: Figure | None
    saved_cost: Figure | None
    yearly_price: str


class PriceFigures(msgspec.Struct, frozen=True, kw_only=True):
    """A price as it was read and in every usual measure. By mass it needs the density of the fuel that was named."""

    name: str
    fuel: str
    as_entered: str
    currency: str
    per_litre: Figure | None
    per_us_gallon: Figure | None
    per_imp_gallon: Figure | None
    per_kg: Figure | None
    lowest: Figure | None
    highest: Figure | None
    date: str
    place: str
    tax: str


class CostLine(msgspec.Struct, frozen=True, kw_only=True):
    """One use at one price. `cost` for the distance asked at the price of the day, `cost_over_year` at a price anywhere
    between its lowest and highest; `converted` the cost in the currency asked for, by the rate `rate`."""

    use: str
    price: str
    cost: Figure
    cost_per_km: Figure
    cost_per_mile: Figure
    cost_over_year: Figure | None
    converted: Figure | None
    rate: str


class Basis(msgspec.Struct, frozen=True, kw_only=True):
    """All uses counted in one way. `least` which needs least, `sure` how often among the draws; empty where `why`."""

    basis: str
    unit: str
    figures: tuple[Figure | None, ...]
    least: str
    sure: float | None
    why: str


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """How `use` differs from `base` counted one way. `fuel_change`: of what it needs per distance, base 100 %;
    `distance_change`: of the distance the same amount carries, base 100 %; `symmetric`: difference over the mean."""

    basis: str
    use: str
    base: str
    fuel_change: Figure
    distance_change: Figure
    symmetric: Figure


class BreakEven(msgspec.Struct, frozen=True, kw_only=True):
    """When two uses cost the same. `price_ratio`: price of the fuel of `use` over that of `base`, per volume;
    `break_even_price`: what the fuel of `use` may cost at most, beside the price `at_price` of the other;
    `ratio_now` of the prices compared; `cheaper` how often `use` costs less at these prices among the draws."""

    use: str
    base: str
    price_ratio: Figure
    ratio_now: float | None
    break_even_price: Figure | None
    at_price: str
    cheaper: float | None


class Payback(msgspec.Struct, frozen=True, kw_only=True):
    """When a conversion has paid for itself. `distance` and `years`: value is the middle one of the draws, null where
    that many never pay. `pays_ever`, `pays_within`: part of the draws, at all and within `horizon` years.
    `saved_per_distance` on the fuel, for the distance that costs are quoted for; `gain` after the horizon, outlay taken
    off; `yearly_saving` with what else changes each year."""

    use: str
    base: str
    currency: str
    outlay: Figure
    saved_per_distance: Figure
    yearly_distance: Figure
    yearly_saving: Figure
    distance: Figure
    years: Figure
    pays_ever: float
    pays_within: float
    horizon: float
    gain: Figure
    prices: tuple[str, ...]


class CostResult(msgspec.Struct, frozen=True, kw_only=True):
    """What driving costs. `quoted_for` the distance costs are quoted for; `saving` the small saving asked about."""

    schema: str = SCHEMA
    label: str
    sentence: str
    quoted_for: str
    saving: Figure
    uses: tuple[UseFigures, ...]
    prices: tuple[PriceFigures, ...]
    costs: tuple[CostLine, ...]
    bases: tuple[Basis, ...]
    differences: tuple[Difference, ...]
    break_even: tuple[BreakEven, ...]
    payback: Payback | None
    rates: tuple[str, ...]
    flags: tuple[Flag, ...] = ()
    notes: tuple[str, ...] = ()
    provenance: Provenance
