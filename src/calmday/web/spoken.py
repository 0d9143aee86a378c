"""Remarks in the words of the page: they are written for files and terminals too, where one names keys."""

from __future__ import annotations

import re
from functools import cache
from typing import Final

from calmday.web.documents import STANDS_IN, document_kind
from calmday.web.run_fields import STEPS
from calmday.web.vehicle_fields import build_fields

_KEY: Final = re.compile(r"\b(?:[a-z]+\.)*[a-z]+(?:_[a-z]+)+\b(?!\.\w)")
_PHRASES: Final = {
    'Add heading = "340 deg" to the [[pass]] table, or record positions.': "Say of each recording which way it went, "
    "or record positions.",
    'Add heading = "340 deg" to the [[pull]] table, or record positions.': "Say of each pull which way it went, or "
    "record positions.",
    'Say in its what = "..." which part it was: tyres, axle, timing, bodywork.': "Say in a few words what was changed: "
    "tyres, axle, timing, bodywork.",
    'Set full_load to a curve of that engine, or full_load_power = "+10 %".': "Say with the slider how much more power "
    "it would give.",
    "State uneven_firing = true where it fires unevenly.": "Say so below where it fires at uneven intervals.",
    "Turn the crank two degrees at a time, read the lift, and write both under [lift_curve].": "Turn the crank two "
    "degrees at a time, read the lift, and write both down below.",
    "Cut the pull with from_speed and to_speed to the part in one gear at full load.": "Cut the recording to the part "
    "in one gear at full load: say from which speed it counts, and up to which.",
    "If the chart names a standard, enter full_load_standard; if it says gross or net, full_load_rating.": "If the "
    "chart names a standard, say so on the build sheet; if it says gross or net, say that too.",
    "Add rule, or model_year with city and highway.": "Say which kind of figure it is, or give the model year with "
    "city and highway.",
}
"""What names the parts of a file, and what a person does on the page instead."""


def spoken(text: str) -> str:
    """The text with the label of a box for each key of a file.

    >>> spoken("Enter gear_ratios and final_drive.")
    'Enter gearbox ratios and axle ratio.'
    """
    if "_" not in text:
        return _PHRASES.get(text, text)
    said = _KEY.sub(lambda key: labels().get(key[0].rpartition(".")[2], key[0]), _PHRASES.get(text, text))
    return said[:1].upper() + said[1:] if said != text and _KEY.match(text) else said


@cache
def labels() -> dict[str, str]:
    """The label of each box by the last part of its key, as it stands within a sentence; the build sheet's first."""
    kinds = [kind for name in STANDS_IN if (kind := document_kind(name)) is not None]
    fields = [*build_fields(), *(field for step in STEPS for field in step.fields)]
    fields += [field for kind in kinds for field in kind.fields(())]
    found = {"full_load": "full-load curve"}
    for field in fields:
        found.setdefault(field.key.rsplit(".", 1)[-1], _within(field.label))
    return found


def _within(label: str) -> str:
    """A label within a sentence: a question stands in quotation marks, a name in small letters."""
    if label.endswith("?"):
        return f"\N{LEFT DOUBLE QUOTATION MARK}{label}\N{RIGHT DOUBLE QUOTATION MARK}"
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]
