"""What can be asked for: one entry for each key of the interchange files, in the words of the trade."""

from __future__ import annotations

from typing import Final, Literal

import msgspec

Kind = Literal["quantity", "number", "whole", "numbers", "choice", "yes_no", "text", "lines", "date", "time", "guess"]

UNITS: Final[dict[str, dict[str, tuple[str, ...]]]] = {
    "mass": {"metric": ("kg", "g", "lb"), "imperial": ("lb", "kg", "g"), "us": ("lb", "kg", "g")},
    "small mass": {"metric": ("g", "kg", "oz"), "imperial": ("g", "oz", "kg"), "us": ("g", "oz", "kg")},
    "weighing": {"metric": ("kg", "g", "lb"), "imperial": ("kg", "g", "lb"), "us": ("kg", "g", "lb")},
    "length": {"metric": ("m", "ft"), "imperial": ("ft", "m", "in"), "us": ("ft", "m", "in")},
    "small length": {"metric": ("m", "mm", "in"), "imperial": ("in", "mm", "m"), "us": ("in", "mm", "m")},
    "distance": {"metric": ("km", "mi", "m"), "imperial": ("mi", "km"), "us": ("mi", "km")},
    "area": {"metric": ("m^2", "ft^2"), "imperial": ("ft^2", "m^2"), "us": ("ft^2", "m^2")},
    "density": {"metric": ("kg/m^3", "kg/L", "g/mL"), "imperial": ("kg/m^3", "kg/L"), "us": ("kg/m^3", "kg/L")},
    "speed": {"metric": ("m/s", "km/h", "kn", "mph"), "imperial": ("mph", "kn", "m/s"), "us": ("mph", "kn", "m/s")},
    "road speed": {"metric": ("km/h", "mph"), "imperial": ("mph", "km/h"), "us": ("mph", "km/h")},
    "temperature": {"metric": ("degC", "degF"), "imperial": ("degC", "degF"), "us": ("degF", "degC")},
    "pressure": {"metric": ("bar", "kPa", "psi"), "imperial": ("psi", "bar", "kPa"), "us": ("psi", "bar", "kPa")},
    "air pressure": {"metric": ("hPa", "inHg"), "imperial": ("hPa", "inHg"), "us": ("inHg", "hPa")},
    "volume": {"metric": ("L", "imp gal", "US gal"), "imperial": ("imp gal", "L"), "us": ("US gal", "L")},
    "displacement": {"metric": ("L", "cm^3"), "imperial": ("L", "cm^3", "in^3"), "us": ("in^3", "L", "cm^3")},
    "torque": {
        "metric": ("N*m", "kgf*m", "lbf*ft"),
        "imperial": ("lbf*ft", "N*m", "kgf*m"),
        "us": ("lbf*ft", "N*m", "kgf*m"),
    },
    "power": {"metric": ("kW", "PS", "hp"), "imperial": ("hp", "kW", "PS"), "us": ("hp", "kW", "PS")},
    "fuel amount": {
        "metric": ("L", "kg", "imp gal", "US gal"),
        "imperial": ("imp gal", "L", "lb", "kg"),
        "us": ("US gal", "L", "lb", "kg"),
    },
    "engine speed": dict.fromkeys(("metric", "imperial", "us"), ("rpm",)),
    "fraction": dict.fromkeys(("metric", "imperial", "us"), ("%",)),
    "angle": dict.fromkeys(("metric", "imperial", "us"), ("deg",)),
    "time": dict.fromkeys(("metric", "imperial", "us"), ("min", "h", "s")),
    "working time": dict.fromkeys(("metric", "imperial", "us"), ("h", "min")),
    "consumption": {
        "metric": ("L/100km", "mpg imp", "mpg US", "km/L"),
        "imperial": ("mpg imp", "L/100km", "mpg US"),
        "us": ("mpg US", "L/100km", "mpg imp"),
    },
}
"""Units offered for a figure by the habit of its user, the usual one first."""

CLOCK: Final = "As the clock on the wall: +02:00 for middle European summer."
"""What a time zone is asked for."""

UNIT_WORDS: Final = {
    "N*m": "N·m",
    "kgf*m": "kgf·m",
    "lbf*ft": "lbf·ft",
    "m^2": "m²",
    "ft^2": "sq ft",
    "kg/m^3": "kg/m³",
    "cm^3": "cm³",
    "in^3": "cu in",
    "degC": "°C",
    "degF": "°F",
    "deg": "°",
    "L/100km": "L/100 km",
}


YES_NO: Final = (("true", "yes"), ("false", "no"))


class Field(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to ask: `key` as in the interchange files, `purpose` what it is for, `left_out` what happens without.

    `units` names a row of UNITS; `choices` pairs of value and words; `unsaid` what a choice says while nothing is
    chosen; `bare` the unit of a number without one in a text; `room` how many characters are usual. `listed`: one text
    here is a list there, numbers between commas or one text on each line. `figures`: a text in which figures with units
    stand, such as a price, where a decimal comma is one.
    """

    key: str
    label: str
    purpose: str = ""
    left_out: str = ""
    kind: Kind = "quantity"
    units: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    unsaid: str = "don’t know"
    example: str = ""
    bare: str = ""
    room: int = 8
    listed: bool = False
    figures: bool = False


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """Fields under one heading."""

    name: str
    title: str
    lead: str = ""
    fields: tuple[Field, ...]


def field(key: str, label: str, purpose: str = "", units: str = "", **rest: object) -> Field:
    """A field for a quantity, or with `kind` for anything else."""
    return msgspec.convert({"key": key, "label": label, "purpose": purpose, "units": units, **rest}, Field)
