"""A run, or the whole logbook, as a plain folder: TOML, tracks and curves as the command reads them, and a
`history.json` beside them with every entry, guess and result, so that nothing is lost on the way."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection

from calmday.logbook import blobs, compose, entries, guesses, results, states
from calmday.logbook.attachments import FILE, plain_name
from calmday.logbook.history_file import NAME, SCHEMA, SOURCE
from calmday.logbook.home_end import cut_home_end
from calmday.logbook.records import KINDS, Document
from calmday.logbook.render import Rendered, render
from calmday.logbook.toml_text import toml_text

RESULT = "result.json"
FOLDERS = {kind: f"{kind}s" for kind in KINDS} | {kind: kind for kind in ("dials", "evidence", "published", "whatif")}

Put = Callable[[str, bytes], None]
"""Writes one file of a folder: its relative path, its bytes."""


def export_run(connection: Connection, run_id: str, where: str, put: Put) -> None:
    """One run in a folder of its own, with the vehicle and all that it points to."""
    rendered = rendered_runs(connection, [run_id], where)[run_id]
    links = compose.links_of(entries.newest(connection, [run_id], where)[run_id])
    _put_rendered(connection, rendered, where, put)
    _put_history(connection, [run_id, *sorted({*links.values()} - {run_id})], rendered, where, put)


def export_all(connection: Connection, where: str, put: Put) -> None:
    """Every vehicle, instrument, fuel batch, route and run, each in its folder; void runs too."""
    for kind in KINDS:
        ids = [subject.id for subject in compose.subjects(connection, kind)]  # type: ignore[arg-type]
        taken: set[str] = set()
        for subject_id in ids:
            rendered = rendered_runs(connection, [subject_id], where)[subject_id]
            folder = f"{FOLDERS[kind]}/{_folder_name(rendered.document, taken)}/"
            inner = _within(folder, put)
            _put_rendered(connection, rendered, where, inner)
            _put_history(connection, [subject_id], rendered, where, inner)


def export_inputs(connection: Connection, ids: Sequence[str], where: str, put: Callable[[str], Put]) -> None:
    """What the results of some subjects rest on and nothing else: their files as the command reads them.

    `put` gives what writes the files of a subject by its identifier.
    """
    for subject_id, rendered in rendered_runs(connection, ids, where).items():
        _put_rendered(connection, rendered, where, put(subject_id))


def export_for_others(connection: Connection, run_id: str, radius_m: float, where: str, put: Put) -> tuple[str, ...]:
    """One run to give away: tracks without what lies near home, no history, no photographs. Remarks on what is missing.

    The newest result goes with it, because the cut tracks alone give too short a distance.
    """
    rendered = rendered_runs(connection, [run_id], where)[run_id]
    tables = dict(rendered.tables)
    named = tables.get("track")
    tracks = [name for name in ([named] if isinstance(named, str) else named or []) if name in rendered.files]
    contents = blobs.contents(connection, [rendered.files[name].sha256 for name in tracks], where)
    cut = cut_home_end([(name, contents[rendered.files[name].sha256]) for name in tracks], radius_m)
    kept = [track for track in cut if track.data]
    tables.pop("track", None)
    if kept:
        tables["track"] = [track.name for track in kept]
    put(rendered.name, toml_text(tables).encode())
    for track in kept:
        put(track.name, track.data)
    if rendered.vehicle is not None:
        _put_rendered(connection, rendered.vehicle, where, put)
    removed = sum(track.removed for track in cut)
    remarks = [f"{removed} fixes within {radius_m:g} m of where the drive began or ended were left out"]
    stored = results.of_runs(connection, [run_id], where, whole=True)
    if stored:
        put(RESULT, stored[0].content)
        remarks.append(f"{RESULT} holds the figures of the whole drive; the cut tracks alone give too short a distance")
    elif cut:
        remarks.append("the cut tracks give too short a distance, and there is no result yet to send along")
    return tuple(remarks)


def rendered_runs(connection: Connection, ids: Sequence[str], where: str) -> dict[str, Rendered]:
    """Subjects as the files of a folder. As many queries as one takes."""
    documents = compose.documents(connection, ids, where)
    vehicles = {d.vehicle.subject.id for d in documents.values() if d.vehicle is not None}
    sources = _sources(connection, [*ids, *vehicles], where)
    found = {}
    for subject_id, document in documents.items():
        vehicle = None
        if document.vehicle is not None:
            vehicle = render(document.vehicle, sources.get(document.vehicle.subject.id))
        found[subject_id] = render(document, sources.get(subject_id), vehicle)
    return found


def _sources(connection: Connection, ids: Sequence[str], where: str) -> dict[str, bytes]:
    """The texts that subjects were imported from."""
    found = entries.texts(connection, [SOURCE], ids)
    named = {subject_id: json.loads(texts[SOURCE])["sha256"] for subject_id, texts in found.items()}
    contents = blobs.contents(connection, named.values(), where)
    return {subject_id: contents[sha256] for subject_id, sha256 in named.items()}


def _put_rendered(connection: Connection, rendered: Rendered, where: str, put: Put) -> None:
    contents = blobs.contents(connection, [file.sha256 for file in rendered.files.values()], where)
    put(rendered.name, rendered.text)
    for name, file in rendered.files.items():
        put(name, contents[file.sha256])
    if rendered.vehicle is not None:
        _put_rendered(connection, rendered.vehicle, where, put)


def _put_history(connection: Connection, ids: Sequence[str], rendered: Rendered, where: str, put: Put) -> None:
    """Every entry, guess and result of some subjects, and the files that only the history names."""
    written: dict[str, str] = {}
    for part in (rendered, rendered.vehicle):
        if part is not None:
            written[hashlib.sha256(part.text).hexdigest()] = part.name
            written |= {file.sha256: name for name, file in part.files.items()}
    told = []
    wanted: dict[str, str] = {}
    for subject_id in ids:
        history = entries.history(connection, subject_id, where)
        for entry in history:
            if entry.text is not None and (entry.key.startswith(FILE) or entry.key == SOURCE):
                described = json.loads(entry.text)
                wanted.setdefault(described["sha256"], described["name"])
        told.append(
            {
                "id": subject_id,
                "kind": entries.kind_of(connection, subject_id, where),
                "entries": [msgspec.to_builtins(entry) for entry in history],
                "guesses": [_guess(row) for row in guesses.rows(connection, subject_id, where)],
                "results": [
                    _result(result) for result in reversed(results.of_runs(connection, [subject_id], where, whole=True))
                ],
            }
        )
    for sha256, content in blobs.contents(connection, [s for s in wanted if s not in written], where).items():
        written[sha256] = f"files/{sha256[:16]}-{plain_name(wanted[sha256])}"
        put(written[sha256], content)
    history_file = {"schema": SCHEMA, "files": dict(sorted(written.items())), "subjects": told}
    put(NAME, (json.dumps(history_file, ensure_ascii=False, indent=1) + "\n").encode())


def _guess(row: Any) -> dict[str, str]:
    return {name: getattr(row, name) for name in ("id", "by", "text", "salt", "digest")}


def _result(result: Any) -> dict[str, object]:
    return {
        "id": result.id,
        "inputs_sha256": result.inputs_sha256,
        "version": result.version,
        "seed": result.seed,
        "draws": result.draws,
        "summary": result.summary,
        "content": result.content.decode(),
        "along": base64.b64encode(result.along).decode(),
    }


def _folder_name(document: Document, taken: set[str]) -> str:
    """A name that a person recognises: the date where there is one, then the name."""
    date = states.date_of(document.tables.get("date"))
    words = "".join(c if c.isalnum() else "-" for c in document.subject.name.lower())
    name = "-".join(part for part in (str(date) if date else "", *words.split("-")) if part)[:60].rstrip("-")
    name = name or document.subject.kind
    found, number = name, 1
    while found in taken:
        number += 1
        found = f"{name}-{number}"
    taken.add(found)
    return found


def _within(folder: str, put: Put) -> Put:
    return lambda name, data: put(folder + name, data)
