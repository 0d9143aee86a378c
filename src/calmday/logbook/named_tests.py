"""Tests that a document names to learn from: files in a folder, identifiers in a logbook and in what is taken out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from calmday.files.named_files import IDENTIFIER
from calmday.logbook.document import Leaf
from calmday.logbook.records import Kind

TEST_KEYS: Final[dict[str, Kind]] = {"runs": "run", "coastdowns": "coastdown", "evidence": "evidence"}
"""By the key of a document which kind of test it names there."""
LEARN: Final = frozenset[Kind]({"plan", "whatif"})
"""Kinds of documents that name tests."""


def identified(
    kind: Kind, tables: Mapping[str, Any], folder: Path, taken: Mapping[Path, str]
) -> tuple[dict[str, Leaf], list[str]]:
    """By its key the identifier of each test that a document of a folder names and that came into the logbook, and the
    names of those that did not. `taken` the identifier of what came in by where it lay."""
    found: dict[str, Leaf] = {}
    missing: list[str] = []
    if kind not in LEARN:
        return found, missing
    for key in TEST_KEYS:
        said = tables.get(key)
        for i, name in enumerate(said if isinstance(said, list) else [said]):
            if not isinstance(name, str) or IDENTIFIER.fullmatch(name):
                continue
            subject_id = taken.get((folder / name).resolve()) if "\0" not in name else None
            if subject_id is None:
                missing.append(name[:60])
            else:
                found[f"{key}[{i}]" if isinstance(said, list) else key] = Leaf(subject_id, "string")
    return found, missing


def tests_named(tables: Mapping[str, Any]) -> dict[Kind, tuple[str, ...]]:
    """What a document names to learn from, by kind; names that nobody gave an identifier stay names."""
    found: dict[Kind, tuple[str, ...]] = {}
    for key, kind in TEST_KEYS.items():
        said = tables.get(key)
        names = said if isinstance(said, list) else [said]
        found[kind] = tuple(name for name in names if isinstance(name, str))
    return found
