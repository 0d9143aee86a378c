"""Units at the door: text with a unit in, SI floats out, and nothing guessed.

A strict grammar stands in front of the units library, because such libraries read `100 PS` as petasiemens,
`1 1/2 in` as half an inch and `2 lb 3 oz` as a product. Names in the generated table are looked up directly;
any other name is left to pint, which is imported only then, and must have the right dimension.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise

from calmday.metrology.unit_table import UNITS

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_LEADING = re.compile(rf"(?:(?:([+-]?\d+) )?([+-]?\d+) ?/ ?(\d+)|({_NUMBER})) ?")
_TERM = re.compile(r"(\d+(?:\.\d*)?|\.\d+) ?([A-Za-z]+)(?: |$)")
# What is left to the library: names joined by * and /, with one-digit powers, and nothing else.
_UNIT = re.compile(r"[A-Za-z]+(?:\^-?\d)?(?:[*/][A-Za-z]+(?:\^-?\d)?){0,5}")
_COMMA = re.compile(r"\d,|,\d")
_MAX_CHARACTERS = 80

_TIDY = str.maketrans(
    {"²": "^2", "³": "^3", "·": "*", "⋅": "*", "°": "deg", "º": "deg", "−": "-", "\u00a0": " ", "\u202f": " "}
)

_EXAMPLES = {
    "length": "14.2 km",
    "area": "2.31 m^2",
    "mass": "16.605 kg",
    "density": "836 kg/m^3",
    "speed": "90 km/h",
    "angle": "340 deg",
    "temperature": "11 degC",
    "temperature difference": "2 degC",
    "pressure": "290 kPa",
    "volume": "2.1 L",
    "torque": "140 N*m",
    "power": "36 kW",
    "engine speed": "800 rpm",
    "time": "38 min 20 s",
    "force": "650 N",
    "fraction": "3 %",
}
DIMENSIONS: tuple[str, ...] = tuple(_EXAMPLES)

_AMBIGUOUS = {
    **dict.fromkeys(("gal", "gallon", "gallons", "gals"), ("which gallon?", "US gal or imp gal")),
    **dict.fromkeys(("qt", "quart", "quarts"), ("which quart?", "US qt or imp qt")),
    **dict.fromkeys(("pt", "pint", "pints"), ("which pint?", "US pt or imp pt")),
    **dict.fromkeys(("fl oz", "floz", "fluid ounce", "fluid ounces"), ("which fluid ounce?", "US fl oz or imp fl oz")),
    **dict.fromkeys(("ton", "tons"), ("which ton?", "t (1000 kg), long ton or short ton")),
}

# Units of one compound figure, largest first, each with the number of it that makes one of the unit before.
_COMPOUNDS: dict[str, tuple[dict[str, int], ...]] = {
    "mass": ({"st": 0, "lb": 14, "oz": 16}, {"kg": 0, "g": 1000}, {"lbs": 0, "oz": 16}),
    "length": ({"mi": 0, "yd": 1760}, {"ft": 0, "in": 12}, {"km": 0, "m": 1000}),
    "time": ({"d": 0, "h": 24, "min": 60, "s": 60},),
}

# The table is complete for the others; there the library's idea of dimension is too wide (N*m is also an
# energy, 1/s also a frequency, an angle also a pure number).
_LIBRARY_UNITS = {
    "length": "m",
    "area": "m**2",
    "mass": "kg",
    "density": "kg/m**3",
    "speed": "m/s",
    "pressure": "Pa",
    "volume": "m**3",
    "power": "W",
    "force": "N",
    "time": "s",
}
# What the library would take in a sense that nobody on a test day means, or that differs between countries.
_LIBRARY_REFUSES = frozenset(
    """
    gal gallon qt quart pt pint floz ton hundredweight cwt barrel bbl bushel cup tbsp tsp gill minim peck
    tablespoon teaspoon drachm dram scruple month year a c P M Gal tex point pica pixel dot
    acre furlong chain rod pole perch league fathom link
    """.split()  # noqa: SIM905 - the last line is 2 parts per million off: the library takes the US survey foot
)

CONSUMPTION_UNITS: tuple[str, ...] = ("L_per_100km", "mpg_us", "mpg_imp", "km_per_L", "g_per_km")
_CONSUMPTION_NAMES = {
    "l/100km": "L_per_100km",
    "l/100 km": "L_per_100km",
    "l per 100 km": "L_per_100km",
    "litres per 100 km": "L_per_100km",
    "mpg us": "mpg_us",
    "mpg (us)": "mpg_us",
    "us mpg": "mpg_us",
    "mpg imp": "mpg_imp",
    "mpg (imp)": "mpg_imp",
    "imp mpg": "mpg_imp",
    "mpg uk": "mpg_imp",
    "uk mpg": "mpg_imp",
    "km/l": "km_per_L",
    "g/km": "g_per_km",
    **{name.lower(): name for name in CONSUMPTION_UNITS},
}


class QuantityError(ValueError):
    """Text that is not the quantity asked for: `wrong` what was found, `right` what would be accepted."""

    def __init__(self, wrong: str, right: str) -> None:
        self.wrong = wrong
        self.right = right
        super().__init__(f"{wrong}; {right}")


def shown(value: object) -> str:
    """A value as it can stand in a one-line message: quoted, printable, not too long."""
    text = value if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "?" for c in text[: 3 * _MAX_CHARACTERS])
    return f'"{text[:57]}..."' if len(text) > 60 else f'"{text}"'


def parse_quantity(text: object, dimension: str) -> float:
    """The quantity in SI units (angle rad, engine speed revolutions per second, temperature K, fraction 1).

    `text` is a number and a unit such as "38 psi", "1 1/2 mi", "11 lb 14.0 oz"; `dimension` one of
    DIMENSIONS. Raises QuantityError for anything else: no unit, another dimension, a decimal comma, a gallon
    that may be either.
    """
    tidy = _tidied(text, _example(dimension))
    terms = _split(tidy, dimension)
    if len(terms) > 1:
        return _compound(terms, dimension, tidy)
    value, unit = terms[0]
    factor, offset = _factor(unit, dimension, tidy)
    return _finite(value * factor + offset, tidy, dimension)


def parse_consumption(text: object) -> tuple[float, str]:
    """A fuel consumption as given and its unit, one of CONSUMPTION_UNITS. "34 mpg US" gives (34.0, "mpg_us").

    Raises QuantityError; `mpg` alone is refused because the US and the imperial gallon differ by 20 %.
    """
    right = 'a consumption such as "6.6 L/100km", "34 mpg US", "34 mpg imp", "15 km/L" or "66 g/km"'
    tidy = _tidied(text, right)
    match = _LEADING.match(tidy)
    if not match or match.group(4) is None:
        raise QuantityError(f"{shown(tidy)} does not start with a decimal number", right)
    name = tidy[match.end() :].lower()
    if name == "mpg":
        raise QuantityError(f"{shown(tidy)}: which gallon?", "mpg US or mpg imp")
    if name not in _CONSUMPTION_NAMES:
        raise QuantityError(f"{shown(tidy)} is not a consumption", right)
    value = float(match.group(4))
    if not 0.0 < value < 1e6:
        raise QuantityError(f"{shown(tidy)} is not a possible consumption", "a figure above zero")
    return value, _CONSUMPTION_NAMES[name]


def _example(dimension: str) -> str:
    return f'{_article(dimension)} with its unit such as "{_EXAMPLES[dimension]}"'


def _article(dimension: str) -> str:
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def _tidied(text: object, right: str) -> str:
    """The text with one spelling of signs and spaces, or QuantityError."""
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise QuantityError(f"{shown(text)} is not a quantity", right)
    if not isinstance(text, str):
        raise QuantityError(f"{shown(text)} has no unit", right)
    if len(text) > _MAX_CHARACTERS:
        raise QuantityError(f"{shown(text)} is too long for a quantity", right)
    tidy = " ".join(text.translate(_TIDY).split())
    if not tidy:
        raise QuantityError("nothing is entered", right)
    if not tidy.isascii():
        raise QuantityError(f"{shown(text)} has characters that do not belong in a quantity", right)
    if _COMMA.search(tidy):
        raise QuantityError(
            f"{shown(text)} has a comma in the number",
            "a decimal point and no thousands separator, 1.5 not 1,5",
        )
    return tidy


def _split(tidy: str, dimension: str) -> list[tuple[float, str]]:
    """Number and unit name of each term; QuantityError where the text has another form."""
    match = _LEADING.match(tidy)
    if not match:
        raise QuantityError(f"{shown(tidy)} does not start with a number", _example(dimension))
    whole, numerator, denominator, number = match.groups()
    unit = tidy[match.end() :]
    if unit not in UNITS[dimension]:
        if not unit:
            raise QuantityError(f"{shown(tidy)} has no unit", _example(dimension))
        if unit[0].isdigit() and not unit.startswith("1/"):
            raise QuantityError(
                f"{shown(tidy)} has two numbers in a row",
                f"{_example(dimension)}, without thousands separator",
            )
        terms = _TERM.findall(tidy)
        if len(terms) > 1 and not _TERM.sub("", tidy):
            return [(float(part), name) for part, name in terms]
    value = float(number) if number else _fraction(whole, numerator, denominator, tidy)
    return [(value, unit)]


def _fraction(whole: str | None, numerator: str, denominator: str, tidy: str) -> float:
    """ "1 1/2" as 1.5: only a proper fraction may follow a whole number."""
    top, bottom = int(numerator), int(denominator)
    proper = whole is None or (numerator[0] not in "+-" and 0 < top < bottom)
    if bottom == 0 or not proper:
        raise QuantityError(
            f"{shown(tidy)} has a fraction that cannot be read", 'a form such as "1 1/2 mi" or "1.5 mi"'
        )
    part = top / bottom
    if whole is None:
        return part
    return float(int(whole)) + math.copysign(part, -1.0 if whole.startswith("-") else 1.0)


def _compound(terms: list[tuple[float, str]], dimension: str, tidy: str) -> float:
    """Sum of terms such as 11 lb 14.0 oz: falling units of one family, only the last with decimals."""
    names = [unit for _, unit in terms]
    family = next((f for f in _COMPOUNDS.get(dimension, ()) if set(names) <= set(f)), None)
    if family is None or [n for n in family if n in names] != names:
        raise QuantityError(
            f"{shown(tidy)} has more than one number and unit", f'{_example(dimension)}; or "11 lb 14.0 oz"'
        )
    if any(value != int(value) for value, _ in terms[:-1]) or any(value < 0 for value, _ in terms):
        raise QuantityError(
            f"{shown(tidy)} mixes decimals or signs in a compound figure",
            "whole numbers before the last unit",
        )
    order = list(family)
    for (_, larger), (value, unit) in pairwise(terms):
        limit = math.prod(family[n] for n in order[order.index(larger) + 1 : order.index(unit) + 1])
        if value >= limit:
            raise QuantityError(f"{shown(tidy)} has {value:g} {unit} after {larger}", f"less than {limit} {unit} there")
    return _finite(sum(v * UNITS[dimension][u][0] for v, u in terms), tidy, dimension)


def _factor(unit: str, dimension: str, tidy: str) -> tuple[float, float]:
    """Factor and offset to SI of a unit name, from the table or from the library."""
    found = UNITS[dimension].get(unit)
    if found:
        return found
    if unit in _AMBIGUOUS:
        question, right = _AMBIGUOUS[unit]
        raise QuantityError(f"{shown(tidy)}: {question}", right)
    others = [name for name, units in UNITS.items() if unit in units]
    if others:
        raise QuantityError(f"{shown(tidy)} is {_article(others[0])}, not {_article(dimension)}", _example(dimension))
    return _library_factor(unit, dimension, tidy), 0.0


def _library_factor(unit: str, dimension: str, tidy: str) -> float:
    """Factor of a unit that the table does not hold, from pint after a check of its form and dimension."""
    known = ", ".join({factor: name for name, factor in reversed(UNITS[dimension].items())}.values())
    unknown = QuantityError(
        f"{shown(tidy)}: {shown(unit)} is not a unit of {dimension} known here",
        f"{_example(dimension)}; units: {known}",
    )
    si = _LIBRARY_UNITS.get(dimension)
    if si is None or not _UNIT.fullmatch(unit) or not _LIBRARY_REFUSES.isdisjoint(re.findall("[A-Za-z]+", unit)):
        raise unknown
    import pint  # noqa: PLC0415
    from pint.errors import PintError  # noqa: PLC0415

    try:
        quantity = pint.application_registry.Quantity(1.0, unit.replace("^", "**"))
        return float(quantity.to(si).magnitude)
    except (
        PintError,
        ArithmeticError,
        AssertionError,
        AttributeError,
        LookupError,
        TypeError,
        ValueError,
    ) as e:
        raise unknown from e


def _finite(value: float, tidy: str, dimension: str) -> float:
    if not math.isfinite(value):
        raise QuantityError(f"{shown(tidy)} is not a finite number", _example(dimension))
    return value
