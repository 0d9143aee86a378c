"""A plain folder into the logbook: runs with what they name, and everything that an exported history remembers.

What is there already is recognised and not added twice; what was changed by hand in an exported folder becomes a
correction. All of a folder comes in, or nothing.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Literal

import msgspec
from sqlalchemy import Connection, select

from calmday.errors import InputError
from calmday.files.text_file import MEGABYTE, decoded, read_bytes
from calmday.files.toml_table import SIZE_LIMIT, parse_toml
from calmday.logbook import attachments, blobs, compose, entries, folder_out, history_file, stamps
from calmday.logbook.attachments import FILE
from calmday.logbook.document import Leaf, flatten
from calmday.logbook.history_file import NAME, SOURCE, History
from calmday.logbook.named_tests import name_tests
from calmday.logbook.records import OF_A_VEHICLE, File, Kind, Value
from calmday.logbook.render import FILE_NAMES, Rendered, file_names, same_tables
from calmday.logbook.schema import BLOB, SUBJECT
from calmday.records.evidence import EVIDENCE_KINDS

LARGEST_FILE = 400 * MEGABYTE
_DEEPEST, _MOST_FILES = 8, 50_000
_KIND_OF_NAME: dict[str, Kind] = {name: kind for kind, name in FILE_NAMES.items()}  # type: ignore[misc]
_CHANGED = "changed in the folder"


class Imported(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one document of a folder."""

    id: str
    kind: Kind
    name: str
    state: Literal["new", "changed", "same"]


class Import(msgspec.Struct, frozen=True, kw_only=True):
    """What came in, and what a person should know about it."""

    subjects: tuple[Imported, ...]
    remarks: tuple[str, ...] = ()


class _Found(msgspec.Struct, frozen=True, kw_only=True):
    """A document of the folder."""

    path: Path
    shown: str
    kind: Kind
    data: bytes
    tables: dict[str, Any]


def import_folder(connection: Connection, place: Path, by: str, where: str, *, inside_only: bool = False) -> Import:
    """Take in a folder with everything below it, or a single run file. Raises InputError with every fault found.

    `inside_only`: refuse files that a run names outside the folder.
    """
    return _Intake(connection, place, by, where, inside_only).all()


