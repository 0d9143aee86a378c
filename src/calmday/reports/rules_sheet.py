"""The known kinds of published figures as a sheet, each with its source."""

from __future__ import annotations

from calmday.procedures.label_rules import LABEL_RULES
from calmday.reports.sheet import Column, Sheet, Table


def rules_sheet() -> Sheet:
    """Every label rule."""

    def years(first: int | None, last: int | None) -> str:
        if first is None and last is None:
            return "any"
        return f"{first if first is not None else ''} to {last}" if last is not None else f"from {first}"

    return Sheet(
        title="Kinds of published figures",
        lead="The same car has other figures under other rules: name the rule beside the figure.",
        blocks=(
            Table(
                title="Rules",
                columns=(
                    Column("rule"),
                    Column("what it is", wrap=True),
                    Column("years", rank=1),
                    Column("what was done to the figure", wrap=True),
                    Column("source", wrap=True, rank=2),
                ),
                rows=tuple(
                    (rule.name, rule.words, years(*rule.years), rule.adjusted, rule.source)
                    for rule in LABEL_RULES.values()
                ),
                note="Seen: read at the source. Remembered: from memory, not seen.",
            ),
        ),
    )
