"""From entries to documents: what stands about a subject, and what a run takes from the things it points to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, exists, select

from calmday.errors import InputError
from calmday.logbook import entries, states
from calmday.logbook.attachments import files_of
from calmday.logbook.document import Leaf, Nested, nest
from calmday.logbook.keys import is_own
from calmday.logbook.records import NAME_KEYS, OF_A_VEHICLE, Document, File, Kind, Subject, Value
from calmday.logbook.schema import ENTRY, SUBJECT

LINK = "@link."
VEHICLE_FILE = "vehicle.toml"

GIVES = {
    "scale": ("scale",),
    "odometer": ("odometer.factor",),
    "fuel": ("fuel",),
    "route": ("lap_length", "terrain"),
}
"""What a run takes from the things it points to, where it does not say it itself."""


def subjects(
    connection: Connection, kind: Kind, keys: Sequence[str] = (), ids: Sequence[str] | None = None
) -> tuple[Subject, ...]:
    """Subjects of a kind, oldest first, with the texts of a few keys. Two queries, whatever their number."""
    query = select(SUBJECT.c.id).where(SUBJECT.c.kind == kind).order_by(SUBJECT.c.id)
    if ids is not None:
        query = query.where(SUBJECT.c.id.in_(ids))
    name = NAME_KEYS[kind]
    found = entries.texts(connection, {name, "@void", f"{LINK}vehicle", *keys}, ids)
    return tuple(
        Subject(
            id=subject_id,
            kind=kind,
            name=(texts := found.get(subject_id, {})).get(name, ""),
            parent=texts.get(f"{LINK}vehicle", ""),
            void=texts.get("@void", ""),
            values={key: texts[key] for key in keys if key in texts},
        )
        for subject_id in connection.execute(query).scalars()
    )


def newest_runs(connection: Connection, parent: str | None, count: int, before: str = "") -> list[str]:
    """The runs begun last, of one vehicle where `parent` names it, from `before` on back; oldest first. One query."""
    if parent is None:
        query = select(SUBJECT.c.id).where(SUBJECT.c.kind == "run").order_by(SUBJECT.c.id.desc())
        own = SUBJECT.c.id
    else:
        newer = ENTRY.alias()
        query = (
            select(ENTRY.c.subject_id)
            .join(SUBJECT, SUBJECT.c.id == ENTRY.c.subject_id)
            .where(ENTRY.c.key == f"{LINK}vehicle", ENTRY.c.value == parent, SUBJECT.c.kind == "run")
            .where(
                ~exists().where(
                    newer.c.key == ENTRY.c.key, newer.c.subject_id == ENTRY.c.subject_id, newer.c.id > ENTRY.c.id
                )
            )
            .order_by(ENTRY.c.subject_id.desc())
        )
        own = ENTRY.c.subject_id
    if before:
        query = query.where(own < before)
    return list(reversed(connection.execute(query.limit(count)).scalars().all()))


def links_of(values: Mapping[str, Value]) -> dict[str, str]:
    """What a subject points to: identifiers by role."""
    return {
        key.removeprefix(LINK): value.text
        for key, value in values.items()
        if key.startswith(LINK) and value.text is not None
    }


def own_tables(connection: Connection, subject_id: str, where: str) -> Nested:
    """What was written about a subject alone."""
    values = entries.newest(connection, [subject_id], where)[subject_id]
    return nest(leaves_of(values), stamps_of(values))


def leaves_of(values: Mapping[str, Value]) -> dict[str, Leaf]:
    """The fields that stand."""
    return {
        key: Leaf(value.text, value.form) for key, value in values.items() if value.text is not None and not is_own(key)
    }


def stamps_of(values: Mapping[str, Value]) -> dict[str, str]:
    """Which entry each field comes from."""
    return {key: value.id for key, value in values.items()}


def documents(connection: Connection, ids: Sequence[str], where: str) -> dict[str, Document]:
    """Documents by identifier, with what their links add. Four queries, whatever their number."""
    kinds = _kinds(connection, ids)
    for subject_id in ids:
        if subject_id not in kinds:
            raise InputError.one(where, subject_id[:40], "is not in this logbook", "something that is listed there")
    values = entries.newest(connection, list(dict.fromkeys(ids)), where)
    linked = {target for found in values.values() for target in links_of(found).values()} - values.keys()
    if linked:
        there = _kinds(connection, sorted(linked))
        kinds |= there
        values |= entries.newest(connection, sorted(there), where)
    return {subject_id: _document(subject_id, kinds, values) for subject_id in ids}


def _kinds(connection: Connection, ids: Sequence[str]) -> dict[str, Kind]:
    query = select(SUBJECT.c.id, SUBJECT.c.kind).where(SUBJECT.c.id.in_(ids))
    return {row.id: row.kind for row in connection.execute(query)}


def _document(subject_id: str, kinds: Mapping[str, Kind], values: Mapping[str, dict[str, Value]]) -> Document:
    own = values[subject_id]
    leaves = leaves_of(own)
    links = links_of(own)
    notes: list[str] = []
    vehicle = None
    if kinds[subject_id] in OF_A_VEHICLE:
        if links.get("vehicle") in values:
            vehicle = _document(links["vehicle"], kinds, values)
            leaves.setdefault("vehicle", Leaf(VEHICLE_FILE, "string"))
        for role, starts in GIVES.items():
            target = links.get(role)
            if target is None or target not in values:
                continue
            given = leaves_of(values[target])
            reason = _not_valid(role, given, leaves, vehicle)
            if reason:
                notes.append(f"{_name(kinds[target], values[target])}: {reason}")
                continue
            leaves |= {
                key: leaf
                for key, leaf in given.items()
                if _starts(key, starts) and not any(_same_place(key, other) for other in leaves)
            }
    nested = nest(leaves, stamps_of(own))
    return Document(
        subject=_subject(subject_id, kinds[subject_id], own),
        tables=nested.tables,
        moved=nested.moved,
        files=_named_files(own),
        vehicle=vehicle,
        notes=tuple(notes),
    )


def _named_files(values: Mapping[str, Value]) -> dict[str, File]:
    return {file.name: file for file in files_of(values)}


def _subject(subject_id: str, kind: Kind, values: Mapping[str, Value]) -> Subject:
    void = values.get("@void")
    return Subject(
        id=subject_id,
        kind=kind,
        name=_name(kind, values),
        parent=links_of(values).get("vehicle", ""),
        void=(void.text or "") if void is not None else "",
    )


def _name(kind: Kind, values: Mapping[str, Value]) -> str:
    named = values.get(NAME_KEYS[kind])
    return (named.text or "") if named is not None else ""


def _starts(key: str, starts: Sequence[str]) -> bool:
    return any(key == start or key.startswith((f"{start}.", f"{start}[")) for start in starts)


def _same_place(key: str, other: str) -> bool:
    return _starts(key, [other]) or _starts(other, [key])


def _not_valid(role: str, given: Mapping[str, Leaf], run: Mapping[str, Leaf], vehicle: Document | None) -> str:
    """Why what a thing says does not hold for this run; "" where it does."""
    if role != "odometer" or vehicle is None:
        return ""
    found = _plain_date(given)
    driven = _plain_date(run)
    if found is None or driven is None:
        return ""
    change = states.ended_by(states.build_states(vehicle.tables), found, driven)
    if change is None:
        return ""
    what = ", ".join(change.what) or "tyres or axle changed"
    return f"its factor of {found} is left out: {what} on {change.since}, and it belongs to what was fitted then"


def _plain_date(leaves: Mapping[str, Leaf]) -> Any:
    leaf = leaves.get("date")
    return states.date_of(leaf.text) if leaf is not None else None
