"""Changes that are imagined, with what they cost, and a year of driving."""

from __future__ import annotations

from calmday.logbook.migrations.kinds import allow_kinds
from calmday.logbook.migrations.versions.v0003_kinds import KINDS

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """From what was measured and declared to what is only thought of."""
    allow_kinds((*KINDS, "whatif"))
