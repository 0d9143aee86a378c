"""The logbook as the rest of the program sees it: subjects, their values, files, guesses and results."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from sqlalchemy import Connection, Engine

from calmday.errors import InputError
from calmday.logbook import (
    attachments,
    blobs,
    compose,
    connection,
    copies,
    entries,
    guesses,
    migrate,
    opening,
    results,
    stamps,
)
from calmday.logbook.entries import Input
from calmday.logbook.errors import plainly
from calmday.logbook.keys import is_own
from calmday.logbook.records import (
    KINDS,
    LINKS,
    NAME_KEYS,
    Document,
    Entry,
    File,
    Guess,
    Kind,
    Saved,
    StoredResult,
    Subject,
    Value,
)
from calmday.logbook.schema import SUBJECT


class Logbook:
    """One logbook, open. Every method that writes returns only when what it wrote is safe on the disk.

    All raise LogbookError where the logbook cannot be read or written, InputError where the caller is at fault.
    """

    def __init__(self, engine: Engine, where: str) -> None:
        self.engine = engine
        self.where = where

    @classmethod
    def open(
        cls, where: Path | str | None = None, *, make: bool = True, patience_s: float = connection.PATIENCE_S
    ) -> Self:
        """Open the logbook in a file or at a URL, or the user's own; make it where there is none and `make` says so.

        The file is checked first, and copied beside itself before it is brought to a newer form.
        """
        place = str(where) if where is not None else connection.default_place()
        if connection.is_url(place):
            shown = connection.shown_url(place)
            engine = connection.server_engine(place)
            try:
                with plainly(shown):
                    copies.prepare_server(engine, shown)
            except BaseException:
                engine.dispose()
                raise
            return cls(engine, shown)
        path = Path(place)
        if not opening.is_there(path):
            if not make:
                raise InputError.one("logbook", place, "is not there", "a logbook file, or calmday restore BACKUP")
            opening.make(path)
        if opening.look(path, patience_s) < migrate.HEAD:
            copies.migrate_file(path)
        return cls(connection.sqlite_engine(path, patience_s), place)

    def close(self) -> None:
        """Let go of the file or server."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A consistent view, for the modules of this package."""
        with connection.reading(self.engine, self.where) as found:
            yield found

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction, for the modules of this package: all of it or nothing."""
        with connection.writing(self.engine, self.where) as found:
            yield found

    # --- subjects

    def subjects(
        self, kind: Kind, *, keys: Sequence[str] = (), ids: Sequence[str] | None = None
    ) -> tuple[Subject, ...]:
        """Everything of a kind, oldest first, with the texts of a few `keys`; only those of `ids` where given."""
        with self.reading() as c:
            return compose.subjects(c, kind, keys, ids)

    def newest_runs(
        self, count: int, parent: str | None = None, *, keys: Sequence[str] = (), before: str = ""
    ) -> tuple[Subject, ...]:
        """The runs begun last, oldest first; of one vehicle where `parent` names it; before a run where one is named.

        Takes no longer in a large logbook than in a small one.
        """
        with self.reading() as c:
            return compose.subjects(c, "run", keys, compose.newest_runs(c, parent, count, before))

    def mark(self) -> str:
        """A text that is another one as soon as anything has been written, by whatever program."""
        with self.reading() as c:
            return entries.mark(c)

    def subject(self, subject_id: str, *, keys: Sequence[str] = ()) -> Subject:
        """One subject by its identifier."""
        with self.reading() as c:
            return compose.subjects(c, entries.kind_of(c, subject_id, self.where), keys, [subject_id])[0]

    def create(self, kind: Kind, name: str, parent: str | None = None, *, by: str = "", device: str = "") -> str:
        """Begin a vehicle, instrument, fuel batch, route or run; its identifier. `parent` the vehicle it belongs to."""
        if kind not in KINDS:
            raise InputError.one(self.where, kind, "is not a kind of thing", f"one of {', '.join(KINDS)}")
        with self.writing() as c:
            subject_id = stamps.new_id(stamps.now())
            c.execute(SUBJECT.insert().values(id=subject_id, kind=kind))
            changes: dict[str, Input] = {NAME_KEYS[kind]: name}
            if parent is not None:
                entries.require(c, "vehicle", parent, self.where)
                changes["@link.vehicle"] = parent
            entries.write(c, subject_id, changes, by, self.where, device=device, known={})
        return subject_id

    # --- fields

    def write(
        self, kind: Kind, subject_id: str, changes: Mapping[str, Input], by: str, device: str = "", why: str = ""
    ) -> Saved:
        """Add entries for the fields that differ from what stands; `None` or an empty text clears a field."""
        for key in changes:
            if is_own(key):
                raise InputError.one(self.where, key[:40], "is not a field", "the fields of the document")
            entries.checked_key(key)
        with self.writing() as c:
            entries.require(c, kind, subject_id, self.where)
            guesses.refuse_late(c, subject_id, changes, self.where)
            return entries.write(c, subject_id, changes, by, self.where, device=device, why=why)

    def values(self, kind: Kind, subject_id: str, at: str | None = None) -> dict[str, Value]:
        """The fields that stand, by key; as they stood at a time (`Saved.at`) where one is given."""
        with self.reading() as c:
            entries.require(c, kind, subject_id, self.where)
            found = entries.newest(c, [subject_id], self.where, at or "")[subject_id]
        return {key: value for key, value in found.items() if value.text is not None and not is_own(key)}

    def history(self, kind: Kind, subject_id: str, key: str | None = None) -> tuple[Entry, ...]:
        """Every entry ever made, of one field or of all, oldest first; the logbook's own (`@void`...) too."""
        with self.reading() as c:
            entries.require(c, kind, subject_id, self.where)
            return entries.history(c, subject_id, self.where, key)

    def tables(self, kind: Kind, subject_id: str) -> dict[str, Any]:
        """What was written about this subject alone, as `tomllib` would give it."""
        with self.reading() as c:
            entries.require(c, kind, subject_id, self.where)
            return compose.own_tables(c, subject_id, self.where).tables

    def document(self, subject_id: str) -> Document:
        """The whole document as its file would have it: a run with what its instruments and fuel batch add."""
        with self.reading() as c:
            return compose.documents(c, [subject_id], self.where)[subject_id]

    def documents(self, ids: Sequence[str]) -> dict[str, Document]:
        """Several documents by identifier; as many queries as one takes."""
        with self.reading() as c:
            return compose.documents(c, ids, self.where)

    def link(self, subject_id: str, role: str, target: str | None, by: str, why: str = "") -> Saved:
        """Point a run at its vehicle, scale, receiver, odometer, fuel or route; None takes the link away."""
        if role not in LINKS:
            raise InputError.one(self.where, role[:40], "is not something to point to", f"one of {', '.join(LINKS)}")
        with self.writing() as c:
            entries.kind_of(c, subject_id, self.where)
            if target is not None:
                entries.require(c, LINKS[role], target, self.where)
            return entries.own(c, subject_id, f"@link.{role}", target, by, self.where, why)

    def links(self, subject_id: str) -> dict[str, str]:
        """What a subject points to: identifiers by role."""
        with self.reading() as c:
            entries.kind_of(c, subject_id, self.where)
            return compose.links_of(entries.newest(c, [subject_id], self.where)[subject_id])

    def void(self, subject_id: str, reason: str | None, by: str) -> Saved:
        """Mark as not to be used, with the reason, or take the mark back (None); it stays visible either way."""
        if reason is not None and not reason.strip():
            raise InputError.one(self.where, "void", "has no reason", "why this run must not be used")
        with self.writing() as c:
            entries.kind_of(c, subject_id, self.where)
            return entries.own(c, subject_id, "@void", reason, by, self.where)

    def add_note(self, subject_id: str, text: str, by: str, device: str = "") -> Saved:
        """Add a dated note; notes only ever add up."""
        with self.writing() as c:
            entries.kind_of(c, subject_id, self.where)
            return entries.write(c, subject_id, {"@note": text}, by, self.where, device=device)

    def notes(self, subject_id: str) -> tuple[Entry, ...]:
        """The dated notes, oldest first."""
        with self.reading() as c:
            return entries.history(c, subject_id, self.where, "@note")

    # --- files

    def attach(
        self,
        kind: Kind,
        subject_id: str,
        role: str,
        name: str,
        data: bytes | BinaryIO,
        *,
        by: str,
        device: str = "",
        why: str = "",
    ) -> File:
        """Keep a file with a subject. `role`: "track" (joins the run's list), "full_load" (the vehicle's curve), or any
        other word such as "photograph". The same bytes in the same role are kept once."""
        content = data if isinstance(data, bytes) else data.read()
        with self.writing() as c:
            entries.require(c, kind, subject_id, self.where)
            return attachments.attach(c, subject_id, role, name, content, by, self.where, device=device, why=why)

    def detach(self, kind: Kind, subject_id: str, file_id: str, *, by: str, why: str = "") -> Saved:
        """Take a file out of use; its bytes and its entry stay."""
        with self.writing() as c:
            entries.require(c, kind, subject_id, self.where)
            return attachments.detach(c, subject_id, file_id, by, self.where, why)

    def files(self, kind: Kind, subject_id: str, role: str | None = None) -> tuple[File, ...]:
        """The files in use, in the order attached."""
        with self.reading() as c:
            entries.require(c, kind, subject_id, self.where)
            found = attachments.files_of(entries.newest(c, [subject_id], self.where)[subject_id])
        return tuple(file for file in found if role is None or file.role == role)

    def content(self, sha256: str) -> bytes:
        """The bytes of a file, as they were stored."""
        with self.reading() as c:
            return blobs.contents(c, [sha256], self.where)[sha256]

    def contents(self, hashes: Sequence[str]) -> dict[str, bytes]:
        """The bytes of several files by SHA-256."""
        with self.reading() as c:
            return blobs.contents(c, hashes, self.where)

    # --- guesses

    def seal_prediction(self, run_id: str, text: str, by: str, *, own: bool = False) -> Guess:
        """Seal a guess before the fuel is weighed; its digest proves later that nobody changed it.

        `own`: the program's own guess, which nobody else can make in its name.
        """
        with self.writing() as c:
            entries.require(c, "run", run_id, self.where)
            return guesses.seal(c, run_id, text, by, self.where, own=own)

    def predictions(self, run_id: str) -> tuple[Guess, ...]:
        """The guesses of a run; their text only once they are opened."""
        with self.reading() as c:
            return guesses.of_run(c, run_id, self.where)

    def open_predictions(self, run_id: str, by: str) -> tuple[Guess, ...]:
        """Open every guess of a run whose fuel has been weighed; they join its document."""
        with self.writing() as c:
            entries.require(c, "run", run_id, self.where)
            return guesses.open_all(c, run_id, by, self.where)

    # --- results

    def add_result(
        self,
        run_id: str,
        *,
        inputs_sha256: str,
        version: str,
        seed: int,
        draws: int,
        summary: Mapping[str, Any],
        content: bytes,
        along: bytes = b"",
    ) -> StoredResult:
        """Keep a computed result of a run, or of another subject, beside the earlier ones."""
        with self.writing() as c:
            entries.kind_of(c, run_id, self.where)
            return results.add(
                c,
                run_id,
                inputs_sha256=inputs_sha256,
                version=version,
                seed=seed,
                draws=draws,
                summary=summary,
                content=content,
                along=along,
            )

    def results(self, run_id: str, *, whole: bool = False) -> tuple[StoredResult, ...]:
        """The results of a run, newest first; with their whole content where asked."""
        with self.reading() as c:
            return results.of_runs(c, [run_id], self.where, whole=whole)

    def newest_results(self, run_ids: Sequence[str] | None = None) -> dict[str, StoredResult]:
        """The newest result of every run, or of those named, without content. One query."""
        with self.reading() as c:
            return results.newest(c, self.where, run_ids)

    def result(self, result_id: str) -> StoredResult:
        """One result, whole."""
        with self.reading() as c:
            return results.one(c, result_id, self.where)
