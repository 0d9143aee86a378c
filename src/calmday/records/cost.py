"""What a cost sheet declares: what burns how much, prices, exchange rates, and what a conversion cost."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.metrology.money import Money, Rate, UnitPrice
from calmday.records.consumption import GivenConsumption
from calmday.records.declared import Declared
from calmday.records.run import Run
from calmday.records.vehicle import FuelKind

RunFigure = Literal["calm day", "as driven"]
RUN_FIGURES: tuple[str, ...] = get_args(RunFigure)
Tax = Literal["in", "out"]
TAXES: tuple[str, ...] = get_args(Tax)


class FuelUse(msgspec.Struct, frozen=True, kw_only=True):
    """What one vehicle, or one state of it, burns: a figure given, or a weighed run to take it from."""

    name: str
    fuel: FuelKind | None = None
    consumption: GivenConsumption | None = None
    run: Run | None = None
    run_figure: RunFigure = "calm day"
    density_kgpm3: Declared | None = None


class FuelPrice(msgspec.Struct, frozen=True, kw_only=True):
    """A price as it was read, with its lowest and highest of the year where they are known. `fuel` None: any fuel."""

    price: UnitPrice
    fuel: FuelKind | None = None
    name: str = ""
    low: UnitPrice | None = None
    high: UnitPrice | None = None
    date: dt.date | None = None
    place: str = ""
    tax: Tax | None = None
    as_entered: str = ""


class DatedRate(msgspec.Struct, frozen=True, kw_only=True):
    """An exchange rate as somebody typed it."""

    rate: Rate
    date: dt.date | None = None
    source: str = ""
    as_entered: str = ""


class GivenMoney(msgspec.Struct, frozen=True, kw_only=True):
    """An amount with its 95 % half width, None where nobody said."""

    money: Money
    half_width: float | None = None
    as_entered: str = ""


class Conversion(msgspec.Struct, frozen=True, kw_only=True):
    """A change that cost money once: from one use to another. `yearly` what it costs more each year beside fuel."""

    before: str
    after: str
    outlay: GivenMoney
    yearly: GivenMoney | None = None
    horizon_years: float = 10.0


class CostSheet(msgspec.Struct, frozen=True, kw_only=True):
    """Everything needed to say what driving costs. `per_m` the distance that costs are quoted for.

    `prices_later` how far the mean price of later years may lie from that of the year seen, 95 % half width as a part.
    """

    label: str
    uses: tuple[FuelUse, ...]
    prices: tuple[FuelPrice, ...]
    rates: tuple[DatedRate, ...] = ()
    conversion: Conversion | None = None
    currency: str = ""
    per_m: float = 100_000.0
    per_words: str = "100 km"
    yearly_distance_m: Declared | None = None
    tank_m3: float | None = None
    saving: float = 0.02
    prices_move_together: float | None = None
    prices_later: float | None = None
    file: str = ""
