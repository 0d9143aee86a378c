"""The sheet of what is known of a vehicle: what all tests say together, and what would tell most next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.run_sheet import remarks
from calmday.reports.run_tables import PARAMETER_WORDS
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, number, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.knowledge_result import KnowledgeResult


def words_of(key: str) -> str:
    """A parameter in words."""
    return PARAMETER_WORDS.get(key, key.replace("_", " "))


def knowledge_headline(result: KnowledgeResult) -> str:
    """Consumption at 80 km/h with its doubt, and what it was before the tests.

    >>> knowledge_headline(result)  # doctest: +SKIP
    'At a steady 80 km/h on a calm day it needs 6.3 L/100 km, give or take 0.3, from 4 tests; the build sheet alone ...'
    """
    now, before = result.level_cruise_80, result.level_cruise_80_before
    places = decimals_for_half_width(now.half_width) if now.half_width > 0 else 1
    said = (
        f"At a steady 80 km/h on a calm day it needs {number(now.value, places)} L/100 km, "
        f"give or take {number(now.half_width, places)}"
    )
    count = len(result.tests)
    if count == 0:
        return f"{said}: so says the build sheet alone, no test went in."
    wide = decimals_for_half_width(before.half_width) if before.half_width > 0 else 1
    return (
        f"{said}: so say {'one test' if count == 1 else f'{count} tests'} and the build sheet, which by itself leaves "
        f"{number(before.half_width, wide)} either way."
    )


def knowledge_sheet(result: KnowledgeResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _parameters(result),
        _told(result),
        _tests(result),
        _tied(result),
        _next(result),
        _left_out(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: what is known of it",
        lead=clean(result.sentence) or knowledge_headline(result),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _parameters(result: KnowledgeResult) -> Table:
    columns = (
        Column("parameter", wrap=True),
        Column("build sheet", "right", wrap=True),
        Column("now", "right", wrap=True),
        Column("unit"),
        Column("left, %", "right", 1),
        Column("told most by", rank=2, wrap=True),
    )
    rows = tuple(
        (
            words_of(one.key),
            amount(one.estimate.before),
            amount(one.estimate),
            unit_words(one.estimate.unit),
            number(100 * one.narrowed_to, 0),
            clean(one.told_most_by) or "-",
        )
        for one in result.parameters
    )
    return Table(
        title="The vehicle",
        columns=columns,
        rows=rows,
        note="Left: what the tests leave of the doubt of the build sheet. Growth of rolling: up to 100 km/h, as a "
        "share. How late gears are changed: 0 early, 1 late.",
    )


def moved(before: Figure, after: Figure) -> bool:
    """Whether a test said something of a parameter: its doubt fell by a tenth, or it moved by a quarter of it."""
    doubt = before.standard_uncertainty
    told = after.standard_uncertainty < 0.9 * doubt or abs(after.value - before.value) > 0.25 * doubt
    return told and amount(before) != amount(after)


def _told(result: KnowledgeResult) -> Table | None:
    """Test by test in the order in which they went in, every parameter that it moved."""
    columns = (
        Column("test", wrap=True),
        Column("told of", wrap=True),
        Column("before it", "right", wrap=True),
        Column("after it", "right", wrap=True),
        Column("unit", rank=1),
    )
    rows = []
    for place, test in enumerate(result.tests, start=1):
        steps = [(one, one.ladder[place - 1].figure, one.ladder[place].figure) for one in result.parameters]
        said = [(one, was, now) for one, was, now in steps if moved(was, now)]
        rows += [
            (clean(test.label) if first else "", words_of(one.key), amount(was), amount(now), unit_words(now.unit))
            for first, (one, was, now) in zip([True] + [False] * len(said), said, strict=False)
        ]
        if not said:
            rows.append((clean(test.label), "hardly anything of it as it is now", "-", "-", ""))
    if not rows:
        return None
    note = "In the order in which they went in; what a test hardly moved is left out."
    return Table(title="What each test told", columns=columns, rows=tuple(rows), note=note)


def _tests(result: KnowledgeResult) -> Table | None:
    if not result.tests:
        return None
    columns = (
        Column("test", wrap=True),
        Column("kind"),
        Column("state", rank=1),
        Column("off the others", "right"),
        Column("counts for, %", "right"),
    )
    rows = tuple(
        (clean(t.label), t.kind, t.state, number(t.off_others, 1), number(100 * t.weight, 0)) for t in result.tests
    )
    note = "Off the others: 1 is usual; above 2.6 a test counts for less."
    return Table(title="Each test against all others", columns=columns, rows=rows, note=note)


def _tied(result: KnowledgeResult) -> Prose | None:
    if not result.entangled:
        return None
    return Prose(
        title="What is still entangled",
        lines=tuple(
            f"{words_of(one.first).capitalize()} and {words_of(one.second)} "
            f"(correlation {number(one.correlation, 2)}): {one.words}."
            for one in result.entangled
        ),
    )


def _next(result: KnowledgeResult) -> Bars | None:
    if not result.next_measurements:
        return None
    longest = result.next_measurements[0].bits_per_hour
    bars = []
    for one in result.next_measurements:
        places = decimals_for_half_width(one.half_width_then)
        text = f"± {number(one.half_width_then, places)} {unit_words(one.unit)}, {number(one.minutes, 0)} min"
        bars.append(Bar(one.what, one.bits_per_hour / longest, text))
    now = result.next_measurements[0].half_width_now
    return Bars(
        title="What would tell most for an hour's work",
        bars=tuple(bars),
        note=f"Of the consumption at 80 km/h, now ± {number(now, decimals_for_half_width(now))}.",
    )


def _left_out(result: KnowledgeResult) -> Prose | None:
    lines = [clean(line) for line in result.left_out]
    lines += [f"A weighed litre: {amount(one)} kg/m³ as it was weighed." for one in result.densities]
    return Prose(title="Beside the vehicle", lines=tuple(lines)) if lines else None


def _how(result: KnowledgeResult) -> Prose:
    made, quality = result.provenance, result.quality
    moved = f", moved {quality.moves} times" if quality.moves else ""
    return Prose(
        title="How it was found",
        lines=(
            "All tests speak of one vehicle at once; each keeps its own wind, cold start and scatter. What a change of "
            "the build sheet touched is known less well from then on; the rest carries over.",
            f"{number(quality.draws, 0)} simulated vehicles, of which {number(quality.effective_draws, 0)} still "
            f"counted after the tests at first{moved}.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