class _Intake:
    """One import under way."""

    def __init__(self, connection: Connection, place: Path, by: str, where: str, inside_only: bool) -> None:
        self.c = connection
        self.top = place if place.is_dir() else place.parent
        self.place = place
        self.by = by
        self.where = where
        self.inside_only = inside_only
        self.remarks: list[str] = []
        self.done: dict[str, Imported] = {}
        self.vehicles: dict[Path, str] = {}
        self.told: dict[Path, History] = {}

    def all(self) -> Import:
        found = sorted(self._documents(), key=lambda d: (d.kind in OF_A_VEHICLE, str(d.path)))
        for folder in sorted({document.path.parent for document in found}):
            self._history(folder)
        taken: dict[Path, str] = {}
        for document in found:
            subject_id = self._told_id(document)
            if subject_id is not None:
                self._compare(document, subject_id)
            elif document.kind in OF_A_VEHICLE:
                subject_id = self._test(document)
            elif document.kind != "vehicle" or not self._is_named_elsewhere(document, found):
                subject_id = self._plain(document)
            if subject_id is not None:
                taken[document.path.resolve()] = subject_id
        for document in found:
            missing = name_tests(self.c, document.kind, document.path.resolve(), taken, self.by, self.where)
            self.remarks += [f"{document.shown}: {name} was not taken in with it" for name in missing]
        if not self.done:
            raise InputError.one(
                str(self.place), "folder", "has nothing in it that the logbook keeps", "a folder with a run.toml"
            )
        return Import(subjects=tuple(self.done.values()), remarks=tuple(dict.fromkeys(self.remarks)))

    # --- finding

    def _documents(self) -> Iterator[_Found]:
        if not self.place.is_dir():
            data = read_bytes(self.place, str(self.place), SIZE_LIMIT)
            tables = parse_toml(decoded(data, str(self.place)), str(self.place))
            of = _kind(self.place, tables) or "run"
            yield _Found(path=self.place, shown=self.place.name, kind=of, data=data, tables=tables)
            return
        for path in self._toml_files():
            shown = path.relative_to(self.top).as_posix()
            try:
                data = read_bytes(path, shown, SIZE_LIMIT)
                tables = parse_toml(decoded(data, shown), shown)
            except InputError:
                if path.name.startswith(("run", *FILE_NAMES.values())):
                    raise
                self.remarks.append(f"{shown}: cannot be read as TOML, left where it is")
                continue
            kind = _kind(path, tables)
            if kind is None:
                self.remarks.append(f"{shown}: nothing that the logbook keeps, left where it is")
            else:
                yield _Found(path=path, shown=shown, kind=kind, data=data, tables=tables)

    def _toml_files(self) -> list[Path]:
        found = []
        for seen, path in enumerate(sorted(self.top.rglob("*"))):
            if seen > _MOST_FILES:
                raise InputError.one(
                    str(self.top), "folder", f"holds more than {_MOST_FILES} files", "a smaller folder"
                )
            parts = path.relative_to(self.top).parts
            hidden = any(part.startswith(".") for part in parts)
            if path.suffix == ".toml" and len(parts) <= _DEEPEST and not hidden and not self._is_kept_beside(path):
                found.append(path)
        return found

    def _is_kept_beside(self, path: Path) -> bool:
        """Whether a file of an exported folder is not its document, but something the document or history names."""
        if path.name not in _KIND_OF_NAME and (path.parent / NAME).is_file():
            return True
        above = [folder for folder in path.parent.parents if folder.is_relative_to(self.top)]
        return any((folder / NAME).is_file() for folder in above)

    # --- histories

    def _history(self, folder: Path) -> None:
        """Put in everything that a folder's history remembers."""
        path = folder / NAME
        if not path.is_file():
            return
        shown = path.relative_to(self.top).as_posix() if path.is_relative_to(self.top) else str(path)
        history = history_file.read_history(_read(path, shown), shown)
        there = self._keep_files(folder, history)
        for subject in history.subjects:
            added, missing = history_file.put(self.c, subject, there, shown)
            self.remarks += [f"{shown}: the original of {name} is not in the folder any more" for name in missing]
            self._note(subject.id, subject.kind, "new" if added else "same")
        self.told[folder] = history

    def _keep_files(self, folder: Path, history: History) -> set[str]:
        """Store the files that a history names and that lie unchanged in the folder; all that are there by now."""
        wanted = set(history.files)
        held = set(self.c.execute(select(BLOB.c.sha256).where(BLOB.c.sha256.in_(wanted))).scalars())
        for sha256 in sorted(wanted - held):
            path = history_file.inside(folder, history.files[sha256])
            if path is not None:
                data = _read(path, history.files[sha256])
                if hashlib.sha256(data).hexdigest() == sha256:
                    blobs.keep(self.c, data)
                    held.add(sha256)
        return held

    def _told_id(self, document: _Found) -> str | None:
        """The subject that a document belongs to by the history beside it."""
        history = self.told.get(document.path.parent)
        if history is None or document.path.name != FILE_NAMES[document.kind]:
            return None
        ids = [subject.id for subject in history.subjects if subject.kind == document.kind]
        return ids[0] if len(ids) == 1 else None

    # --- documents with a history

    def _compare(self, document: _Found, subject_id: str) -> None:
        """Make corrections of what was changed by hand in an exported folder."""
        rendered = folder_out.rendered_runs(self.c, [subject_id], self.where)[subject_id]
        known = entries.newest(self.c, [subject_id], self.where)[subject_id]
        changes = _corrections(rendered, document.tables)
        if document.data != rendered.text:
            changes[SOURCE] = self._source(document)
        for name in sorted(file_names(document.tables)):
            changes |= self._file_changes(document, name, rendered.files.get(name), known)
        if changes:
            entries.write(self.c, subject_id, changes, self.by, self.where, why=_CHANGED, known=known)
            self._note(subject_id, document.kind, "changed")

    def _file_changes(
        self, document: _Found, name: str, file: File | None, known: Mapping[str, Value]
    ) -> dict[str, entries.Input]:
        """A file of the document that is not the one the logbook holds."""
        path = self._beside(document, name)
        if path is None:
            return {}
        data = _read(path, name)
        sha256 = hashlib.sha256(data).hexdigest()
        if file is not None and file.sha256 == sha256:
            return {}
        old = {FILE + file.id: None} if file is not None else {}
        return {**old, **self._new_file(name, _role(document.tables, name), data, max(known, default=""))}

    # --- documents without a history

    def _test(self, document: _Found) -> str:
        """A run or another test as a person keeps it: the file, what it names, the vehicle it names."""
        vehicle_id = self._vehicle_of(document)
        known = self._known(document)
        if known is not None:
            return known
        subject_id = self._create(document)
        if vehicle_id is not None:
            entries.own(self.c, subject_id, f"{compose.LINK}vehicle", vehicle_id, self.by, self.where)
        return subject_id

    def _vehicle_of(self, document: _Found) -> str | None:
        entry = document.tables.get("vehicle")
        if not isinstance(entry, str):
            return None
        path = self._beside(document, entry)
        if path is None:
            return None
        whole = path.resolve()
        if whole not in self.vehicles:
            data = read_bytes(path, entry, SIZE_LIMIT)
            tables = parse_toml(decoded(data, entry), entry)
            self.vehicles[whole] = self._plain(_Found(path=path, shown=entry, kind="vehicle", data=data, tables=tables))
        return self.vehicles[whole]

    def _is_named_elsewhere(self, vehicle: _Found, found: list[_Found]) -> bool:
        """Whether a run of this folder will bring the vehicle in, or the copy beside an exported run."""
        whole = vehicle.path.resolve()
        if vehicle.path.parent in self.told:
            return True
        named = ((d, d.tables.get("vehicle")) for d in found if d.kind in OF_A_VEHICLE)
        return any(isinstance(entry, str) and (d.path.parent / entry).resolve() == whole for d, entry in named)

    def _plain(self, document: _Found) -> str:
        """A document of its own: the one the logbook has that says the same, else a new one."""
        return self._known(document) or self._create(document)

    def _known(self, document: _Found) -> str | None:
        """What the logbook has that says the same."""
        for subject_id in self._same_source(document):
            self._note(subject_id, document.kind, "same")
            return subject_id
        return None

    def _same_source(self, document: _Found) -> list[str]:
        """Subjects imported from the same text with the same files."""
        sha256 = hashlib.sha256(document.data).hexdigest()
        texts = entries.texts(self.c, [SOURCE])
        ids = [i for i, found in sorted(texts.items()) if json.loads(found[SOURCE])["sha256"] == sha256]
        if not ids:
            return []
        here = {}
        for name in file_names(document.tables):
            path = self._beside(document, name)
            if path is not None:
                here[name] = hashlib.sha256(_read(path, name)).hexdigest()
        documents = compose.documents(self.c, ids, self.where)
        ids = [i for i in ids if documents[i].subject.kind == document.kind]
        return [i for i in ids if {n: f.sha256 for n, f in documents[i].files.items() if f.name in here} == here]

    def _create(self, document: _Found) -> str:
        subject_id = stamps.new_id(stamps.now())
        self.c.execute(SUBJECT.insert().values(id=subject_id, kind=document.kind))
        changes: dict[str, entries.Input] = {SOURCE: self._source(document), **flatten(document.tables)}
        last = ""
        for name in sorted(file_names(document.tables)):
            path = self._beside(document, name)
            if path is None:
                continue
            new = self._new_file(name, _role(document.tables, name), _read(path, name), last)
            last = next(iter(new))
            changes |= new
        entries.write(self.c, subject_id, changes, self.by, self.where, why="imported", known={})
        self._note(subject_id, document.kind, "new")
        return subject_id

    # --- files

    def _new_file(self, name: str, role: str, data: bytes, last: str) -> dict[str, entries.Input]:
        """The entry for a file under the name that the document uses."""
        after = last.removeprefix(FILE) if last.startswith(FILE) else ""
        file = File(
            id=stamps.new_id(stamps.now(), after), role=role, name=name, sha256=blobs.keep(self.c, data), size=len(data)
        )
        return {FILE + file.id: attachments.described(file)}

    def _source(self, document: _Found) -> str:
        return json.dumps({"name": document.path.name, "sha256": blobs.keep(self.c, document.data)})

    def _beside(self, document: _Found, name: str) -> Path | None:
        """Where a file lies that a document names; None, with a remark, where it cannot be had."""
        try:
            path = document.path.parent / name
            if self.inside_only and not path.resolve().is_relative_to(self.top.resolve()):
                self.remarks.append(f"{document.shown}: {name} lies outside the folder and was not taken in")
            elif not path.is_file():
                self.remarks.append(f"{document.shown}: {name} is not there")
            else:
                return path
        except (OSError, ValueError):
            self.remarks.append(f"{document.shown}: {name[:60]} is not a file name")
        return None

    def _note(self, subject_id: str, kind: Kind, state: Literal["new", "changed", "same"]) -> None:
        before = self.done.get(subject_id)
        if before is not None and before.state == "new":
            state = "new"
        name = compose.subjects(self.c, kind, ids=[subject_id])[0].name
        self.done[subject_id] = Imported(id=subject_id, kind=kind, name=name, state=state)


