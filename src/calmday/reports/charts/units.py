"""The reader's own units, and how quantities of the model become them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import msgspec

from calmday.metrology.constants import (
    CUBIC_METRE_PER_IMPERIAL_GALLON,
    CUBIC_METRE_PER_US_GALLON,
    METRE_PER_MILE,
)
from calmday.metrology.unit_table import UNITS
from calmday.reports.words import unit_words

if TYPE_CHECKING:
    from calmday.procedures.weighed_run_result import Consumption

ConsumptionKey = Literal["L_per_100km", "mpg_us", "mpg_imp", "km_per_L", "g_per_km", "MJ_per_km", "co2_g_per_km"]

CONSUMPTION_WORDS: dict[str, str] = {
    "L_per_100km": "L/100 km",
    "mpg_us": "mpg US",
    "mpg_imp": "mpg imp",
    "km_per_L": "km/L",
    "g_per_km": "g/km of fuel",
    "MJ_per_km": "MJ/km of fuel",
    "co2_g_per_km": "g/km of CO₂",
}


class Shown(msgspec.Struct, frozen=True):
    """How a quantity is shown: SI value times `factor` in `unit`."""

    unit: str
    factor: float


def _shown(dimension: str, name: str, words: str | None = None) -> Shown:
    return Shown(words or unit_words(name), 1.0 / UNITS[dimension][name][0])


class ReaderUnits(msgspec.Struct, frozen=True, kw_only=True):
    """Units a reader chose."""

    speed: Literal["km/h", "mph"] = "km/h"
    distance: Literal["km", "mi"] = "km"
    height: Literal["m", "ft"] = "m"
    power: Literal["kW", "hp", "PS"] = "kW"
    torque: Literal["N*m", "lbf*ft"] = "N*m"
    wind: Literal["m/s", "km/h", "mph", "kn"] = "m/s"
    consumption: ConsumptionKey = "L_per_100km"

    def show(self, dimension: Literal["speed", "distance", "height", "power", "torque", "wind"]) -> Shown:
        """Unit and factor for an SI quantity."""
        tables = {"distance": "length", "height": "length", "wind": "speed"}
        name = getattr(self, dimension)
        words = {"N*m": "N·m", "lbf*ft": "lbf·ft"}.get(name)
        return _shown(tables.get(dimension, dimension), name, words)

    @property
    def consumption_words(self) -> str:
        return CONSUMPTION_WORDS[self.consumption]


METRIC = ReaderUnits()


_PER_VOLUME = {
    "mpg_us": 1e8 * CUBIC_METRE_PER_US_GALLON / METRE_PER_MILE,
    "mpg_imp": 1e8 * CUBIC_METRE_PER_IMPERIAL_GALLON / METRE_PER_MILE,
    "km_per_L": 100.0,
}


def consumption_in(value: float, unit: str, wanted: ConsumptionKey, of: Consumption) -> float:
    """A consumption given in one unit in another; masses and energies by the fuel of the run `of`."""
    if unit == wanted:
        return value
    if unit in _PER_VOLUME:
        litres = _PER_VOLUME[unit] / value
    else:
        litres = value * of.L_per_100km.value / getattr(of, unit).value
    if wanted in _PER_VOLUME:
        return _PER_VOLUME[wanted] / litres
    return float(litres * getattr(of, wanted).value / of.L_per_100km.value)
