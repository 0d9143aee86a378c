"""Numbers and units as a person reads them: rounded to their doubt, the unit spelt out."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from typing import NamedTuple, Protocol

from calmday.metrology.rounding import MINUS, decimals_for_half_width, format_signed, format_to, format_without_doubt

NOT_KNOWN = format_to(math.nan, 0)
LOPSIDED = 2.0
"""Ratio of the two sides of an interval from which one give-or-take would mislead."""

SMALLEST_PERCENT = 0.1
MOST_NAMED = 8
"""Files named one by one; of more only the number is said."""

UNIT_WORDS = {
    "": "",
    "1": "",
    "L/100km": "L/100 km",
    "L_per_100km": "L/100 km",
    "km_per_L": "km/L",
    "mpg_us": "mpg US",
    "mpg_imp": "mpg imp",
    "mpg": "mpg",
    "g_per_km": "g/km",
    "degC": "°C",
    "deg": "°",
    "m2": "m²",
    "m^2": "m²",
    "m3": "m³",
    "m^3": "m³",
    "kg/m3": "kg/m³",
    "kg/m^3": "kg/m³",
    "m/s2": "m/s²",
    "m/s^2": "m/s²",
}


class Interval(Protocol):
    """What a figure and a parameter estimate share: a value between the bounds of its 95 % interval."""

    @property
    def value(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def unit(self) -> str: ...


class _Scaled(NamedTuple):
    value: float
    low: float
    high: float
    unit: str


_NEGATIVE = re.compile(r"(?<= )-(?=\d)")
_STORED = re.compile(r"^[0-9a-f]{26}/")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")


def unit_words(unit: str) -> str:
    """The unit as printed: `L/100km` becomes `L/100 km`, `m^2` becomes `m²`."""
    return UNIT_WORDS.get(unit, unit)


def clean(text: str) -> str:
    """Text from a file, fit for a terminal: one line, without control characters."""
    return _CONTROL.sub(" ", text).strip()


def typed(text: str) -> str:
    """An amount as somebody typed it, its unit as printed.

    >>> typed("7.9 L/100km")
    '7.9 L/100 km'
    """
    return clean(text).replace("L/100km", UNIT_WORDS["L/100km"])


def text_width(text: str) -> int:
    """Columns the text takes on a terminal; wide East Asian characters take two, combining marks none."""
    if text.isascii():
        return len(text)
    return sum(_char_width(char) for char in text)


def _char_width(char: str) -> int:
    if unicodedata.combining(char):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def number(value: float, decimals: int) -> str:
    """A number at the given decimal places, in groups of three digits."""
    return format_to(value, decimals, grouped=True)


def signed(value: float, decimals: int) -> str:
    """A change at the given decimal places: a plus before what is above zero, in groups of three digits."""
    return format_signed(value, decimals, grouped=True)


def short(value: float) -> str:
    """A number that carries no doubt, to four significant digits."""
    return format_without_doubt(float(f"{value:.4g}"), grouped=True)


def is_known(figure: Interval) -> bool:
    """Whether value and bounds are all finite."""
    return all(math.isfinite(part) for part in (figure.value, figure.low, figure.high))


def is_lopsided(figure: Interval) -> bool:
    """Whether one side of the 95 % interval reaches so far that a single give-or-take would mislead."""
    up, down = figure.high - figure.value, figure.value - figure.low
    return max(up, down) > LOPSIDED * min(up, down) if min(up, down) > 0 else max(up, down) > 0


def amount(figure: Interval, *, signed: bool = False, most_decimals: int = 9) -> str:
    """Value and give-or-take without unit: `7.12 ± 0.09`, or `7.1 (6.2 to 9.4)` where lopsided.

    `signed` puts a plus before what is above zero. Past `most_decimals` a give-or-take is too small to show.
    """
    if not is_known(figure):
        return NOT_KNOWN
    half = (figure.high - figure.low) / 2
    wanted = decimals_for_half_width(half) if half > 0 else most_decimals
    places = min(wanted, most_decimals)
    shown = number(figure.value, places) if half > 0 else short(figure.value)
    plus = "+" if signed and figure.value > 0 and shown.strip("0.") else ""
    if half <= 0 or not number(half, places).strip("0."):
        return plus + shown
    if is_lopsided(figure):
        return f"{plus}{shown} ({number(figure.low, places)} to {number(figure.high, places)})"
    return f"{plus}{shown} ± {number(half, places)}"


def amount_unit(figure: Interval) -> str:
    """Value, give-or-take and unit."""
    unit = unit_words(figure.unit)
    text = amount(figure)
    return text if not unit or text == NOT_KNOWN else f"{text} {unit}"


def percent(figure: Interval, *, signed: bool = False) -> str:
    """A share or a percentage as `12.3 ± 0.4 %`; without the unit % it is taken as a fraction."""
    factor = 1.0 if figure.unit in ("%", "percent") else 100.0
    hundred = _Scaled(factor * figure.value, factor * figure.low, factor * figure.high, "%")
    if max(abs(hundred.low), abs(hundred.high)) < SMALLEST_PERCENT:
        return f"under {SMALLEST_PERCENT} %"
    text = amount(hundred, signed=signed, most_decimals=1)
    return text if text == NOT_KNOWN else f"{text} %"


def duration(seconds: float) -> str:
    """A length of time: `1 h 04 min`, `38 min 20 s`, `45 s`."""
    if not math.isfinite(seconds):
        return NOT_KNOWN
    whole = round(seconds)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes:02d} min"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def file_words(names: Sequence[str]) -> str:
    """The files that something rests on; only how many there are where naming them would fill the page.

    >>> file_words(("run.toml", "out.gpx"))
    'run.toml, out.gpx'

    A file of a run in the logbook is named without the mark by which the logbook keeps the run.
    """
    said = tuple(dict.fromkeys(_STORED.sub("", clean(name)) for name in names))
    if len(said) > MOST_NAMED:
        return f"{len(said)} files"
    return ", ".join(said) or "no files"


def headed(label: str, question: str) -> str:
    """The title of a sheet: what it is about, then its question. A label that asks itself needs no colon.

    >>> headed("Was the swap worth it?", "what it costs")
    'Was the swap worth it? What it costs'
    """
    name = clean(label)
    return f"{name} {question[0].upper()}{question[1:]}" if name.endswith(("?", "!", ".")) else f"{name}: {question}"


def spoken_setting(setting: str) -> str:
    """A setting as one says it.

    >>> spoken_setting("final_drive = 3.7"), spoken_setting("test_mass = -5 %")
    ('axle ratio 3.7', 'test mass −5 %')
    """
    key, equals, value = clean(setting).partition(" = ")
    said = key.replace("final_drive", "axle ratio").replace("_", " ")
    return _NEGATIVE.sub(MINUS, f"{said} {value}" if equals else said)
