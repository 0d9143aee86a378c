"""Entries: writing them, reading the newest of each key, reading all of them. Nothing here changes a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, func, select, text

from calmday.errors import InputError
from calmday.logbook import stamps
from calmday.logbook.document import Leaf, leaf_of
from calmday.logbook.errors import DamagedLogbookError
from calmday.logbook.keys import is_own, parts_of
from calmday.logbook.records import Entry, Kind, Saved, Value
from calmday.logbook.schema import ENTRY, GUESS, RESULT, SUBJECT

Input = Leaf | str | bool | int | float | dt.date | dt.time | None
"""A value to write: a person's text, a leaf or a plain value with its type, None to clear."""

COLUMNS = (
    ENTRY.c.subject_id,
    ENTRY.c.key,
    ENTRY.c.id,
    ENTRY.c.value,
    ENTRY.c.form,
    ENTRY.c.at,
    ENTRY.c.by,
    ENTRY.c.why,
    ENTRY.c.device,
    ENTRY.c.row_hash,
)
_AT_ONCE = 500


def kind_of(connection: Connection, subject_id: str, where: str) -> Kind:
    """The kind of a subject. Raises InputError where there is none of this identifier."""
    kind: Kind | None = connection.execute(select(SUBJECT.c.kind).where(SUBJECT.c.id == subject_id)).scalar()
    if kind is None:
        raise InputError.one(where, subject_id[:40], "is not in this logbook", "something that is listed there")
    return kind


def require(connection: Connection, kind: str, subject_id: str, where: str) -> None:
    """Raise InputError unless the subject is there and of this kind."""
    found = kind_of(connection, subject_id, where)
    if found != kind:
        wanted = f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"
        raise InputError.one(where, subject_id[:40], f"is a {found}, not {wanted}", f"{wanted} of this logbook")


def newest(connection: Connection, ids: Sequence[str], where: str, at: str = "") -> dict[str, dict[str, Value]]:
    """The newest entry of every key, cleared ones too, by subject; as of a time where one is given. One query."""
    inner = select(ENTRY.c.subject_id, ENTRY.c.key, func.max(ENTRY.c.id).label("id")).where(ENTRY.c.subject_id.in_(ids))
    if at:
        inner = inner.where(ENTRY.c.at <= at)
    last = inner.group_by(ENTRY.c.subject_id, ENTRY.c.key).subquery()
    query = select(*COLUMNS).join(last, ENTRY.c.id == last.c.id).order_by(ENTRY.c.id)
    found: dict[str, dict[str, Value]] = {subject_id: {} for subject_id in ids}
    for row in connection.execute(query):
        found[row.subject_id][row.key] = _value(row, where)
    return found


def texts(connection: Connection, keys: Iterable[str], ids: Sequence[str] | None = None) -> dict[str, dict[str, str]]:
    """The newest text of a few keys of every subject, or of those named. One query.

    Subjects without any of the keys are not in the answer.
    """
    inner = select(func.max(ENTRY.c.id).label("id")).where(ENTRY.c.key.in_(list(keys)))
    if ids is not None:
        inner = inner.where(ENTRY.c.subject_id.in_(ids))
    last = inner.group_by(ENTRY.c.key, ENTRY.c.subject_id).subquery()
    query = select(ENTRY.c.subject_id, ENTRY.c.key, ENTRY.c.value).join(last, ENTRY.c.id == last.c.id)
    found: dict[str, dict[str, str]] = {}
    for subject_id, key, value in connection.execute(query):
        if value is not None:
            found.setdefault(subject_id, {})[key] = value
    return found


def history(connection: Connection, subject_id: str, where: str, key: str | None = None) -> tuple[Entry, ...]:
    """Every entry of a subject, or of one of its keys, oldest first."""
    query = select(*COLUMNS).where(ENTRY.c.subject_id == subject_id).order_by(ENTRY.c.id)
    if key is not None:
        query = query.where(ENTRY.c.key == key)
    found = []
    for row in connection.execute(query):
        value = _value(row, where)
        found.append(Entry(key=row.key, **{name: getattr(value, name) for name in value.__struct_fields__}))
    return tuple(found)


