"""Who guessed best, in one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width, listed
from calmday.reports.words import clean, is_known, number, typed, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.guess_result import GuessBoard, OwnGuess

RULE_WORDS = {
    "fuel per distance": "fuel for the same distance",
    "distance per fuel": "distance for the same fuel",
    "proportion": "the proportion",
}
MOST_NAMED = 3


def guess_headline(board: GuessBoard) -> str:
    """The result, who was nearest, and what the crowd said.

    >>> guess_headline(board)  # doctest: +SKIP
    'It used 34.9 mpg imp, give or take 0.8; Ada was nearest with 33 mpg imp. All eleven together said 29.'
    """
    if any(flag.severity == "stop" for flag in board.flags):
        return "Nobody can be called nearest: the remarks below say why."
    if not board.guesses or not is_known(board.result):
        return "Nobody guessed, or the result is not known."
    unit = unit_words(board.unit)
    first = [row for row in board.guesses if row.place == 1]
    names = [f"{clean(row.by) or 'somebody'} with {typed(row.as_entered)}" for row in first[:MOST_NAMED]]
    more = f" and {len(first) - MOST_NAMED} more" if len(first) > MOST_NAMED else ""
    together = " alike" if len(first) > 1 else ""
    said = f"It used {spoken(board.result)} {unit}{_doubt(board.result)}; "
    said += f"{listed(names)}{more} {'were' if len(first) > 1 else 'was'} nearest{together}."
    if board.crowd is not None and board.crowd.count > 2:
        said += f" The middle of all {board.crowd.count} guesses was {in_steps(board.crowd.median, board.result)}."
    return said


def own_guess_headline(made: OwnGuess) -> str:
    """What the program expects, before anything is weighed."""
    litres = made.L_per_100km
    return f"Calmday guesses {typed(made.text)} ({spoken(litres)} L/100 km{_doubt(litres)}), from {clean(made.basis)}."


def spoken(figure: Figure) -> str:
    """A figure rounded to its doubt."""
    return in_steps(figure.value, figure)


def in_steps(value: float, of: Figure) -> str:
    """A value to the digits that a figure deserves, and at least whole units of a tenth."""
    half = of.half_width
    return number(value, min(max(decimals_for_half_width(half), 0), 2) if half > 0 else 1)


def _doubt(figure: Figure) -> str:
    half = figure.half_width
    if not half > 0:
        return ""
    shown = number(half, min(max(decimals_for_half_width(half), 0), 2))
    return f", give or take {shown}" if shown.strip("0.") else ""
