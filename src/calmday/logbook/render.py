"""A subject as the files of a folder: its document as TOML, and the files that it names under names that are safe.

What was imported and not changed since leaves as it came, byte for byte, comments and all.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from pathlib import PurePosixPath
from typing import Any

import msgspec

from calmday.errors import InputError
from calmday.files.named_files import NamedDocument
from calmday.files.text_file import MEGABYTE
from calmday.logbook.attachments import plain_name
from calmday.logbook.records import KINDS, Document, File
from calmday.logbook.toml_text import toml_text

FILE_NAMES = {kind: f"{kind}.toml" for kind in KINDS}
_RESERVED = frozenset({*FILE_NAMES.values(), "history.json", "logbook.json", "files"})
_PARTS = 6
FILE_KEYS = frozenset({"track", "route", "full_load", "picture", "recording"})
"""Keys of a document whose value is the name of a file kept with it."""


class Rendered(msgspec.Struct, frozen=True, kw_only=True):
    """A subject ready to be written into a folder, or read from memory as if it were one.

    `tables` as the file will have them; `text` the file; `files` SHA-256 by the name that the document uses for it;
    `vehicle` the same for the vehicle that a run names.
    """

    document: Document
    tables: dict[str, Any]
    text: bytes
    files: dict[str, File]
    vehicle: Rendered | None = None

    @property
    def name(self) -> str:
        """The name of the file."""
        return FILE_NAMES[self.document.subject.kind]


def render(document: Document, original: bytes | None = None, vehicle: Rendered | None = None) -> Rendered:
    """The files of a document. `original` the text it was imported from; `vehicle` where it names one."""
    tables = deepcopy(document.tables)
    renamed: dict[str, str] = {}
    taken = {name.lower() for name in _RESERVED}
    if vehicle is not None:
        tables["vehicle"] = vehicle.name
        taken |= {name.lower() for name in vehicle.files}
    files: dict[str, File] = {}
    named = file_names(tables)
    for name, file in document.files.items():
        if name not in named:
            continue
        renamed[name] = _free(_safe(name), taken)
        taken.add(renamed[name].lower())
        files[renamed[name]] = file
    _rename(tables, renamed)
    text = _unchanged(original, document.tables, tables) or toml_text(tables).encode()
    return Rendered(document=document, tables=tables, text=text, files=files, vehicle=vehicle)


def _safe(name: str) -> str:
    """A relative path of plain names, whatever the name was; folders within stay where they are harmless."""
    path = PurePosixPath(name.replace("\\", "/"))
    parts = path.parts
    if path.is_absolute() or ".." in parts or not parts or len(parts) > _PARTS:
        return plain_name(name)
    safe = [plain_name(part) for part in parts]
    return "/".join(safe)


def _free(name: str, taken: set[str]) -> str:
    """The name, or with a number where something else has it already."""
    path = PurePosixPath(name)
    found, number = name, 1
    while found.lower() in taken or any(other.startswith(f"{found.lower()}/") for other in taken):
        number += 1
        found = str(path.with_name(f"{path.stem}-{number}{path.suffix}"))
    return found


def file_names(tables: Mapping[str, Any]) -> set[str]:
    """The names of the tracks and curves in a document."""
    return set(_names(tables))


def _names(value: Any, key: str = "") -> Iterator[str]:
    """The file names in a document."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for place, inner in items:
        here = str(place) if isinstance(value, dict) else key
        if isinstance(inner, str) and here in FILE_KEYS:
            yield inner
        else:
            yield from _names(inner, here)


def _rename(value: Any, renamed: Mapping[str, str], key: str = "") -> None:
    """Put the new names where the document names its files."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for place, inner in list(items):
        here = str(place) if isinstance(value, dict) else key
        if isinstance(inner, str) and here in FILE_KEYS:
            value[place] = renamed.get(inner, inner)
        elif isinstance(inner, (dict, list)):
            _rename(inner, renamed, here)


def _unchanged(original: bytes | None, before: Mapping[str, Any], after: Mapping[str, Any]) -> bytes | None:
    """The text it came as where that says the same, after file names in it have been put right; None where not."""
    if original is None:
        return None
    try:
        text = original.decode("utf-8-sig")
        for old, new in _renamed_texts(before, after):
            text = text.replace(json.dumps(old, ensure_ascii=False), json.dumps(new, ensure_ascii=False))
        same = same_tables(tomllib.loads(text), after)
    except ValueError:
        return None
    if not same:
        return None
    return original if text == original.decode("utf-8-sig") else text.encode()


def _renamed_texts(before: Any, after: Any) -> set[tuple[str, str]]:
    if isinstance(before, str) and isinstance(after, str):
        return {(before, after)} if before != after else set()
    if isinstance(before, dict) and isinstance(after, dict):
        pairs = [(before[key], after[key]) for key in before.keys() & after.keys()]
    elif isinstance(before, list) and isinstance(after, list):
        pairs = list(zip(before, after, strict=False))
    else:
        return set()
    return {found for one, other in pairs for found in _renamed_texts(one, other)}


def same_tables(one: Any, other: Any) -> bool:
    """Whether two documents say the same: types too, and a number that is none equals itself."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same_tables(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same_tables, one, other))
    return bool(one == other or (one != one and other != other))  # noqa: PLR0124  (not a number)


class RenderedFiles:
    """The files of a rendered document, read from the logbook as if they lay in a folder."""

    def __init__(self, rendered: Rendered, contents: Mapping[str, bytes], seen: dict[str, str]) -> None:
        self._rendered = rendered
        self._contents = contents
        self._seen = seen

    def data(self, entry: str, name: str, limit: int) -> bytes:
        """The bytes of an attached file."""
        file = self._rendered.files.get(entry)
        if file is None:
            raise InputError.one(name, "file", "is not attached", "attach the file, or take its name away")
        if file.size > limit:
            wrong, right = f"has {file.size / MEGABYTE:.0f} MB", f"at most {limit / MEGABYTE:.0f} MB"
            raise InputError.one(name, "file", wrong, right)
        self._seen[entry] = file.sha256
        return self._contents[file.sha256]

    def document(self, entry: str, name: str) -> NamedDocument:
        """The vehicle's document."""
        vehicle = self._rendered.vehicle
        if vehicle is None or entry != vehicle.name:
            raise InputError.one(name, "file", "is not in the logbook", "say which vehicle was driven")
        return named_document(vehicle, self._contents, self._seen)


def named_document(
    rendered: Rendered, contents: Mapping[str, bytes], seen: dict[str, str] | None = None
) -> NamedDocument:
    """A rendered document for the readers of files. `contents` the bytes of its files by SHA-256.

    `seen` takes the name and SHA-256 of every file that is read, this document's first.
    """
    noted = seen if seen is not None else {}
    noted[rendered.name] = hashlib.sha256(rendered.text).hexdigest()
    return NamedDocument(rendered.tables, RenderedFiles(rendered, contents, noted), rendered.document.moved)


def inputs_of(rendered: Rendered) -> dict[str, str]:
    """SHA-256 of every file that a reader of the run reads, by its name in the folder."""
    found = {rendered.name: hashlib.sha256(rendered.text).hexdigest()}
    for part in (rendered, rendered.vehicle):
        if part is not None:
            found |= {name: file.sha256 for name, file in part.files.items()}
    if rendered.vehicle is not None:
        found[rendered.vehicle.name] = hashlib.sha256(rendered.vehicle.text).hexdigest()
    return found
