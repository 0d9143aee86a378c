"""What can go wrong with a logbook, each as one plain sentence, and how a database's own words become that sentence.

LogbookError (a CalmdayError)
├── BusyLogbookError      another program holds the file
├── DamagedLogbookError   what is read is not what was written
├── FullDiskError         there is no room for what should be written
├── NewerLogbookError     written by a newer version of the program
├── NotALogbookError      the file is something else
├── MigrationError        could not be brought to a newer form
├── ReadOnlyLogbookError  file or folder cannot be written to
└── UnreachableError      no database answers at this address

Whichever it is, the file stays as it was found.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from calmday.errors import CalmdayError

_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_FORMAT", "SQLITE_IOERR_SHORT_READ")
_BUSY = ("SQLITE_BUSY", "SQLITE_LOCKED")
_READ_ONLY = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")
_FULL = ("SQLITE_FULL", "SQLITE_TOOBIG", "SQLITE_IOERR_WRITE", "SQLITE_IOERR_SHMSIZE")
_FULL_STATES = {"53100", "53200", "54000"}
"""PostgreSQL: disk_full, out_of_memory, program_limit_exceeded (PostgreSQL manual, appendix A)."""
_BUSY_STATES = {"55P03", "40001", "40P01", "57014"}
"""PostgreSQL: lock_not_available, serialization_failure, deadlock_detected, query_canceled."""
_DAMAGED_STATES = {"XX001", "XX002"}
"""PostgreSQL: data_corrupted, index_corrupted."""


class LogbookError(CalmdayError):
    """Base of everything that can go wrong with a logbook."""


class BusyLogbookError(LogbookError):
    """Another program holds the logbook."""

    def __init__(self, where: str) -> None:
        super().__init__(
            f"{where}: another program is writing to this logbook; close it or try again, nothing was changed"
        )


class DamagedLogbookError(LogbookError):
    """What is read is not what was written."""

    def __init__(self, where: str, what: str) -> None:
        what = "".join(c if c.isprintable() else "?" for c in what[:120])
        super().__init__(
            f"{where}: this logbook is damaged ({what}); it was left as it is, "
            "bring back a good copy with: calmday restore BACKUP"
        )


class FullDiskError(LogbookError):
    """There is no room for what should be written."""

    def __init__(self, where: str) -> None:
        super().__init__(
            f"{where}: there is no room left for this entry; make room and enter it again, "
            "everything entered before is safe"
        )


class MigrationError(LogbookError):
    """Could not be brought to a newer form."""

    def __init__(self, where: str, reason: str, kept: str) -> None:
        super().__init__(
            f"{where}: this logbook could not be brought to the form that this calmday writes ({reason}); "
            f"it was left as it is, and there is a copy in {kept}; please report this"
        )


class NewerLogbookError(LogbookError):
    """Written by a newer version of the program."""

    def __init__(self, where: str, revision: str, program: str) -> None:
        self.revision = revision
        writer = f"calmday {program}" if program else "a newer calmday"
        super().__init__(
            f"{where}: this logbook was written by {writer} (form {revision}), which this one cannot read; "
            "it was left as it is, install the newer calmday"
        )


class NotALogbookError(LogbookError):
    """The file is something else."""

    def __init__(self, where: str, what: str) -> None:
        super().__init__(f"{where}: {what}; it was left as it is, name a logbook or a file that does not exist yet")


class ReadOnlyLogbookError(LogbookError):
    """File or folder cannot be written to."""

    def __init__(self, where: str, what: str) -> None:
        super().__init__(f"{where}: {what}; copy the logbook to a folder of your own, or allow writing there")


class UnreachableError(LogbookError):
    """No database answers at this address."""

    def __init__(self, where: str, reason: str) -> None:
        super().__init__(f"{where}: no database answers there ({reason}); check the address, name and password")


def of_sqlite(error: sqlite3.Error, where: str) -> LogbookError | None:
    """The sentence for an error of SQLite; None for a fault of the program."""
    name = getattr(error, "sqlite_errorname", "") or ""
    text = str(error)
    if name.startswith(_BUSY) or "locked" in text:
        return BusyLogbookError(where)
    if name.startswith(_FULL):
        return FullDiskError(where)
    if name.startswith(_READ_ONLY):
        return ReadOnlyLogbookError(where, f"cannot be opened for writing ({text})")
    what = _damage(name, text)
    return DamagedLogbookError(where, what) if what else None


def _damage(name: str, text: str) -> str:
    """What is damaged, by SQLite's name of the error and its words; "" where nothing is."""
    if "decode to UTF-8" in text:
        return "a text in it cannot be read"
    if name.startswith(_DAMAGED) or any(words in text for words in ("malformed", "not a database")):
        return text
    return f"the disk does not answer: {text}" if name.startswith("SQLITE_IOERR") else ""


def of_state(state: str, text: str, where: str) -> LogbookError | None:
    """The sentence for an error of PostgreSQL by its SQLSTATE; None for a fault of the program."""
    if state in _FULL_STATES:
        return FullDiskError(where)
    if state in _BUSY_STATES:
        return BusyLogbookError(where)
    if state in _DAMAGED_STATES:
        return DamagedLogbookError(where, _first_line(text))
    if state == "25006":
        return ReadOnlyLogbookError(where, "this database only allows reading")
    if state.startswith(("08", "28", "3D", "57P")) or not state:
        return UnreachableError(where, _first_line(text))
    return None


@contextmanager
def plainly(where: str) -> Iterator[None]:
    """Turn a database's errors into sentences about the logbook at `where`; other errors pass."""
    import sqlalchemy.exc as sql  # noqa: PLC0415  (loaded by now: only reached with a connection)

    try:
        yield
    except sqlite3.Error as error:
        raise of_sqlite(error, where) or error from error
    except sql.DBAPIError as error:
        raise _of_driver(error, where) or error from error
    except sql.TimeoutError as error:
        raise BusyLogbookError(where) from error


def _of_driver(error: Exception, where: str) -> LogbookError | None:
    cause = getattr(error, "orig", None)
    if isinstance(cause, sqlite3.Error):
        return of_sqlite(cause, where)
    operational = type(cause).__name__ in ("OperationalError", "InterfaceError")
    state = getattr(cause, "sqlstate", None) or ""
    return of_state(state, str(cause), where) if state or operational else None


def _first_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[0][:200] if lines else "no reason given"
