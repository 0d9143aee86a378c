"""Who guessed what, on the first page: the head of the guess board, with the rule it goes by."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import msgspec

from calmday.reports.guess_sentence import in_steps
from calmday.reports.guess_sheet import ranking, rule_words
from calmday.reports.show.document import Block, Item, Listing, Paragraph, Section
from calmday.reports.words import clean, unit_words

if TYPE_CHECKING:
    from calmday.procedures.guess_result import GuessBoard

ON_PAGE: Final = 6


def guess_section(board: GuessBoard | None) -> Section | None:
    """The nearest guesses, the middle of them all, and what is wrong with the board where something is."""
    if board is None or not board.guesses:
        return None
    stops = [flag for flag in board.flags if flag.severity == "stop"]
    if stops:
        items = tuple(Item(lead=clean(flag.saw), text=clean(flag.remedy), mark="stop") for flag in stops)
        return Section(title="Who guessed best", blocks=(Listing(items),), rank=4)
    whole = ranking(board)
    table = msgspec.structs.replace(whole, title="", rows=whole.rows[:ON_PAGE], note="")
    said = rule_words(board)
    if board.crowd is not None and board.crowd.count > 2:
        middle = in_steps(board.crowd.median, board.result)
        said += f" The middle of all {board.crowd.count} guesses: {middle} {unit_words(board.unit)}."
    hidden = len(whole.rows) - ON_PAGE
    if hidden > 0:
        said += f" {hidden} more guessed." if hidden > 1 else " One more guessed."
    blocks: tuple[Block, ...] = (table, Paragraph(said, "small"))
    return Section(title="Who guessed best", blocks=blocks, rank=4)
