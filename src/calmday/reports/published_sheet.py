"""A published figure and what sets it apart, as a sheet. The differences are named; there is no score."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import listed
from calmday.procedures.label_rules import LABEL_RULES
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, headed, number, typed, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.published_result import PublishedResult

MOST_NAMED = 4


def published_headline(result: PublishedResult) -> str:
    """What is published, and how many differences stand between it and the drive.

    >>> published_headline(result)  # doctest: +SKIP
    'Published: 24 mpg US combined. Your drive is another experiment: cycle, speed, temperature and mass differ, ...'
    """
    main = next((line for line in result.lines if line.kind == "combined"), result.lines[0])
    kind = "" if main.kind == "figure" else f" {main.kind}"
    said = f"Published: {typed(main.as_entered)}{kind} ({number(main.L_per_100km.value, 1)} L/100 km)"
    if result.ours is None:
        return f"{said}, {clean(result.rule_words) or 'by a rule that nobody names'}."
    names = [each.what for each in result.differences]
    more = f", and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    own = result.ours.consumption.L_per_100km
    told = ", ".join(names[:MOST_NAMED]) + more if more else listed(names)
    return (
        f"{said}; yours: {amount(own)} L/100 km. They are two different experiments: {told} are not alike, "
        "or nobody says."
    )


def published_sheet(result: PublishedResult) -> Sheet:
    """The whole sheet."""
    blocks: list[Block | None] = [
        _figures(result),
        _differences(result),
        _combined(result),
        _other_rules(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
    ]
    return Sheet(
        title=headed(result.label, "what do others say?") if result.label else "What do others say?",
        lead=clean(result.sentence) or published_headline(result),
        blocks=tuple(block for block in blocks if block is not None),
    )


def _figure(figure: Figure | None, places: int = 1) -> str:
    return "-" if figure is None else number(figure.value, places)


def _figures(result: PublishedResult) -> Table:
    before = any(line.laboratory_mpg is not None for line in result.lines)
    rows = [
        (
            clean(line.kind),
            typed(line.as_entered),
            _figure(line.L_per_100km),
            _figure(line.mpg_us),
            _figure(line.mpg_imp),
            *([_figure(line.laboratory_mpg)] if before else []),
        )
        for line in result.lines
    ]
    if result.ours is not None:
        own = result.ours.consumption
        rows.append(
            (
                f"yours, {result.ours.figure}",
                clean(result.ours.label),
                amount(own.L_per_100km, most_decimals=1),
                amount(own.mpg_us, most_decimals=1),
                amount(own.mpg_imp, most_decimals=1),
                *(["-"] if before else []),
            )
        )
    return Table(
        title="Side by side",
        columns=(
            Column("figure", wrap=True),
            Column("as printed", wrap=True, rank=1),
            Column("L/100 km", "right"),
            Column("mpg US", "right"),
            Column("mpg imp", "right", 2),
            *([Column("unadjusted, mpg US", "right", 3)] if before else []),
        ),
        rows=tuple(rows),
        note="Unadjusted: before what the rule of the label took off." if before else "",
    )


def _differences(result: PublishedResult) -> Table | None:
    if not result.differences:
        return None
    return Table(
        title="In what they are not alike",
        columns=(
            Column("what"),
            Column("published", wrap=True),
            Column("yours", wrap=True),
            Column("what it does", wrap=True),
        ),
        rows=tuple(
            (each.what, clean(each.theirs), clean(each.ours), clean(each.matters)) for each in result.differences
        ),
        note="None of these says which figure is right.",
    )


def _combined(result: PublishedResult) -> Table | None:
    found = result.combined
    if found is None:
        return None
    unit = unit_words(found.unit)
    litres = found.unit in ("L_per_100km", "g_per_km")
    rows = [
        (f"city and highway {found.how}", f"{number(found.computed.value, 1)} {unit}"),
        ("what rounding allows", f"{number(found.computed.low, 1)} to {number(found.computed.high, 1)} {unit}"),
    ]
    if found.printed is not None:
        words = "agrees" if found.agrees else "does not follow"
        rows.append(("combined as printed", f"{number(found.printed, 1)} {unit}: {words}"))
    if not litres:
        rows.append(("their plain mean, which is wrong", f"{number(found.arithmetic, 1)} {unit}"))
    return Table(
        title="City and highway together", columns=(Column("", wrap=True), Column("", wrap=True)), rows=tuple(rows)
    )


def _other_rules(result: PublishedResult) -> Table | None:
    if not result.other_rules:
        return None
    return Table(
        title="The same car under other rules, mpg US",
        columns=(
            Column("rule", wrap=True),
            Column("city", "right"),
            Column("highway", "right"),
            Column("combined", "right"),
        ),
        rows=tuple(
            (_rule_words(each.rule), _figure(each.city), _figure(each.highway), _figure(each.combined))
            for each in result.other_rules
        ),
        note="From the figures before their adjustment; the equations of 2008 and 2017 are from memory. A real label "
        "of those years may rest on more tests.",
    )


def _rule_words(rule: str) -> str:
    found = LABEL_RULES.get(rule)
    return clean(found.words if found is not None else rule).removeprefix("United States ")


def _how(result: PublishedResult) -> Prose:
    lines = []
    if result.rule_words:
        lines.append(
            f"{clean(result.rule_words)}: what was done to the figure: {clean(result.adjusted)}. "
            f"Source of the rule: {clean(result.rule_source)}."
        )
    about = ", ".join(
        part for part in (clean(result.vehicle), str(result.model_year) if result.model_year else "") if part
    )
    lines.append(f"About: {about or 'not said'}. Read in: {clean(result.source) or 'not said'}.")
    if any("yours" in row[0] for row in _figures(result).rows):
        lines.append("Give or take (±): 95 times in 100 the truth lies inside.")
    made = result.provenance
    lines.append(
        f"{made.program} {made.version}, input {made.inputs_sha256[:12] or 'as typed'}, from {file_words(made.files)}."
    )
    return Prose(title="How it was found", lines=tuple(lines))
