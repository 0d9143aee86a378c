"""What the operations say about a vehicle's build sheet, in the words of the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from calmday.errors import InputError
from calmday.reports.words import number
from calmday.web.vehicle_fields import build_fields

if TYPE_CHECKING:
    from collections.abc import Mapping

    from calmday.operations_logbook.standing import FieldDoubt
    from calmday.web.asked import Asked

WORTH_SAYING_PERCENT = 1.0
MOST_RANKED = 5
NAMES = {
    "engine.displacement": "Swept volume of the engine",
    "engine.fuel": "Fuel and kind of injection",
    "engine.full_load": "Full-load curve",
}


class DoubtLines(msgspec.Struct, frozen=True, kw_only=True):
    """What is assumed for each field that is left out, by key; and what is worth finding out, best first."""

    assumed: Mapping[str, str]
    ranked: tuple[tuple[str, str], ...]


def doubt_lines(asked: Asked, vehicle_id: str) -> DoubtLines:
    """What the build sheet leaves open and how much doubt that adds; nothing while the sheet cannot be read."""
    from calmday.operations_logbook import vehicle_doubts  # noqa: PLC0415  (the model only where something is judged)

    try:
        book = asked.desk.book
        found = asked.desk.memory.get(book, ("doubts", vehicle_id), lambda: vehicle_doubts(book, vehicle_id))
    except InputError:
        return DoubtLines(assumed={}, ranked=())
    words = {field.key: (field.label, field.left_out) for field in build_fields()}
    assumed = {}
    for doubt in found:
        adds = _adds(doubt)
        for key in doubt.keys:
            usual = words.get(key, ("", "a usual one"))[1]
            assumed[key] = f"{usual}; {adds}" if adds else usual
    ranked = tuple(
        (_name(doubt, words), f"would take away up to {number(doubt.half_width_percent, 0)} % of give-or-take.")
        for doubt in found
        if doubt.half_width_percent >= WORTH_SAYING_PERCENT
    )
    return DoubtLines(assumed=assumed, ranked=ranked[:MOST_RANKED])


def _adds(doubt: FieldDoubt) -> str:
    if doubt.half_width_percent < WORTH_SAYING_PERCENT:
        return ""
    percent = f"± {number(doubt.half_width_percent, 0)} % of the fuel at 80 km/h"
    return f"that adds {percent}" if len(doubt.keys) == 1 else f"what is missing here adds {percent}"


def _name(doubt: FieldDoubt, words: Mapping[str, tuple[str, str]]) -> str:
    if doubt.keys[0] in NAMES:
        return NAMES[doubt.keys[0]]
    if len(doubt.keys) == 1:
        return words.get(doubt.keys[0], (doubt.keys[0], ""))[0]
    return " or ".join(dict.fromkeys(words[key][0] for key in doubt.keys if key in words))
