"""Figures that stay on one line: a number is not parted from its give-or-take and its unit at the edge of a page."""

from __future__ import annotations

import re
from typing import Final

HARD_SPACE: Final = "\u00a0"
_NUMBER: Final = r"(?<![\w.])[−+]?\d+(?:[.,\u202f]\d+)*"
_UNITS: Final = (
    "L/100 km", "L/100km", "mpg US", "mpg imp", "EUR/km", "EUR/L", "km/h", "km/L", "m/s", "g/km", "MJ/km", "kg/m³",
    "kg/h", "°C", "°F", "%", "rpm", "kPa", "hPa", "bar", "psi", "kWh", "kW", "hp", "PS", "N m", "N·m", "Hz", "km", "kg",
    "m²", "mm", "min", "mi", "laps", "lap", "L", "N", "g", "m", "s", "h",
)  # fmt: skip
_UNIT: Final = rf"(?:{'|'.join(re.escape(unit) for unit in _UNITS)})(?![\w/²³·])"
_COMPOUND: Final = rf"{_NUMBER} h \d\d min|{_NUMBER} min \d\d s|{_NUMBER} lb {_NUMBER} oz"
_FIGURE: Final = re.compile(
    rf"{_COMPOUND}|(?:± )?{_NUMBER}(?: ± {_NUMBER})(?: {_UNIT})?|(?:± )?{_NUMBER} {_UNIT}|± {_NUMBER}|L/100 km"
)


_PAIR: Final = re.compile(rf"{_COMPOUND}|{_NUMBER} ± {_NUMBER}|± {_NUMBER}|L/100 km|mpg US|mpg imp")


def paired(text: str) -> str:
    """For a narrow cell: only a number and its give-or-take are kept together, the words of a unit, and a length of
    time.

    >>> paired("7.6 ± 0.3 L/100 km").replace(HARD_SPACE, "~")
    '7.6~±~0.3 L/100~km'
    """
    return _PAIR.sub(lambda found: found[0].replace(" ", HARD_SPACE), text)


def whole(text: str) -> str:
    """The text with hard spaces inside every figure.

    >>> whole("It used 7.6 ± 0.3 L/100 km in 3 tests, 1 h 00 min each.").replace(HARD_SPACE, "~")
    'It used 7.6~±~0.3~L/100~km in 3 tests, 1~h~00~min each.'
    """
    return _FIGURE.sub(lambda found: found[0].replace(" ", HARD_SPACE), text)
