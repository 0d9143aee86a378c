"""A document as a log of fields: nested tables to dotted keys and back, nothing lost on the way.

What a person types is kept as typed (form "typed") and read as what its key holds: a number, a whole number, yes or
no, a date, else a text. What comes from a file keeps the type it had there.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import msgspec

from calmday.errors import InputError
from calmday.logbook.keys import Part, joined, parts_of, pattern_of

DEEPEST = 60

NUMBERS = frozenset(
    f"{start}{key}{end}"
    for start, keys in (
        ("vehicle.", ("drag_coefficient", "rolling_resistance", "final_drive", "driveline_efficiency")),
        ("change[].", ("drag_coefficient", "rolling_resistance", "final_drive", "driveline_efficiency")),
        ("change[].vehicle.", ("drag_coefficient", "rolling_resistance", "final_drive", "driveline_efficiency")),
        ("odometer.", ("factor",)),
    )
    for key in keys
    for end in ("", ".value", ".pm")
) | {
    "mark_pm", "vehicle.gear_ratios[]", "change[].gear_ratios[]", "change[].vehicle.gear_ratios[]", "about.final_drive",
    "conversion.horizon_years", "prices_move_together", "stops_per_lap", "bends_per_lap",
}  # fmt: skip
WHOLE_NUMBERS = (
    frozenset({"laps", *(f"{at}engine.{key}" for at in ("", "change[].") for key in ("strokes", "cylinders"))})
    | {"pull[].gear", "model_year", "setting[].cylinder", "most_laps", "runs_per_side", "readings"}
    | {"cylinders", "year[].cold_starts", "gear", "strokes", "turns", "planned_runs", "changes_tried"}
)
YES_OR_NO = frozenset(
    {"both_ways", "record_track", "uneven_firing", "engine.overrun_fuel_cut", "change[].engine.overrun_fuel_cut"}
)
DATES = frozenset(
    {"date", "change[].date", "price[].date", "rate[].date", "setting[].date", "cold_start[].date", "lift_curve.date"}
)
TIMES = frozenset({"start", "started", "weather.reading[].time", "weather.forecast[].time"})
_FORMS: tuple[tuple[type, str, Callable[[Any], str]], ...] = (
    (bool, "boolean", lambda value: "true" if value else "false"),
    (str, "string", str),
    (int, "integer", str),
    (float, "float", repr),
    (dt.datetime, "datetime", dt.datetime.isoformat),
    (dt.date, "date", dt.date.isoformat),
    (dt.time, "time", dt.time.isoformat),
    (list, "empty list", lambda _: ""),
    (dict, "empty table", lambda _: ""),
)
"""Types in the order in which they are asked for: a truth value is a whole number to Python, a datetime a date."""

_READ: dict[str, Callable[[str], Any]] = {
    "boolean": "true".__eq__,
    "string": str,
    "escaped": json.loads,
    "integer": int,
    "float": float,
    "datetime": dt.datetime.fromisoformat,
    "date": dt.date.fromisoformat,
    "time": dt.time.fromisoformat,
    "empty list": lambda _: [],
    "empty table": lambda _: {},
}
FORMS = frozenset({"typed", *_READ})
"""Every form that a value can have."""

_YES = {"true": True, "yes": True, "false": False, "no": False}


class Leaf(msgspec.Struct, frozen=True):
    """One value of a document: its text, and the form it had (`typed` by a person, or the type it had in a file)."""

    text: str
    form: str = "typed"


class Nested(msgspec.Struct, frozen=True):
    """Nested tables, as `tomllib` would give them. `moved`: where a dotted key of the tables was really written."""

    tables: dict[str, Any]
    moved: dict[str, str]


def flatten(tables: Mapping[str, Any]) -> dict[str, Leaf]:
    """Every value of a document by its dotted key; empty tables and lists count as values."""
    return {joined(path): leaf for path, leaf in _leaves(dict(tables), ()) if path}


def _leaves(value: Any, path: tuple[Part, ...]) -> Iterator[tuple[tuple[Part, ...], Leaf]]:
    if len(path) > DEEPEST:
        raise InputError.one("logbook", joined(path[:3]), "is nested too deeply", f"at most {DEEPEST} levels")
    if isinstance(value, dict) and value:
        for key, item in value.items():
            yield from _leaves(item, (*path, key))
    elif isinstance(value, list) and value:
        for i, item in enumerate(value):
            yield from _leaves(item, (*path, i))
    else:
        yield path, leaf_of(value)


def leaf_of(value: object) -> Leaf:
    """A single value with its type in words. Raises TypeError for what TOML does not have."""
    if isinstance(value, str) and "\0" in value:
        return Leaf(json.dumps(value), "escaped")
    for kind, form, write in _FORMS:
        if isinstance(value, kind):
            return Leaf(write(value), form)
    raise TypeError(f"{type(value).__name__} has no place in a document")


def value_of(leaf: Leaf, key: str) -> Any:
    """The value as `tomllib` would give it; a typed text is read as what its key holds."""
    if leaf.form == "typed":
        return _typed(leaf.text, pattern_of(key))
    return _READ[leaf.form](leaf.text)


def _typed(text: str, pattern: str) -> Any:
    """A person's text as what its key holds; the text itself where it is not that, so that a reader can say so."""
    word = text.strip()
    read: Callable[[str], Any] | None = None
    if pattern in WHOLE_NUMBERS:
        read = int
    elif pattern in NUMBERS:
        read = float
    elif pattern in DATES:
        read = dt.date.fromisoformat
    elif pattern in TIMES:
        read = dt.datetime.fromisoformat if "-" in word else dt.time.fromisoformat
    elif pattern in YES_OR_NO:
        return _YES.get(word.lower(), text)
    if read is not None:
        with contextlib.suppress(ValueError):
            return read(word)
    return text


def nest(leaves: Mapping[str, Leaf], newest: Mapping[str, str] | None = None) -> Nested:
    """The document of dotted keys. Places missing from a list close up; `moved` remembers them.

    `newest` gives each key a sortable stamp: where two keys exclude each other (`a` and `a.b`) the newer one stands.
    """
    stamps = newest or {}
    root = _Node()
    for key in sorted(leaves, key=lambda key: stamps.get(key, ""), reverse=True):
        root.place(parts_of(key), value_of(leaves[key], key))
    moved: dict[str, str] = {}
    tables = root.plain((), (), moved)
    return Nested(tables if isinstance(tables, dict) else {}, moved)


class _Node:
    """A table, a list or a value under construction; what is placed first stays."""

    __slots__ = ("children", "value")

    def __init__(self) -> None:
        self.children: dict[Part, _Node] = {}
        self.value: list[Any] = []

    def place(self, path: tuple[Part, ...], value: Any) -> None:
        node = self
        for part in path:
            if node.value or (node.children and isinstance(next(iter(node.children)), int) != isinstance(part, int)):
                return
            node = node.children.setdefault(part, _Node())
        if not node.children and not node.value:
            node.value.append(value)

    def plain(self, path: tuple[Part, ...], written: tuple[Part, ...], moved: dict[str, str]) -> Any:
        if self.value:
            return self.value[0]
        if self.children and isinstance(next(iter(self.children)), int):
            items = []
            for place, index in enumerate(sorted(k for k in self.children if isinstance(k, int))):
                here, there = (*path, place), (*written, index)
                if here != there:
                    moved[joined(here)] = joined(there)
                items.append(self.children[index].plain(here, there, moved))
            return items
        return {
            key: node.plain((*path, key), (*written, key), moved)
            for key, node in sorted(self.children.items(), key=lambda item: str(item[0]))
        }
