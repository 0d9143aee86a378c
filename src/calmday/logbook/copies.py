"""Whole copies of a logbook: before every migration, on `calmday backup`, and back with `calmday restore`."""

from __future__ import annotations

import contextlib
import os
import secrets
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, Engine, MetaData, Table, inspect, select
from sqlalchemy.exc import SQLAlchemyError

from calmday.errors import InputError
from calmday.logbook import connection, migrate, opening, stamps
from calmday.logbook.errors import (
    BusyLogbookError,
    LogbookError,
    MigrationError,
    NotALogbookError,
    ReadOnlyLogbookError,
    plainly,
)
from calmday.logbook.schema import METADATA

_BESIDE = ("-wal", "-shm", "-journal")
_ROWS_AT_ONCE = 500


def migrate_file(path: Path, steps: Path = migrate.STEPS) -> Path:
    """Copy an older logbook beside itself, then bring it to this program's form; the copy's place."""
    revision = opening.look(path)
    day = stamps.written(stamps.now())[:19].replace(":", "")
    kept = _free(path.with_name(f"{path.name}.form-{revision}.{day}.backup"))
    copy_file(path, kept)
    engine = connection.sqlite_engine(path, write_ahead=False)
    try:
        with plainly(str(path)), engine.connect() as c:
            migrate.upgrade(c, steps=steps)
    except SQLAlchemyError as e:
        raise MigrationError(str(path), str(e).partition("\n")[0], str(kept)) from e
    finally:
        engine.dispose()
    return kept


def prepare_server(engine: Engine, where: str) -> None:
    """Make the tables on a server, or bring them to this program's form after copying what is there."""
    with engine.connect() as c:
        revision = migrate.revision_of(c)
        if revision:
            migrate.refuse_newer(revision, migrate.writer_of(c), where)
        c.rollback()
        if revision == migrate.HEAD:
            return
        if revision:
            day = stamps.written(stamps.now())[:19].replace(":", "")
            folder = Path(connection.default_folder())
            folder.mkdir(parents=True, exist_ok=True)
            copy_rows_to_file(c, _free(folder / f"server.form-{revision}.{day}.backup"), revision)
        elif inspect(c).has_table("entry"):
            raise NotALogbookError(where, "this database holds tables of something else")
        c.rollback()
        migrate.upgrade(c)


def copy_file(path: Path, target: Path) -> None:
    """A whole, checked copy of a logbook file, also while others write to it; it appears whole or not at all."""
    with _draft(target) as draft, plainly(str(path)):
        with (
            closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True, timeout=5.0)) as source,
            closing(sqlite3.connect(draft)) as copy,
        ):
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        opening.look(draft)


def copy_rows_to_file(source: Connection, target: Path, revision: str = migrate.HEAD) -> None:
    """A logbook on a server as a file of the same form."""
    with _draft(target) as draft:
        opening.fill(draft, revision)
        engine = connection.sqlite_engine(draft, write_ahead=False)
        try:
            with connection.writing(engine, str(target)) as c:
                copy_rows(source, c)
        finally:
            engine.dispose()
        opening.look(draft)


def copy_rows(source: Connection, target: Connection) -> None:
    """Every row of every table, in the order that references allow. The target must hold none but its form."""
    there = set(inspect(source).get_table_names())
    for table in METADATA.sorted_tables:
        if table.name not in there or table.name == "writer":
            continue
        as_found = Table(table.name, MetaData(), autoload_with=source)
        rows = source.execute(select(as_found)).mappings()
        for part in rows.partitions(_ROWS_AT_ONCE):
            target.execute(table.insert(), [dict(row) for row in part])


def is_empty(c: Connection) -> bool:
    """Whether nothing has been written to a logbook yet."""
    return c.execute(select(METADATA.tables["subject"].c.id).limit(1)).scalar() is None


