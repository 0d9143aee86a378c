"""Connections to a logbook: SQLite as safe as it gets, or PostgreSQL by URL, behind the same few lines."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, QueuePool, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError

from calmday.errors import InputError, MissingExtraError
from calmday.logbook.errors import plainly

APPLICATION_ID = 0x434C4D44
"""Marks an SQLite file as a logbook: "CLMD" at byte 68 of the header (SQLite file format, 1.3.12)."""

PATIENCE_S = 5.0
"""How long to wait for another program's write before saying that the logbook is busy."""


def is_url(where: str) -> bool:
    """Whether a place is the address of a database rather than a file."""
    return "://" in where


def sqlite_engine(path: Path, patience_s: float = PATIENCE_S, *, write_ahead: bool = True) -> Engine:
    """An engine on a file. Every acknowledged transaction is on the disk, whatever happens next.

    `write_ahead`: others may read while one writes; not for a file that is to be complete in itself.
    """

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            path.resolve().as_uri() + "?mode=rw",
            uri=True,
            timeout=patience_s,
            isolation_level=None,
            check_same_thread=False,
        )
        for pragma in (
            "foreign_keys = ON",
            "synchronous = FULL",
            "recursive_triggers = ON",
            "trusted_schema = OFF",
            "cell_size_check = ON",
        ):
            connection.execute(f"PRAGMA {pragma}")
        if write_ahead and connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            connection.execute("PRAGMA journal_mode = WAL")
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, pool_timeout=30)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def server_engine(url: str) -> Engine:
    """An engine on a PostgreSQL server. Raises InputError, or MissingExtraError without the driver."""
    try:
        address = make_url(url)
    except ArgumentError:
        address = None
    if address is None or address.get_backend_name() not in ("postgresql", "postgres"):
        raise InputError.one(
            "logbook", shown_url(url), "is no address this program knows", "a file, or postgresql://name@host/database"
        )
    try:
        return create_engine(
            address.set(drivername="postgresql+psycopg"),
            isolation_level="REPEATABLE READ",
            pool_pre_ping=True,
            connect_args={"connect_timeout": 10},
        )
    except ModuleNotFoundError:
        raise MissingExtraError("A logbook on PostgreSQL", "postgres") from None


def shown_url(url: str) -> str:
    """An address without its password."""
    try:
        return make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return "the address"


@contextmanager
def reading(engine: Engine, where: str) -> Iterator[Connection]:
    """One consistent view of the logbook."""
    with plainly(where), engine.connect() as connection:
        yield connection


@contextmanager
def writing(engine: Engine, where: str) -> Iterator[Connection]:
    """One transaction that writes: all of it, or nothing."""
    with plainly(where), engine.connect().execution_options(writes=True) as connection, connection.begin():
        yield connection


def default_place() -> str:
    """Where the logbook is kept: CALMDAY_LOGBOOK, or the data folder that this system gives its users."""
    named = os.environ.get("CALMDAY_LOGBOOK", "").strip()
    if named:
        return named
    from platformdirs import user_data_path  # noqa: PLC0415

    return str(user_data_path("calmday", appauthor=False) / "logbook.calmday")


def default_folder() -> str:
    """The data folder that this system gives its users."""
    from platformdirs import user_data_path  # noqa: PLC0415

    return str(user_data_path("calmday", appauthor=False))
