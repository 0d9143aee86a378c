"""Bringing a logbook to the form this program writes: which form it has, and the steps from there."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, select, text

from calmday import __version__
from calmday.logbook import stamps
from calmday.logbook.errors import DamagedLogbookError, NewerLogbookError
from calmday.logbook.schema import WRITER

FORMS = ("0001", "0002", "0003", "0004")
"""Every form there has been; a test holds them against the steps."""

HEAD = FORMS[-1]
"""The form this program reads and writes."""

STEPS = Path(__file__).parent / "migrations"


def revision_of(connection: Connection) -> str:
    """The form of the logbook on this connection, "" where there is none."""
    if not inspect(connection).has_table("alembic_version"):
        return ""
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or ""


def refuse_newer(revision: str, program: str, where: str) -> None:
    """Raise NewerLogbookError for a form that this program does not know."""
    if revision > HEAD:
        raise NewerLogbookError(where, revision, program)
    if revision and revision not in FORMS:
        raise DamagedLogbookError(where, "its form is not known")


def writer_of(connection: Connection) -> str:
    """The version of the program that brought the logbook to its form."""
    query = select(WRITER.c.program).order_by(WRITER.c.revision.desc()).limit(1)
    return connection.execute(query).scalar() or ""


def upgrade(connection: Connection, to: str = "head", steps: Path = STEPS) -> None:
    """Run every step from the logbook's form to another, each in one transaction; a step that fails leaves nothing.

    `connection` must not be in a transaction.
    """
    from alembic import command  # noqa: PLC0415  (only where there is something to migrate)
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(steps).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, to)
    connection.rollback()
    with connection.begin():
        revision = revision_of(connection)
        known = connection.execute(select(WRITER.c.revision).where(WRITER.c.revision == revision)).scalar()
        if known is None:
            connection.execute(
                WRITER.insert().values(revision=revision, program=__version__, at=stamps.written(stamps.now()))
            )
