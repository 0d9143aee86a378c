"""Subjects, their entries, and the files attached to them."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from calmday.logbook.migrations.append_only import protect, text_type

revision = "0001"
down_revision = None


def upgrade() -> None:
    """From nothing."""
    identifier: Any = text_type(26)
    key: Any = text_type()
    op.create_table(
        "subject",
        sa.Column("id", identifier, primary_key=True),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.CheckConstraint("kind IN ('vehicle', 'instrument', 'fuel', 'route', 'run')", name="subject_kind_known"),
    )
    op.create_table(
        "entry",
        sa.Column("id", identifier, primary_key=True),
        sa.Column("subject_id", identifier, sa.ForeignKey("subject.id", name="entry_subject"), nullable=False),
        sa.Column("key", key, nullable=False),
        sa.Column("value", sa.Text),
        sa.Column("form", sa.String(20), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("row_hash", sa.String(16), nullable=False),
    )
    op.create_index("entry_newest", "entry", ["subject_id", "key", "id"])
    op.create_index("entry_by_key", "entry", ["key", "subject_id", "id"])
    op.create_table(
        "blob",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("packing", sa.String(8), nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "writer",
        sa.Column("revision", sa.String(8), primary_key=True),
        sa.Column("program", sa.String(40), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
    )
    for table, row in (("subject", "id"), ("entry", "id"), ("blob", "sha256"), ("writer", "revision")):
        protect(table, row)
