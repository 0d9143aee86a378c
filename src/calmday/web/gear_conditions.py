"""What the sliders of the gears pages ask: a number in a unit for each condition, from the query of the address."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import msgspec

from calmday.reports.words import short
from calmday.web.fields import UNIT_WORDS
from calmday.web.forms import pointed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from calmday.operations import Conditions
    from calmday.web.asked import Asked

UNIT_PART: Final = "~unit"


class Reach(msgspec.Struct, frozen=True):
    """A unit with the range and the step of its slider."""

    unit: str
    low: float
    high: float
    step: float


class Condition(msgspec.Struct, frozen=True, kw_only=True):
    """One condition: its name in the address and on the command line, and what it can be, in metric and in miles.

    `rest` where the slider stands as long as nobody chose.
    """

    name: str
    label: str
    dimension: str
    metric: Reach
    miles: Reach
    left_out: str
    rest: float = 0.0


CONDITIONS: Final = (
    Condition(
        name="headwind", label="Wind from ahead", dimension="speed", left_out="still air",
        metric=Reach("m/s", -10, 20, 0.5), miles=Reach("mph", -20, 45, 1),
    ),
    Condition(
        name="grade", label="Hill", dimension="fraction", left_out="level",
        metric=Reach("%", -10, 15, 0.5), miles=Reach("%", -10, 15, 0.5),
    ),
    Condition(
        name="payload", label="Load on top of the test mass", dimension="mass", left_out="as tested",
        metric=Reach("kg", -200, 1500, 25), miles=Reach("lb", -400, 3300, 50),
    ),
    Condition(
        name="altitude", label="Height above sea", dimension="length", left_out="100 kPa, as at 110 m",
        metric=Reach("m", 0, 3000, 50), miles=Reach("ft", 0, 10000, 100),
    ),
    Condition(
        name="temperature", label="Air temperature", dimension="temperature", left_out="20 °C, or that of the height",
        metric=Reach("degC", -25, 45, 1), miles=Reach("degF", -15, 115, 1), rest=293.15,
    ),
    Condition(
        name="speed", label="Speed to judge by", dimension="speed",
        left_out="80 km/h, or less where it does not get there",
        metric=Reach("km/h", 10, 150, 1), miles=Reach("mph", 5, 95, 1), rest=80 / 3.6,
    ),
)  # fmt: skip
WIDEST: Final = {
    "wind": (0.0, 40.0),
    "headwind": (-40.0, 40.0),
    "grade": (-0.4, 0.4),
    "payload": (-10_000.0, 40_000.0),
    "altitude": (-450.0, 6000.0),
    "temperature": (213.0, 333.0),
    "speed": (1.0, 70.0),
}
"""What the command takes, in SI units; a change in per cent may go from -90 to +200."""


class SliderView(msgspec.Struct, frozen=True, kw_only=True):
    """One slider with its box. `value` as it stands in the box, empty where left out; `place` where the slider is."""

    name: str
    label: str
    unit: str
    unit_words: str
    value: str
    place: str
    low: str
    high: str
    step: str
    left_out: str
    fault: str


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """What an address asks for, in SI units by name; what is left out is not there. `faults` by name."""

    si: Mapping[str, float]
    typed: Mapping[str, str]
    units: Mapping[str, str]
    faults: Mapping[str, str]

    @property
    def speed_kmh(self) -> float | None:
        """The speed to judge by."""
        return round(3.6 * self.si["speed"], 9) if "speed" in self.si else None

    def conditions(self) -> Conditions:
        """The conditions for the study."""
        from calmday.operations import conditions  # noqa: PLC0415  (with the model)

        return conditions(
            head_wind_mps=self.si.get("headwind", 0.0),
            grade=self.si.get("grade", 0.0),
            payload_kg=self.si.get("payload", 0.0),
            temperature_k=self.si.get("temperature"),
            altitude_m=self.si.get("altitude"),
        )

    def query(self) -> dict[str, str]:
        """The same question as parts of an address."""
        parts = {}
        for name, text in self.typed.items():
            parts[name] = text
            parts[name + UNIT_PART] = self.units[name]
        return parts


def wanted(asked: Asked, conditions: Sequence[Condition] = CONDITIONS) -> Wanted:
    """The conditions in the query; what cannot be read is said and left out."""
    si: dict[str, float] = {}
    typed, units, faults = {}, {}, {}
    for one in conditions:
        text = pointed(asked.query(one.name).strip()[:20].replace("\u2212", "-"), asked.habits)
        if not text:
            continue
        allowed = {one.metric.unit: one.metric, one.miles.unit: one.miles}
        unit = asked.query(one.name + UNIT_PART)
        reach = allowed.get(unit, _reach(one, asked.habits.units))
        typed[one.name], units[one.name] = text, reach.unit
        found = _si(text, reach.unit, one)
        if isinstance(found, str):
            faults[one.name] = found
        else:
            si[one.name] = found
    return Wanted(si=si, typed=typed, units=units, faults=faults)


def _reach(one: Condition, habit: str) -> Reach:
    return one.metric if habit == "metric" else one.miles


def _si(text: str, unit: str, one: Condition) -> float | str:
    """The figure in SI units, or what is wrong with it."""
    from calmday.metrology.units import QuantityError, parse_quantity  # noqa: PLC0415

    if "," in text:
        return "Thousands, or a decimal comma? It was left out."
    try:
        value = parse_quantity(f"{text} {unit}", one.dimension)
    except QuantityError:
        return "This is no number. It was left out."
    low, high = WIDEST.get(one.name, (-0.9, 2.0))
    if not (math.isfinite(value) and low - 1e-9 <= value <= high + 1e-9):
        return "This is not possible here. It was left out."
    return value


def sliders(
    asked: Asked, want: Wanted, speed_kmh: float, conditions: Sequence[Condition] = CONDITIONS
) -> tuple[SliderView, ...]:
    """The sliders as the page shows them; `speed_kmh` the speed that was judged by."""
    return tuple(_slider(one, asked.habits.units, want, speed_kmh / 3.6) for one in conditions)


def _slider(one: Condition, habit: str, want: Wanted, speed_mps: float) -> SliderView:
    unit = want.units.get(one.name, _reach(one, habit).unit)
    reach = one.metric if unit == one.metric.unit else one.miles
    rest = speed_mps if one.name == "speed" else one.rest
    at = want.si.get(one.name, rest)
    return SliderView(
        name=one.name,
        label=one.label,
        unit=reach.unit,
        unit_words=UNIT_WORDS.get(reach.unit, reach.unit),
        value=want.typed.get(one.name, ""),
        place=_plain(round(_in_unit(at, reach.unit, one.dimension) / reach.step) * reach.step),
        low=_plain(reach.low),
        high=_plain(reach.high),
        step=_plain(reach.step),
        left_out=one.left_out,
        fault=want.faults.get(one.name, ""),
    )


def _in_unit(value: float, unit: str, dimension: str) -> float:
    from calmday.metrology.unit_table import UNITS  # noqa: PLC0415

    if dimension == "temperature":
        return value - 273.15 if unit == "degC" else (value - 273.15) * 1.8 + 32
    return float(value / UNITS[dimension][unit][0])


def _plain(value: float) -> str:
    return short(value).replace("\u2212", "-").replace("\u202f", "").replace("\u00a0", "").replace(",", "")
