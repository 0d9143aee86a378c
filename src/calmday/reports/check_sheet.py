"""The sixty-second check for the lay-by: a verdict in words, then what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Sheet, Table
from calmday.reports.words import clean

if TYPE_CHECKING:
    from calmday.procedures.weighed_run_result import Flag

STATE_WORDS = {"ok": "✓ plausible", "look": "? look again", "stop": "✗ cannot be"}


class Check(Protocol):
    """What a check has to say: the verdict, rows of label, figure, plausible band and state, and flags."""

    @property
    def verdict(self) -> str: ...
    @property
    def rows(self) -> tuple[tuple[str, str, str, str], ...]: ...
    @property
    def flags(self) -> tuple[Flag, ...]: ...


def check_sheet(check: Check, title: str) -> Sheet:
    """The sheet of a check: verdict first, then each figure beside the band it should lie in."""
    rows = tuple(
        (clean(label), clean(figure), clean(band), STATE_WORDS.get(state, clean(state)))
        for label, figure, band, state in check.rows
    )
    columns = (Column("", wrap=True), Column("here", "right"), Column("plausible", "right"), Column(""))
    table = Table(title="What it rests on", columns=columns, rows=rows) if rows else None
    stops = remarks("Before you drive on", check.flags, ("stop",))
    others = remarks("Worth knowing", check.flags, ("caution", "note"))
    blocks: list[Block | None] = [stops, table, others]
    return Sheet(
        title=f"Lay-by check: {clean(title)}",
        lead=clean(check.verdict),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )
