"""Files that a document names, found wherever they are kept: in a folder, or in a logbook."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Protocol

import msgspec

from calmday.files.text_file import decoded, read_bytes
from calmday.files.toml_table import SIZE_LIMIT, parse_toml

IDENTIFIER = re.compile(r"[0-9A-Za-z]{20,40}")
"""How a logbook names what it holds."""
EXPORTED_TESTS = (("runs", "run.toml"), ("coastdowns", "coastdown.toml"), ("evidence", "evidence.toml"))
"""Where an exported logbook has the tests that a document may name to learn from."""


class NamedFiles(Protocol):
    """Where the files lie that a document names. `entry` as the document has it, `name` as faults name it."""

    def data(self, entry: str, name: str, limit: int) -> bytes:
        """The bytes of a file, at most `limit`. Raises InputError."""

    def document(self, entry: str, name: str) -> NamedDocument:
        """A TOML document, with the files that it names in turn. Raises InputError."""


class NamedDocument(msgspec.Struct, frozen=True):
    """A document as nested tables, and where the files lie that it names.

    `kept` maps the start of a dotted key of the tables to where it is really kept, for tables put together.
    """

    tables: dict[str, Any]
    files: NamedFiles
    kept: Mapping[str, str] = {}


class SeenFiles:
    """SHA-256 of every file read for a run, by name: relative to the run's folder, or alone where it lies elsewhere."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self.sha256: dict[str, str] = {}

    def add(self, path: Path, data: bytes) -> None:
        """Note a file that has been read."""
        whole = path.resolve()
        inside = whole.is_relative_to(self.folder)
        self.sha256[whole.relative_to(self.folder).as_posix() if inside else whole.name] = hashlib.sha256(
            data
        ).hexdigest()


class FolderFiles:
    """Files relative to a folder. `seen` notes what has been read."""

    def __init__(self, folder: Path, seen: SeenFiles | None = None) -> None:
        self.folder = folder
        self.seen = seen

    def data(self, entry: str, name: str, limit: int) -> bytes:
        """The bytes of a file of this folder."""
        found = read_bytes(self.folder / entry, name, limit)
        if self.seen is not None:
            self.seen.add(self.folder / entry, found)
        return found

    def document(self, entry: str, name: str) -> NamedDocument:
        """A TOML file of this folder; what it names lies relative to it."""
        text = decoded(self.data(entry, name, SIZE_LIMIT), name)
        return NamedDocument(parse_toml(text, name), FolderFiles((self.folder / entry).parent, self.seen))


class NeighbouringTests(FolderFiles):
    """Tests relative to a folder; in a folder that a logbook was exported to, also by their identifier there."""

    def document(self, entry: str, name: str) -> NamedDocument:
        """The document of a test, of this folder or of the logbook exported around it."""
        place = place_of_test(self.folder, entry)
        return super().document(entry, name) if place == self.folder / entry else super().document(str(place), name)


def place_of_test(folder: Path, entry: str) -> Path:
    """Where a test lies that a document of a folder names: by its file, or by its identifier in the logbook that the
    folder was exported with."""
    place = folder / entry
    if not IDENTIFIER.fullmatch(entry) or place.exists():
        return place
    for kept, file in EXPORTED_TESTS:
        for history in sorted((folder.resolve().parent.parent / kept).glob("*/history.json")):
            if f'"id": "{entry}"' in history.read_text(encoding="utf-8", errors="replace"):
                return history.with_name(file)
    return place


def inputs_digest(files: Iterable[tuple[str, str]]) -> str:
    """SHA-256 over name and SHA-256 of every input file, in the order of their names.

    No folder enters: the same files give the same digest wherever they lie.
    """
    digest = hashlib.sha256()
    for name, sha256 in sorted(files):
        digest.update(f"{name}\0{sha256}\n".encode())
    return digest.hexdigest()
