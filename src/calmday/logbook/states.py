"""The states of a vehicle over time, read off the tables of its build sheet, and what differs between two of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from calmday.logbook.document import flatten

ODOMETER_KEYS = frozenset({"vehicle.tyre", "vehicle.rolling_circumference", "vehicle.final_drive"})
"""What an odometer counts by: wheel turns through the axle. A change of either ends its factor."""

_SAME_THING = (
    (frozenset({"tyre"}), frozenset({"rolling_circumference"})),
    (frozenset({"frontal_area"}), frozenset({"width", "height"})),
)
_OF_THE_CHANGE = ("date", "what", "vehicle", "engine")


class BuildState(msgspec.Struct, frozen=True, kw_only=True):
    """A vehicle from a date on (None: as built): what changed then, which keys, and every field in force."""

    since: dt.date | None
    what: tuple[str, ...]
    changed: frozenset[str]
    fields: dict[str, str]


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """One field that is not what it was; "" where it is not given."""

    key: str
    before: str
    after: str


def build_states(tables: Mapping[str, Any]) -> tuple[BuildState, ...]:
    """As built, then one state for each date with changes, in the order of their dates.

    What is no change (no date, no table) is passed over: the reader of build sheets says so.
    """
    merged: dict[str, dict[str, Any]] = {
        section: dict(value) if isinstance(value := tables.get(section), dict) else {}
        for section in ("vehicle", "engine")
    }
    states = [BuildState(since=None, what=(), changed=frozenset(), fields=_fields(merged))]
    for since, change in sorted(_dated(tables.get("change")), key=lambda item: item[0]):
        changed = frozenset(_apply(change, merged))
        what = (str(change["what"]),) if change.get("what") else ()
        if states[-1].since == since:
            what, changed = (*states[-1].what, *what), states[-1].changed | changed
            states.pop()
        states.append(BuildState(since=since, what=what, changed=changed, fields=_fields(merged)))
    return tuple(states)


def state_on(states: Iterable[BuildState], date: dt.date | None) -> BuildState:
    """The state in force on a date, the last one where no date is given."""
    return [s for s in states if date is None or s.since is None or s.since <= date][-1]


def differences(before: Mapping[str, str], after: Mapping[str, str]) -> tuple[Difference, ...]:
    """What differs between two sets of fields."""
    return tuple(
        Difference(key=key, before=before.get(key, ""), after=after.get(key, ""))
        for key in sorted(before.keys() | after.keys())
        if before.get(key, "") != after.get(key, "")
    )


def ended_by(states: Iterable[BuildState], one: dt.date, other: dt.date) -> BuildState | None:
    """The first change between two dates that ends an odometer's factor; None where there is none."""
    first, last = sorted((one, other))
    for state in states:
        if state.since is not None and first < state.since <= last and state.changed & ODOMETER_KEYS:
            return state
    return None


def fields_of(tables: Mapping[str, Any]) -> dict[str, str]:
    """Every field of a document as text."""
    return {key: leaf.text for key, leaf in flatten(tables).items()}


def _fields(merged: dict[str, dict[str, Any]]) -> dict[str, str]:
    return fields_of({section: values for section, values in merged.items() if values})


def _dated(changes: object) -> list[tuple[dt.date, dict[str, Any]]]:
    items = changes if isinstance(changes, list) else [changes]
    tables = [item for item in items if isinstance(item, dict)]
    return [(date, table) for table in tables if (date := date_of(table.get("date"))) is not None]


def date_of(value: object) -> dt.date | None:
    """A date, or a text that is one."""
    if isinstance(value, dt.datetime):
        return None
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            return None
    return value if isinstance(value, dt.date) else None


def _apply(change: dict[str, Any], merged: dict[str, dict[str, Any]]) -> list[str]:
    """Put the changed keys over those in force; the keys."""
    changed = []
    nested = {section: change[section] for section in ("vehicle", "engine") if isinstance(change.get(section), dict)}
    flat = {key: value for key, value in change.items() if key not in _OF_THE_CHANGE}
    for section, new in (("vehicle", flat), *nested.items()):
        for ours, theirs in (*_SAME_THING, *((b, a) for a, b in _SAME_THING)):
            if not ours.isdisjoint(new):
                for key in theirs - new.keys():
                    merged[section].pop(key, None)
        merged[section] |= new
        changed += [f"{section}.{key}" for key in new]
    return changed
