"""Which kinds of things a logbook knows: the table of subjects with other kinds allowed."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from calmday.logbook.migrations.append_only import protect, text_type


def allow_kinds(kinds: tuple[str, ...]) -> None:
    """Let the logbook hold these kinds and no others."""
    known = f"kind IN ({', '.join(repr(kind) for kind in kinds)})"
    if op.get_bind().dialect.name != "sqlite":
        op.drop_constraint("subject_kind_known", "subject")
        op.create_check_constraint("subject_kind_known", "subject", known)
        return
    # SQLite cannot change a constraint: the table is made anew under its own name, and entries keep pointing at it
    op.execute("PRAGMA defer_foreign_keys = ON")
    op.execute("CREATE TABLE subject_before AS SELECT id, kind FROM subject")
    op.execute("DROP TABLE subject")
    identifier: Any = text_type(26)
    op.create_table(
        "subject",
        sa.Column("id", identifier, primary_key=True),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.CheckConstraint(known, name="subject_kind_known"),
    )
    op.execute("INSERT INTO subject (id, kind) SELECT id, kind FROM subject_before ORDER BY rowid")
    op.execute("DROP TABLE subject_before")
    protect("subject", "id")