def write(
    connection: Connection,
    subject_id: str,
    changes: Mapping[str, Input],
    by: str,
    where: str,
    *,
    device: str = "",
    why: str = "",
    known: Mapping[str, Value] | None = None,
) -> Saved:
    """Add an entry for every change that differs from what stands, and clear what it excludes.

    `known` the newest values where the caller has read them in this transaction.
    """
    standing = known if known is not None else newest(connection, [subject_id], where)[subject_id]
    wanted = {key: _leaf(value) for key, value in changes.items()}
    pending: dict[str, Leaf | None] = {}
    for key, leaf in wanted.items():
        if leaf is not None and not is_own(key):
            pending |= dict.fromkeys(_excluded(key, standing, wanted), None)
        held = standing.get(key)
        if (None if held is None or held.text is None else Leaf(held.text, held.form)) != leaf:
            pending[key] = leaf
    when = stamps.now()
    last = max((value.id for value in standing.values()), default="")
    rows = []
    for key, leaf in pending.items():
        last = stamps.new_id(when, last)
        rows.append(
            row_of(
                subject_id,
                Entry(
                    id=last,
                    key=key,
                    text=leaf.text if leaf else None,
                    form=leaf.form if leaf else "typed",
                    at=stamps.written(when),
                    by=writable(by),
                    why=writable(why),
                    device=writable(device),
                ),
            )
        )
    insert(connection, rows)
    return Saved(at=stamps.written(when), ids=tuple(str(row["id"]) for row in rows))


def insert(connection: Connection, rows: Sequence[Mapping[str, object]]) -> None:
    """Add rows of `row_of`."""
    for start in range(0, len(rows), _AT_ONCE):
        connection.execute(ENTRY.insert(), [dict(row) for row in rows[start : start + _AT_ONCE]])


def row_of(subject_id: str, entry: Entry) -> dict[str, object]:
    """An entry as its row, with the hash that tells damage."""
    return {
        "id": entry.id,
        "subject_id": subject_id,
        "key": entry.key,
        "value": entry.text,
        "form": entry.form,
        "at": entry.at,
        "by": entry.by,
        "why": entry.why,
        "device": entry.device,
        "row_hash": stamps.row_hash(
            entry.id, subject_id, entry.key, entry.text, entry.form, entry.at, entry.by, entry.why, entry.device
        ),
    }


def own(
    connection: Connection, subject_id: str, key: str, text: str | None, by: str, where: str, why: str = ""
) -> Saved:
    """Write one of the logbook's own keys."""
    return write(connection, subject_id, {key: text}, by, where, why=why)


def checked_key(key: str) -> str:
    """The key of a field of a document. Raises InputError for one of the logbook's own, or none at all."""
    parts_of(key)
    return key


def _excluded(key: str, standing: Mapping[str, Value], wanted: Mapping[str, Leaf | None]) -> list[str]:
    """Keys that cannot stand beside this one: a value above it, values below it."""
    return [
        other
        for other, value in standing.items()
        if value.text is not None
        and other != key
        and not is_own(other)
        and wanted.get(other) is None
        and (_is_within(key, other) or _is_within(other, key))
    ]


def _is_within(key: str, outer: str) -> bool:
    return key.startswith((f"{outer}.", f"{outer}["))


def _leaf(value: Input) -> Leaf | None:
    match value:
        case None | "":
            return None
        case Leaf():
            return value
        case str():
            return Leaf(writable(value)) if writable(value) else None
        case _:
            return leaf_of(value)


def writable(text: str) -> str:
    """The text as every database can keep it: without NUL, and without halves of characters."""
    return text.replace("\0", "").encode("utf-8", "replace").decode()


def _value(row: Any, where: str) -> Value:
    expected = stamps.row_hash(
        row.id, row.subject_id, row.key, row.value, row.form, row.at, row.by, row.why, row.device
    )
    if row.row_hash != expected:
        raise DamagedLogbookError(where, f"an entry of {row.at[:16]} is not what was written")
    return Value(id=row.id, text=row.value, form=row.form, at=row.at, by=row.by, why=row.why, device=row.device)


def mark(connection: Connection) -> str:
    """How much has been written so far: rows are only ever added."""
    counted = text("max(rowid)") if connection.dialect.name == "sqlite" else func.count()
    parts = (select(counted).select_from(table).scalar_subquery() for table in (ENTRY, GUESS, RESULT))
    return "-".join(str(part or 0) for part in connection.execute(select(*parts)).one())
