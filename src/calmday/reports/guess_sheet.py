"""The guess board as a sheet: who was nearest, what the crowd knew, how to check the seals."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from calmday.reports.guess_sentence import RULE_WORDS, guess_headline, in_steps
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, number, typed, unit_words

if TYPE_CHECKING:
    from calmday.procedures.guess_result import GuessBoard, GuessRow

SEAL_WORDS = {"holds": "seal holds", "broken": "seal broken", "none": "not sealed"}
CHECK_LINE = "printf '%s\\n%s\\n%s' SALT NAME GUESS | sha256sum"


def guess_sheet(board: GuessBoard) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", board.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        ranking(board),
        crowd(board),
        _others(board),
        remarks("Worth knowing", board.flags, ("caution", "note")),
        _seals(board),
        _how(board),
    ]
    label = clean(board.label)
    return Sheet(
        title=f"{label}: who guessed best?" if label else "Who guessed best?",
        lead=clean(board.sentence) or guess_headline(board),
        under=(rule_words(board),),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def rule_words(board: GuessBoard) -> str:
    """The rule, and when it was declared."""
    said = f"Nearest by {RULE_WORDS[board.rule]}, against the figure {'on the ' if board.figure == 'calm day' else ''}"
    said += board.figure
    if board.declared:
        return f"{said}; declared {moment(board.declared)}."
    return f"{said}; nobody declared a rule beforehand."


def moment(text: str) -> str:
    """A time as the logbook or a file keeps it, as people say it.

    >>> moment("2026-04-12T09:30:00+02:00"), moment("2026-04-12")
    ('12 April 2026, 09:30 (UTC+02:00)', '12 April 2026')
    """
    try:
        found = dt.datetime.fromisoformat(text)
    except ValueError:
        return clean(text)
    day = f"{found.day} {found:%B %Y}"
    if len(text) <= len("2026-04-12"):
        return day
    zone = f" ({found.tzname()})" if found.tzinfo is not None else ""
    return f"{day}, {found:%H:%M}{zone}"


def ranking(board: GuessBoard) -> Table:
    """Everybody by place."""
    unit = unit_words(board.unit)
    tied = {row.place for row in board.guesses if sum(other.place == row.place for other in board.guesses) > 1}
    return Table(
        title="Places",
        columns=(
            Column("place", "right"),
            Column("who", wrap=True),
            Column("guess", "right"),
            Column(unit, "right", 2),
            Column(f"off, {unit_words(board.off_unit)}", "right"),
            Column("in the doubt", rank=3),
            Column("seal", rank=1),
        ),
        rows=tuple(_row(board, row, row.place in tied) for row in board.guesses),
        note="In the doubt: the guess lies within the give-or-take of the result.",
    )


def _row(board: GuessBoard, row: GuessRow, tied: bool) -> tuple[str, ...]:
    return (
        f"{row.place}{' =' if tied else ''}",
        f"{clean(row.by) or 'somebody'}{' (the program itself)' if row.own else ''}",
        typed(row.as_entered),
        in_steps(row.shown, board.result),
        number(row.off_by, 2 if board.off_unit == "L/100km" else 1),
        "yes" if row.within else "no",
        SEAL_WORDS[row.seal],
    )


def crowd(board: GuessBoard) -> Table | None:
    """What all people together said."""
    found = board.crowd
    if found is None:
        return None
    unit = unit_words(board.unit)
    rows = [
        ("guesses", str(found.count)),
        ("middle one (median)", f"{in_steps(found.median, board.result)} {unit}"),
        ("mean", f"{number(found.mean, 1)} {unit}"),
        ("from lowest to highest", f"{number(found.lowest, 1)} to {number(found.highest, 1)} {unit}"),
        ("single guesses that the middle beats", f"{found.beats} of {found.count}"),
    ]
    if found.spread is not None:
        rows.insert(3, ("spread (two in three lie this near the mean)", f"{number(found.spread, 1)} {unit}"))
    return Table(title="What everybody said together", columns=(Column(""), Column("", wrap=True)), rows=tuple(rows))


def _others(board: GuessBoard) -> Table | None:
    differing = [other for other in board.other_rules if other.differs]
    if not differing:
        return None
    return Table(
        title="By another rule",
        columns=(Column("nearest by", wrap=True), Column("first three", wrap=True)),
        rows=tuple(
            (RULE_WORDS[other.rule], ", ".join(clean(name) or "somebody" for name in other.order[:3]))
            for other in differing
        ),
    )


def _seals(board: GuessBoard) -> Prose | None:
    sealed = [row for row in board.guesses if row.digest]
    if not sealed:
        return None
    return Prose(
        title="Check the seals yourself",
        lines=(
            f"On any computer: {CHECK_LINE}. It must print the seal that was shown before the weigh-in.",
            *(
                f"{clean(row.by)}, {clean(row.as_entered)}: salt {clean(row.salt)}, seal {clean(row.digest)}"
                for row in sealed
            ),
        ),
    )


def _how(board: GuessBoard) -> Prose:
    made = board.provenance
    return Prose(
        title="How it was found",
        lines=(
            f"Result: {amount(board.L_per_100km)} L/100 km, {amount(board.mpg_us)} mpg US, "
            f"{amount(board.mpg_imp)} mpg imp. Give or take (±): 95 times in 100 the truth lies inside.",
            "The middle and the mean are taken in the unit of the board, without the program's own guess.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}.",
        ),
    )
