"""What stands in the logbook, as a person reads it: the words of a choice instead of its value, units as printed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from calmday.web.fields import UNIT_WORDS

if TYPE_CHECKING:
    from calmday.web.fields import Field

_AMOUNT: Final = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)) (\S.*)")
_SAID: Final = {"true": "yes", "false": "no"}


def as_read(text: str, field: Field | None = None) -> str:
    """A text of the logbook in words. `field` the box it was written into, where that is known.

    >>> as_read("836 kg/m^3"), as_read("15 degC"), as_read("7.9 L/100km"), as_read("12.880 kg")
    ('836 kg/m³', '15 °C', '7.9 L/100 km', '12.880 kg')
    """
    if field is not None and field.kind in ("choice", "yes_no"):
        return dict(field.choices).get(text, _SAID.get(text, text))
    amount = _AMOUNT.fullmatch(text)
    return f"{amount[1]} {UNIT_WORDS.get(amount[2], amount[2])}" if amount else text


def in_a_few_words(text: str, field: Field) -> str:
    """An entry that stands without its box: `maker's limit of error 0.1 %`; a choice says what it is by itself."""
    words = as_read(text, field)
    if field.kind in ("choice", "yes_no"):
        short = words.split(":", maxsplit=1)[0]
        return short[:1].lower() + short[1:] if not short[1:2].isupper() else short
    label = field.label if field.label[1:2].isupper() else field.label[:1].lower() + field.label[1:]
    return f"{label} {words}"
