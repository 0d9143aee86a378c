"""`history.json` of an exported folder: read as from a stranger, and put into a logbook where it is not yet."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import Connection, select

from calmday.errors import InputError
from calmday.logbook import entries, guesses, results, stamps
from calmday.logbook.attachments import FILE
from calmday.logbook.document import FORMS
from calmday.logbook.keys import OWN, parts_of
from calmday.logbook.records import Entry, Kind
from calmday.logbook.schema import ENTRY, GUESS, RESULT, SUBJECT

SCHEMA = "calmday/history/1"
NAME = "history.json"
SOURCE = "@source"
_AT_ONCE = 500


class ToldResult(msgspec.Struct, frozen=True, kw_only=True):
    """A result as the history tells it; `along` in base 64."""

    id: str
    inputs_sha256: str
    version: str
    seed: int
    draws: int
    summary: dict[str, Any]
    content: str
    along: str = ""


class ToldGuess(msgspec.Struct, frozen=True, kw_only=True):
    """A guess as the history tells it."""

    id: str
    by: str
    text: str
    salt: str
    digest: str


class ToldSubject(msgspec.Struct, frozen=True, kw_only=True):
    """A subject as the history tells it."""

    id: str
    kind: Kind
    entries: tuple[Entry, ...]
    guesses: tuple[ToldGuess, ...] = ()
    results: tuple[ToldResult, ...] = ()


class History(msgspec.Struct, frozen=True, kw_only=True):
    """The history of some subjects, and where their files lie in the folder, by SHA-256."""

    schema: str
    files: dict[str, str]
    subjects: tuple[ToldSubject, ...]


def read_history(data: bytes, file: str) -> History:
    """The history in a file's bytes. Raises InputError where it is none, or says what cannot be."""
    try:
        history = msgspec.json.decode(data, type=History)
    except (msgspec.DecodeError, RecursionError) as e:
        raise InputError.one(file, "file", f"is no history ({e})", "the file as calmday export wrote it") from None
    if history.schema != SCHEMA:
        wrong = f"{history.schema[:40]!r} is not a form this program knows"
        raise InputError.one(file, "schema", wrong, f"{SCHEMA}; a newer calmday may have written it")
    for subject in history.subjects:
        for wrong in _faults(subject):
            raise InputError.one(file, subject.id[:40], wrong, "the file as calmday export wrote it")
    return history


def _faults(subject: ToldSubject) -> Iterator[str]:
    parts = (subject.entries, subject.guesses, subject.results)
    for identifier in (subject.id, *(told.id for part in parts for told in part)):
        if not stamps.is_id(identifier):
            yield f"{identifier[:40]!r} is not an identifier"
    for entry in subject.entries:
        if entry.form not in FORMS or not _is_key(entry.key):
            yield f"{entry.key[:40]!r} is not an entry"
        texts = (entry.text or "", entry.key, entry.at, entry.by, entry.why, entry.device)
        if any("\0" in text for text in texts):
            yield f"{entry.key[:40]!r} has characters that are no text"
        if entry.text is not None and entry.key.startswith((FILE, SOURCE)) and file_of(entry) is None:
            yield f"{entry.key[:40]!r} does not describe a file"
    for result in subject.results:
        try:
            base64.b64decode(result.along, validate=True)
        except (binascii.Error, ValueError):
            yield f"the result {result.id} is cut off"


def _is_key(key: str) -> bool:
    if key.startswith(OWN):
        return key.isprintable() and len(key) < 100
    try:
        parts_of(key)
    except InputError:
        return False
    return True


def file_of(entry: Entry) -> tuple[str, str] | None:
    """SHA-256 and name of the file that an entry describes; None where it describes none."""
    try:
        described = json.loads(entry.text or "null")
        sha256, name = described["sha256"], described["name"]
        well = isinstance(name, str) and len(sha256) == 64 and set(sha256) <= set("0123456789abcdef")
        if entry.key.startswith(FILE):
            well = well and isinstance(described["role"], str) and isinstance(described["size"], int)
    except (ValueError, KeyError, TypeError):
        return None
    return (sha256, name) if well else None


def put(connection: Connection, subject: ToldSubject, there: set[str], file: str) -> tuple[bool, tuple[str, ...]]:
    """Add what the logbook does not hold yet. Whether anything was added, and the files that are missing.

    `there` SHA-256 of the files that the logbook holds: an entry about another one is left out.
    """
    known = connection.execute(select(SUBJECT.c.kind).where(SUBJECT.c.id == subject.id)).scalar()
    if known is None:
        connection.execute(SUBJECT.insert().values(id=subject.id, kind=subject.kind))
    elif known != subject.kind:
        raise InputError.one(file, subject.id, f"is a {known} in this logbook", f"not a {subject.kind}")
    rows, missing = [], []
    for entry in subject.entries:
        described = file_of(entry) if entry.key.startswith((FILE, SOURCE)) and entry.text is not None else None
        if described is not None and described[0] not in there:
            missing.append(described[1])
        else:
            rows.append(entries.row_of(subject.id, entry))
    held = _held(connection, [str(row["id"]) for row in rows])
    for row in rows:
        if held.get(str(row["id"]), row["row_hash"]) != row["row_hash"]:
            wrong = "is not the entry that this logbook holds under its identifier"
            raise InputError.one(file, str(row["id"]), wrong, "the file as calmday export wrote it")
    new = [row for row in rows if row["id"] not in held]
    entries.insert(connection, new)
    added = _put_guesses(connection, subject) + _put_results(connection, subject)
    return bool(new or added or known is None), tuple(missing)


def _held(connection: Connection, ids: Sequence[str]) -> Mapping[str, str]:
    """The hashes of the entries that the logbook holds already."""
    found: dict[str, str] = {}
    for start in range(0, len(ids), _AT_ONCE):
        query = select(ENTRY.c.id, ENTRY.c.row_hash).where(ENTRY.c.id.in_(ids[start : start + _AT_ONCE]))
        found |= {row.id: row.row_hash for row in connection.execute(query)}
    return found


def _put_guesses(connection: Connection, subject: ToldSubject) -> int:
    ids = [guess.id for guess in subject.guesses]
    held = set(connection.execute(select(GUESS.c.id).where(GUESS.c.id.in_(ids))).scalars()) if ids else set()
    new = [guess for guess in subject.guesses if guess.id not in held]
    for guess in new:
        guesses.insert(connection, subject.id, msgspec.structs.asdict(guess))
    return len(new)


def _put_results(connection: Connection, subject: ToldSubject) -> int:
    ids = [result.id for result in subject.results]
    held = set(connection.execute(select(RESULT.c.id).where(RESULT.c.id.in_(ids))).scalars()) if ids else set()
    new = [result for result in subject.results if result.id not in held]
    for result in new:
        results.add(
            connection,
            subject.id,
            inputs_sha256=result.inputs_sha256,
            version=result.version,
            seed=result.seed,
            draws=result.draws,
            summary=result.summary,
            content=result.content.encode(),
            along=base64.b64decode(result.along),
            identifier=result.id,
        )
    return len(new)


def inside(folder: Path, name: str) -> Path | None:
    """The path of a file that a history names; None where that leads out of the folder."""
    try:
        path = (folder / name).resolve()
        return path if path.is_relative_to(folder.resolve()) and path.is_file() else None
    except (OSError, ValueError):
        return None
