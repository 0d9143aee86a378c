"""Looking at a logbook file before touching it: is it one, is it whole, can this program read it?

Nothing here writes to an existing file, but for what a sudden end left half done, which SQLite undoes.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from contextlib import closing
from pathlib import Path

from calmday.logbook.connection import APPLICATION_ID, PATIENCE_S, sqlite_engine
from calmday.logbook.errors import DamagedLogbookError, NotALogbookError, ReadOnlyLogbookError, of_sqlite, plainly
from calmday.logbook.migrate import HEAD, refuse_newer, upgrade
from calmday.logbook.records import KINDS
from calmday.logbook.schema import METADATA

_MAGIC = b"SQLite format 3\0"
_HEADER_BYTES = 100


def is_there(path: Path) -> bool:
    """Whether there is a file at a place. Raises ReadOnlyLogbookError where that cannot even be seen."""
    try:
        return path.exists()
    except OSError as e:
        raise ReadOnlyLogbookError(str(path), f"cannot be opened ({e.strerror})") from None


def make(path: Path) -> None:
    """A new logbook at a place where there is none; it appears whole or not at all."""
    where = str(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")
        draft.touch(mode=0o600, exist_ok=False)
    except OSError as e:
        raise ReadOnlyLogbookError(where, f"cannot be made there ({e.strerror})") from None
    try:
        with plainly(where):
            fill(draft)
        try:
            os.link(draft, path)
        except FileExistsError:
            pass  # another program made it in the meantime: that one stands
        except OSError:
            draft.replace(path)  # a file system without links
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            Path(f"{draft}{end}").unlink(missing_ok=True)


def fill(path: Path, revision: str = "head") -> None:
    """Make the tables of a logbook in an empty file."""
    engine = sqlite_engine(path, write_ahead=False)
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("SELECT 1")
            raw = connection.connection.dbapi_connection
            connection.rollback()
            assert isinstance(raw, sqlite3.Connection)
            raw.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            upgrade(connection, revision)
    finally:
        engine.dispose()


def look(path: Path, patience_s: float = PATIENCE_S) -> str:
    """The form of an existing logbook, after every check. Raises LogbookError; the file stays as it is."""
    where = str(path)
    _look_at_header(path, where)
    for target in (path, path.parent):
        if not os.access(target, os.W_OK, effective_ids=os.access in os.supports_effective_ids):
            what = "this file" if target is path else "its folder"
            raise ReadOnlyLogbookError(where, f"{what} cannot be written to")
    try:
        try:
            revision, program = _look_inside(path, where, patience_s)
        except (sqlite3.DatabaseError, UnicodeDecodeError, DamagedLogbookError):
            if not Path(f"{path}-wal").exists():
                raise
            # another program has opened the file since we looked: look again, in step with it
            revision, program = _look_inside(path, where, patience_s)
    except sqlite3.Error as error:
        raise of_sqlite(error, where) or DamagedLogbookError(where, str(error)) from None
    except UnicodeDecodeError:  # what SQLite says quotes what it read
        raise DamagedLogbookError(where, "its tables cannot be read") from None
    refuse_newer(revision, program, where)
    if not revision:
        raise DamagedLogbookError(where, "its tables are missing")
    return revision


def _look_at_header(path: Path, where: str) -> None:
    try:
        with path.open("rb") as stream:
            header = stream.read(_HEADER_BYTES)
    except IsADirectoryError:
        raise NotALogbookError(where, "is a folder") from None
    except OSError as e:
        raise ReadOnlyLogbookError(where, f"cannot be opened ({e.strerror})") from None
    if not header:
        raise DamagedLogbookError(where, "the file is empty")
    if not _MAGIC.startswith(header[: len(_MAGIC)]) or int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise NotALogbookError(where, "this file is no logbook, or its beginning is damaged")
    if len(header) < _HEADER_BYTES:
        raise DamagedLogbookError(where, "the file is cut off")


def _look_inside(path: Path, where: str, patience_s: float) -> tuple[str, str]:
    """Form and writer, after checking every page, every constraint and every reference."""
    with closing(_looking(path, patience_s)) as connection:
        found = [row[0] for row in connection.execute("PRAGMA integrity_check(3)")]
        if found != ["ok"]:
            raise DamagedLogbookError(where, str(found[0]).splitlines()[-1][:120])
        names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if "alembic_version" not in names:
            return "", ""
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        revision = str(row[0]) if row else ""
        program = ""
        if "writer" in names:
            row = connection.execute("SELECT program FROM writer ORDER BY revision DESC LIMIT 1").fetchone()
            program = str(row[0]) if row else ""
        if revision == HEAD:
            for table in METADATA.sorted_tables:
                columns = {row[1] for row in connection.execute(f"PRAGMA table_info({table.name})")}
                if columns != set(table.columns.keys()):
                    raise DamagedLogbookError(where, "its tables are not what they were")
            # the check of integrity passes over the constraint on a connection that may not write (SQLite 3.40)
            unknown = f"SELECT 1 FROM subject WHERE kind NOT IN ({', '.join('?' * len(KINDS))}) LIMIT 1"
            if connection.execute(unknown, KINDS).fetchone() is not None:
                raise DamagedLogbookError(where, "something of a kind that there is not")
        if revision <= HEAD and connection.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise DamagedLogbookError(where, "entries without the subject they belong to")
    return revision, program


def _looking(path: Path, patience_s: float) -> sqlite3.Connection:
    """A connection that writes nothing. Without a log or journal beside it the file alone is the logbook.

    A journal that a sudden end has left behind belongs to it: what it undoes must be undone before anything is read,
    or a half-made form would be taken for a whole one. That SQLite may do; nobody else writes here.
    """
    if Path(f"{path}-wal").exists():
        mode = "mode=ro"
    elif Path(f"{path}-journal").exists():
        mode = "mode=rw"
    else:
        mode = "mode=ro&immutable=1"
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?{mode}", uri=True, timeout=patience_s, isolation_level=None
    )
    connection.execute("PRAGMA cell_size_check = ON")
    return connection
