"""Sealed guesses, and results with what produced them."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from calmday.logbook.migrations.append_only import protect, text_type

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """From entries alone."""
    identifier: Any = text_type(26)
    op.create_table(
        "guess",
        sa.Column("id", identifier, primary_key=True),
        sa.Column("run_id", identifier, sa.ForeignKey("subject.id", name="guess_run"), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("salt", sa.String(64), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("row_hash", sa.String(16), nullable=False),
    )
    op.create_index("guess_of_run", "guess", ["run_id"])
    op.create_table(
        "result",
        sa.Column("id", identifier, primary_key=True),
        sa.Column("run_id", identifier, sa.ForeignKey("subject.id", name="result_run"), nullable=False),
        sa.Column("inputs_sha256", sa.String(64), nullable=False),
        sa.Column("version", sa.String(40), nullable=False),
        sa.Column("seed", sa.String(20), nullable=False),
        sa.Column("draws", sa.Integer, nullable=False),
        sa.Column("summary", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.Column("along", sa.LargeBinary),
        sa.Column("row_hash", sa.String(16), nullable=False),
    )
    op.create_index("result_of_run", "result", ["run_id", "id"])
    for table in ("guess", "result"):
        protect(table, "id")
