"""What changed on a vehicle since a moment, read off its entries: generated, never typed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import msgspec

from calmday.web.forms import fault_words
from calmday.web.vehicle_fields import build_fields

if TYPE_CHECKING:
    from calmday.errors import InputError
    from calmday.logbook.records import Value
    from calmday.web.asked import Asked

_CHANGE = re.compile(r"change\[(\d+)\]\.(?:vehicle\.)?(.+)")


class ChangeLine(msgspec.Struct, frozen=True, kw_only=True):
    """One field that is not what it was."""

    what: str
    before: str
    now: str
    when: str


def label_of(key: str) -> str:
    """A key of the build sheet in words."""
    change = _CHANGE.fullmatch(key)
    if change:
        inner = change[2]
        if inner in ("date", "what"):
            return f"Change {int(change[1]) + 1}, {'from' if inner == 'date' else 'what'}"
        return f"{label_of(inner if inner.startswith('engine.') else f'vehicle.{inner}')} (change {int(change[1]) + 1})"
    ratio = re.fullmatch(r"vehicle\.gear_ratios\[(\d+)\]", key)
    if ratio:
        return f"Gear {int(ratio[1]) + 1}"
    if key == "engine.full_load":
        return "Full-load curve"
    return next((field.label for field in build_fields() if field.key == key), key)


def faults_told(error: InputError) -> tuple[str, ...]:
    """What is wrong with a build sheet, by the names of its boxes."""
    return tuple(f"{label_of(fault.key)}: {fault_words(fault.wrong, fault.right)}" for fault in error.faults[:12])


def changes_since_last_run(asked: Asked, run_id: str) -> tuple[str, tuple[ChangeLine, ...]]:
    """The run before this one, and what differs from it: on the vehicle, and in how it was run. Empty where none."""
    from calmday.operations.logbook import changed_since_last_run  # noqa: PLC0415  (with the database layer)
    from calmday.web.pages.history import text_of, words_of  # noqa: PLC0415

    book = asked.desk.book
    found = asked.desk.memory.get(book, ("changes", run_id), lambda: changed_since_last_run(book, run_id))
    if found is None:
        return "", ()
    on_vehicle = [
        ChangeLine(
            what=label_of(each.key),
            before=text_of("vehicle", each.key, each.before),
            now=text_of("vehicle", each.key, each.after),
            when="",
        )
        for each in found.vehicle
    ]
    in_run = [
        ChangeLine(
            what=words_of("run", each.key),
            before=text_of("run", each.key, each.before),
            now=text_of("run", each.key, each.after),
            when="",
        )
        for each in found.run
        if each.key not in UNREMARKABLE
    ]
    return found.previous_name, tuple(on_vehicle + in_run)


UNREMARKABLE = frozenset({"timezone", "duration", "distance"})
"""Differs from run to run without meaning anything."""


def differences(asked: Asked, vehicle_id: str, moment: str) -> tuple[ChangeLine, ...]:
    """What differs between the build sheet at a moment and now."""
    from calmday.web.pages.common import when  # noqa: PLC0415
    from calmday.web.pages.history import text_of  # noqa: PLC0415

    then = asked.desk.book.values("vehicle", vehicle_id, at=moment)
    now = asked.desk.book.values("vehicle", vehicle_id)
    return tuple(
        ChangeLine(
            what=label_of(key),
            before=text_of("vehicle", key, _text(then, key)),
            now=text_of("vehicle", key, _text(now, key)),
            when=when(now[key].at) if key in now else "",
        )
        for key in sorted(then.keys() | now.keys())
        if _text(then, key) != _text(now, key)
    )


def _text(values: dict[str, Value], key: str) -> str:
    return (values[key].text or "") if key in values else ""