def _kind(path: Path, tables: Mapping[str, Any]) -> Kind | None:
    """What a document is about, by its name and by what it says."""
    if path.name in _KIND_OF_NAME:
        return _KIND_OF_NAME[path.name]
    if isinstance(tables.get("vehicle"), dict):
        return "vehicle"
    if "weighing" in tables or "fill" in tables or path.name.startswith("run"):
        return "run"
    if isinstance(tables.get("pass"), list):
        return "coastdown"
    if tables.get("kind") in EVIDENCE_KINDS:
        return "evidence"
    return None


def _corrections(rendered: Rendered, tables: Mapping[str, Any]) -> dict[str, entries.Input]:
    """What a changed document says otherwise, by the keys under which the logbook keeps it."""
    if same_tables(rendered.tables, dict(tables)):
        return {}
    before, after = flatten(rendered.tables), flatten(tables)
    wanted: dict[str, entries.Input] = dict.fromkeys(before.keys() - after.keys())
    wanted |= {key: leaf for key, leaf in after.items() if before.get(key) != leaf}
    return {_kept(key, rendered.document.moved): value for key, value in wanted.items()}


def _kept(key: str, moved: Mapping[str, str]) -> str:
    for start in sorted(moved, key=len, reverse=True):
        if key == start or key.startswith((f"{start}.", f"{start}[")):
            return moved[start] + key[len(start) :]
    return key


def _role(tables: Mapping[str, Any], name: str) -> str:
    """What a file is to the document that names it."""
    places = [key for key, leaf in flatten(tables).items() if leaf == Leaf(name, "string")]
    named = [key for key in places if attachments.names_a_file(key)]
    if any(key.startswith("track") for key in named):
        return "track"
    return "full_load" if "engine.full_load" in named or not named else attachments.role_of_key(named[0])


def _read(path: Path, shown: str) -> bytes:
    """The bytes of a file of any kind."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise InputError.one(shown, "file", "is too large", f"at most {LARGEST_FILE // MEGABYTE} MB")
        return path.read_bytes()
    except OSError as e:
        raise InputError.one(shown, "file", f"cannot be read ({e.strerror})", "a readable file") from None
