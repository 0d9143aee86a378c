"""More kinds of things: other tests than runs, what was concluded from runs, and what was declared about a vehicle."""

from __future__ import annotations

from calmday.logbook.migrations.kinds import allow_kinds

revision = "0003"
down_revision = "0002"

KINDS = (
    "vehicle",
    "instrument",
    "fuel",
    "route",
    "run",
    "pull",
    "coastdown",
    "evidence",
    "sound",
    "setting",
    "comparison",
    "plan",
    "price",
    "published",
    "chart",
    "dials",
)


def upgrade() -> None:
    """From vehicles, what is used with them, and runs."""
    allow_kinds(KINDS)
