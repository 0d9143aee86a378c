"""Files attached to a subject: the bytes once, and an entry that says what they are to it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from sqlalchemy import Connection

from calmday.errors import InputError
from calmday.logbook import blobs, entries, stamps
from calmday.logbook.document import Leaf
from calmday.logbook.keys import parts_of
from calmday.logbook.records import File, Saved, Value

FILE = "@file."
LONGEST_NAME = 120
_ROLE = re.compile(r"[A-Za-z0-9_.\[\] -]{1,100}")
_LISTED = re.compile(r"(track|route)(?:\[(\d+)\])?")
"""Where a run names its tracks and a plan its route: one name, or a list of them."""

_PLACED = re.compile(r"(pull|pass)\[(\d+)\]\.(track|time)(?:\[\d+\])?")
"""Where the tables of a day of pulls or coastdowns name a recording, or times taken by hand instead."""
_UNWANTED = re.compile(r'[\x00-\x1f\x7f<>:"|?*\\/]')


def files_of(values: Mapping[str, Value]) -> tuple[File, ...]:
    """The files in use among a subject's newest entries, in the order attached."""
    found = []
    for key, value in values.items():
        if key.startswith(FILE) and value.text is not None:
            described = json.loads(value.text)
            found.append(
                File(
                    id=key.removeprefix(FILE),
                    role=described["role"],
                    name=described["name"],
                    sha256=described["sha256"],
                    size=described["size"],
                    at=value.at,
                    by=value.by,
                )
            )
    return tuple(sorted(found, key=lambda file: file.id))


def attach(
    connection: Connection,
    subject_id: str,
    role: str,
    name: str,
    data: bytes,
    by: str,
    where: str,
    *,
    device: str = "",
    why: str = "",
) -> File:
    """Keep a file with a subject, and name it in the document where its role has a place there."""
    if not _ROLE.fullmatch(role):
        raise InputError.one(where, role[:40] or "role", "is not what a file is for", "track, full_load, photograph")
    if not data:
        raise InputError.one(where, plain_name(name), "is empty", "a file with something in it")
    known = entries.newest(connection, [subject_id], where)[subject_id]
    there = files_of(known)
    sha256 = blobs.keep(connection, data)
    for file in there:
        if file.role == role and file.sha256 == sha256:
            return file
    file = File(
        id=stamps.new_id(stamps.now(), there[-1].id if there else ""),
        role=role,
        name=_free_name(plain_name(name), {file.name for file in there}),
        sha256=sha256,
        size=len(data),
    )
    changes: dict[str, entries.Input] = {FILE + file.id: described(file), **_named_in_document(file, known)}
    saved = entries.write(connection, subject_id, changes, by, where, device=device, why=why, known=known)
    return File(id=file.id, role=role, name=file.name, sha256=sha256, size=file.size, at=saved.at, by=by)


def described(file: File) -> str:
    """What an entry says of a file."""
    return json.dumps(
        {"name": file.name, "role": file.role, "sha256": file.sha256, "size": file.size}, ensure_ascii=False
    )


def detach(connection: Connection, subject_id: str, file_id: str, by: str, where: str, why: str = "") -> Saved:
    """Take a file out of use, and its name out of the document."""
    known = entries.newest(connection, [subject_id], where)[subject_id]
    file = next((file for file in files_of(known) if file.id == file_id), None)
    if file is None:
        raise InputError.one(where, file_id[:40], "is not attached", "a file that is listed there")
    changes: dict[str, entries.Input] = {FILE + file_id: None}
    for key, value in known.items():
        if value.text == file.name and names_a_file(key):
            changes[key] = None
    return entries.write(connection, subject_id, changes, by, where, why=why, known=known)


def names_a_file(key: str) -> bool:
    """Whether the value at a key of a document is the name of a file kept with it."""
    if (placed := _PLACED.fullmatch(key)) is not None:
        return placed[3] == "track"
    return (
        _LISTED.fullmatch(key) is not None or key in ("full_load", "picture", "recording") or key.endswith(".full_load")
    )


def plain_name(name: str) -> str:
    """A file's own name, without folders and without characters that some system refuses."""
    last = re.split(r"[/\\]", name)[-1]
    cleaned = _UNWANTED.sub("_", "".join(c if c.isprintable() else "_" for c in last)).strip(" .")
    stem, dot, end = cleaned.rpartition(".")
    if dot and stem and len(end) <= 10:
        return f"{stem[: LONGEST_NAME - len(end) - 1]}.{end}"
    return cleaned[:LONGEST_NAME] or "file"


def _named_in_document(file: File, known: Mapping[str, Value]) -> dict[str, entries.Input]:
    """The fields that name this file."""
    name = Leaf(file.name, "string")
    if (listed := file.role) in ("track", "route"):
        places = [
            int(found[2] or 0)
            for key in known
            if (found := _LISTED.fullmatch(key)) and found[1] == listed and known[key].text
        ]
        single = known.get(listed)
        first: dict[str, entries.Input] = {}
        if single is not None and single.text and single.form in ("typed", "string"):
            first = {listed: None, f"{listed}[0]": Leaf(single.text, "string")}
        return {**first, f"{listed}[{max(places, default=-1) + 1}]": name}
    if file.role == "full_load":
        return {"engine.full_load": name}
    if file.role in ("picture", "recording"):
        return {file.role: name}
    if file.role in ("pull", "pass"):
        return {f"{file.role}[{_next_place(file.role, known)}].track": name}
    if file.role.endswith(".full_load"):
        parts_of(file.role)
        return {file.role: name}
    return {}


def role_of_key(key: str) -> str:
    """What a file is that a document names at this key."""
    placed = _PLACED.fullmatch(key)
    return placed[1] if placed is not None else key


def _next_place(table: str, known: Mapping[str, Value]) -> int:
    """The first table of a list that has neither a recording nor times."""
    taken = {
        int(found[2]) for key in known if known[key].text and (found := _PLACED.fullmatch(key)) and found[1] == table
    }
    return next(place for place in range(len(taken) + 1) if place not in taken)


def _free_name(name: str, taken: set[str]) -> str:
    """The name, or with a number where it is taken: another file of the same name is another file."""
    lowered = {other.lower() for other in taken}
    stem, dot, end = name.rpartition(".")
    if not dot:
        stem, end = name, ""
    found, number = name, 1
    while found.lower() in lowered:
        number += 1
        found = f"{stem}-{number}{dot}{end}"
    return found
