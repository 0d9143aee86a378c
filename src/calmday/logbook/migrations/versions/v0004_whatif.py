"""Changes that are imagined, with what they cost, and a year of driving."""

from __future__ import annotations

from calmday.logbook.migrations.kinds import allow_kinds

revision = "0004"
down_revision = "0003"

_KINDS = (
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
    "whatif",
)


def upgrade() -> None:
    """From what was measured and declared to what is only thought of."""
    allow_kinds(_KINDS)
