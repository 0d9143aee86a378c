"""Tests that a document names: files in a folder, identifiers in a logbook and in what is taken out of it.

A plan and a list of changes name tests to learn from; a comparison names its runs.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection

from calmday.files.named_files import IDENTIFIER
from calmday.logbook import compose, entries
from calmday.logbook.document import Leaf
from calmday.logbook.records import Kind

TEST_KEYS: Final[dict[str, Kind]] = {"runs": "run", "coastdowns": "coastdown", "evidence": "evidence"}
"""By the key of a plan or a list of changes which kind of test it names there."""
_NAMING: Final[dict[Kind, re.Pattern[str]]] = {
    "plan": re.compile(r"(?:runs|coastdowns|evidence)(?:\[\d+\])?"),
    "whatif": re.compile(r"(?:runs|coastdowns)(?:\[\d+\])?"),
    "comparison": re.compile(r"(baseline|changed)(?:\[\d+\])?|(run(?:\[\d+\])?)\.file|order\[\d+\]"),
}
"""Keys that name a test, by the kind of document."""


_WHY: Final = "named as the logbook names it"


def name_tests(
    connection: Connection, kind: Kind, place: Path, taken: Mapping[Path, str], by: str, where: str
) -> list[str]:
    """Put their identifiers where a document that came in names tests that came in; the names of those that did not.

    `place` where the document lay, `taken` the identifier of what came in by where it lay.
    """
    pattern, subject_id = _NAMING.get(kind), taken.get(place)
    if pattern is None or subject_id is None:
        return []
    values = entries.newest(connection, [subject_id], where)[subject_id]
    standing = compose.leaves_of(values)
    changes: dict[str, entries.Input] = {}
    missing = []
    for key, leaf in standing.items():
        match = pattern.fullmatch(key)
        if match is None or leaf.form != "string" or IDENTIFIER.fullmatch(leaf.text):
            continue
        test_id = taken.get((place.parent / leaf.text).resolve())
        if test_id is None:
            missing += [] if key.startswith("order") else [leaf.text[:60]]
        elif kind == "comparison" and not key.startswith("order"):
            changes |= _member(standing, key, match, test_id)
        else:
            changes[key] = Leaf(test_id, "string")
    if kind == "comparison" and f"{compose.LINK}vehicle" not in values:
        changes |= _vehicle_of_members(connection, changes, where)
    if changes:
        entries.write(connection, subject_id, changes, by, where, why=_WHY, known=values)
    return missing


def _member(standing: Mapping[str, Leaf], key: str, match: re.Match[str], subject_id: str) -> dict[str, entries.Input]:
    """A run of a comparison as a member by its identifier, with all that its table says."""
    group, table = match[1], match[2]
    if group is not None:
        return {key: None, f"member.{subject_id}.group": Leaf(group, "string")}
    said = {name.removeprefix(f"{table}."): leaf for name, leaf in standing.items() if name.startswith(f"{table}.")}
    kept = {f"member.{subject_id}.{name}": leaf for name, leaf in said.items() if name != "file"}
    return {**{f"{table}.{name}": None for name in said}, **kept}


def _vehicle_of_members(
    connection: Connection, changes: Mapping[str, entries.Input], where: str
) -> dict[str, entries.Input]:
    """The vehicle of the first run that a comparison names: its page stands below that one."""
    runs = [key.split(".")[1] for key in changes if key.startswith("member.")][:1]
    links = compose.links_of(entries.newest(connection, runs, where)[runs[0]]) if runs else {}
    return {f"{compose.LINK}vehicle": links["vehicle"]} if "vehicle" in links else {}


def tests_named(tables: Mapping[str, Any]) -> dict[Kind, tuple[str, ...]]:
    """What a plan or a list of changes names to learn from, by kind; what did not come in stays a name."""
    found: dict[Kind, tuple[str, ...]] = {}
    for key, kind in TEST_KEYS.items():
        said = tables.get(key)
        names = said if isinstance(said, list) else [said]
        found[kind] = tuple(name for name in names if isinstance(name, str))
    return found
