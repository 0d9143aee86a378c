"""What the operations say about a vehicle's build sheet, in the words of the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from calmday.errors import InputError
from calmday.metrology.rounding import listed
from calmday.reports.words import number, short
from calmday.web.vehicle_fields import build_fields

if TYPE_CHECKING:
    from collections.abc import Mapping

    from calmday.operations.logbook.standing import FieldDoubt
    from calmday.web.asked import Asked
    from calmday.web.fields import Field

WORTH_SAYING_PERCENT = 1.0
MOST_RANKED = 5
HARD_SPACE = "\u00a0"
NAMES = {
    "engine.displacement": "swept volume of the engine",
    "engine.fuel": "fuel and kind of injection",
    "engine.full_load": "full-load curve",
}
SAID = {"vehicle.test_mass": "kg", "vehicle.rolling_resistance": "", "vehicle.driveline_efficiency": ""}
"""Fields whose assumed value is said, with its unit; for the others it is no figure that stands in a box."""


class DoubtLines(msgspec.Struct, frozen=True, kw_only=True):
    """What is assumed for each field that is left out, by key; and what is worth finding out, best first."""

    assumed: Mapping[str, str]
    ranked: tuple[tuple[str, str], ...]


def doubt_lines(asked: Asked, vehicle_id: str) -> DoubtLines:
    """What the build sheet leaves open and how much doubt that adds; nothing while the sheet cannot be read."""
    from calmday.operations.logbook import vehicle_doubts  # noqa: PLC0415  (the model only where something is judged)

    book = asked.desk.book
    try:
        found = asked.desk.memory.get(book, ("doubts", vehicle_id), lambda: vehicle_doubts(book, vehicle_id))
    except InputError:
        return DoubtLines(assumed={}, ranked=())
    fields = {field.key: field for field in build_fields()}
    assumed = {key: _assumed(doubt, key, fields) for doubt in found for key in doubt.keys if key in fields}
    ranked = tuple(
        (_name(doubt, fields), f"not known, it adds {_percent(doubt)}.")
        for doubt in found
        if doubt.half_width_percent >= WORTH_SAYING_PERCENT
    )
    return DoubtLines(assumed=assumed, ranked=ranked[:MOST_RANKED])


def _assumed(doubt: FieldDoubt, key: str, fields: Mapping[str, Field]) -> str:
    """What stands in for a field, and what that adds."""
    words = fields[key].left_out or "a usual one"
    if key in SAID:
        words = f"{words}, {short(doubt.assumed)} {SAID[key]}".strip()
    if doubt.half_width_percent < WORTH_SAYING_PERCENT:
        return words
    adds = "that adds" if len(doubt.keys) == 1 else "with what else is missing here, that adds"
    return f"{words}; {adds} {_percent(doubt)}"


def _percent(doubt: FieldDoubt) -> str:
    amount = f"±{HARD_SPACE}{number(doubt.half_width_percent, 0)}{HARD_SPACE}%"
    return f"{amount} to the fuel at 80{HARD_SPACE}km/h"


def _name(doubt: FieldDoubt, fields: Mapping[str, Field]) -> str:
    """The fields of a doubt as one thing to find out."""
    if doubt.keys[0] in NAMES:
        words = NAMES[doubt.keys[0]]
    else:
        words = listed([fields[key].label.lower() for key in doubt.keys if key in fields])
    return f"{words[:1].upper()}{words[1:]}:"