def restore_file(backup: Path, place: Path, *, replace: bool = False) -> Path | None:
    """Put a copy in the place of the logbook; where the one that was there has been moved to.

    The copy is checked first. A logbook that is there is only moved aside, and only where `replace` says so.
    """
    if not backup.exists():
        raise InputError.one("restore", str(backup), "is not there", "the name of a backup file")
    look_only(backup)
    aside = None
    if place.exists():
        if not replace:
            raise InputError.one(
                "restore",
                str(place),
                "is there already",
                "add --replace to move it aside, or name another place with --logbook",
            )
        if place.resolve() == backup.resolve():
            raise InputError.one("restore", str(backup), "is the logbook itself", "the name of a backup file")
        _let_go(place)
        day = stamps.written(stamps.now())[:19].replace(":", "")
        aside = _free(place.with_name(f"{place.name}.replaced.{day}"))
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
    except OSError as e:
        raise ReadOnlyLogbookError(str(place), f"cannot be made there ({e.strerror})") from None
    with (
        _draft(place, aside) as draft,
        plainly(str(backup)),
        closing(sqlite3.connect(draft)) as copy,
        closing(_reading_only(backup)) as source,
    ):
        source.backup(copy)
    return aside


def look_only(path: Path) -> None:
    """Check a file that need not be writable."""
    try:
        opening.look(path)
    except ReadOnlyLogbookError:
        if not os.access(path, os.R_OK):
            raise


def _reading_only(path: Path) -> sqlite3.Connection:
    alone = not Path(f"{path}-wal").exists()
    mode = "mode=ro&immutable=1" if alone else "mode=ro"
    return sqlite3.connect(f"{path.resolve().as_uri()}?{mode}", uri=True, timeout=5.0)


def _let_go(place: Path) -> None:
    """Make sure that nobody else has a logbook open, and that its file alone holds everything.

    Leaving the write-ahead mode takes the file for oneself. A file too damaged for that is moved as it is.
    """
    try:
        opening.look(place)
        address = f"{place.resolve().as_uri()}?mode=rw"
        with plainly(str(place)), closing(sqlite3.connect(address, uri=True, timeout=1.0)) as c:
            c.execute("PRAGMA journal_mode = DELETE")
    except BusyLogbookError:
        raise
    except LogbookError as e:
        if isinstance(e, ReadOnlyLogbookError):
            raise


class _draft(contextlib.AbstractContextManager[Path]):  # noqa: N801  (used as a function)
    """A new file beside its place, put there when all went well and made away with when not."""

    def __init__(self, target: Path, aside: Path | None = None) -> None:
        self.target = target
        self.aside = aside
        self.draft = target.with_name(f".{target.name[:100]}.{secrets.token_hex(4)}.new")

    def __enter__(self) -> Path:
        try:
            self.draft.touch(mode=0o600, exist_ok=False)
        except OSError as e:
            raise ReadOnlyLogbookError(str(self.target), f"cannot be made there ({e.strerror})") from None
        return self.draft

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        try:
            if kind is None:
                self._put_in_place()
        finally:
            for end in ("", *_BESIDE):
                Path(f"{self.draft}{end}").unlink(missing_ok=True)

    def _put_in_place(self) -> None:
        with self.draft.open("rb") as stream:
            os.fsync(stream.fileno())
        if self.aside is not None:
            _keep_aside(self.target, self.aside)
            for end in _BESIDE:
                beside = Path(f"{self.target}{end}")
                if beside.exists():
                    beside.replace(f"{self.aside}{end}")
        self.draft.replace(self.target)


def _keep_aside(target: Path, aside: Path) -> None:
    """Give a file a second name, so that at no moment there is nothing under the first; move it where links are not
    had."""
    if not target.exists():
        return
    try:
        aside.hardlink_to(target)
    except OSError:
        target.replace(aside)


def _free(path: Path) -> Path:
    """The path, or with a number where it is taken."""
    found, number = path, 1
    while found.exists():
        number += 1
        found = path.with_name(f"{path.name}-{number}")
    return found
