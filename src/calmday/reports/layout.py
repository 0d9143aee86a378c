"""Fitting a sheet to the width of the page: which columns stay, where lines break."""

from __future__ import annotations

import re
import textwrap

import msgspec

from calmday.reports.sheet import Table
from calmday.reports.words import text_width

GAP = 2
NARROWEST = 10
NARROW_PAGE, WIDE_PAGE = 40, 100
_NBSP = "\u00a0"
_AFTER_NUMBER = re.compile(r"(?<=\d) (?=[^\W\d_]|%|°|±|\d{3}\b)|(?<=±) (?=\d)")


class FittedTable(msgspec.Struct, frozen=True):
    """A table whose columns fit: `widths` per column, cells already broken into lines."""

    table: Table
    widths: tuple[int, ...]
    rows: tuple[tuple[tuple[str, ...], ...], ...]


def page_width(columns: int) -> int:
    """Columns to write in: the terminal's, within what reads well."""
    return min(max(columns, NARROW_PAGE), WIDE_PAGE)


def wrap(text: str, width: int) -> list[str]:
    """Break at spaces, but never between a number and its unit where that fits; long words are cut."""
    glued = _AFTER_NUMBER.sub(_NBSP, text)
    lines = textwrap.wrap(glued, max(width, 1), break_on_hyphens=False) or [""]
    return [line.replace(_NBSP, " ") for line in _narrow_enough(lines, width)]


def _narrow_enough(lines: list[str], width: int) -> list[str]:
    """Cut lines that are still too wide because their characters take two columns each."""
    fitting: list[str] = []
    for line in lines:
        rest = line
        while text_width(rest) > width:
            cut = width
            while cut > 1 and text_width(rest[:cut]) > width:
                cut -= 1
            fitting.append(rest[:cut])
            rest = rest[cut:]
        fitting.append(rest)
    return fitting


def fit(table: Table, width: int) -> FittedTable | None:
    """Drop columns by rank, then narrow the wrapping ones; None where even that does not fit `width`."""
    kept = list(range(len(table.columns)))
    while _natural(table, kept) > width and any(table.columns[index].rank for index in kept):
        worst = max(kept, key=lambda index: table.columns[index].rank)
        kept.remove(worst)
    slim = Table(
        title=table.title,
        columns=tuple(table.columns[index] for index in kept),
        rows=tuple(tuple(row[index] for index in kept) for row in table.rows),
        note=_note_of(table, kept),
    )
    widths = _widths(slim)
    room = width - GAP * (len(widths) - 1)
    for least in (_longest_words(slim), [NARROWEST] * len(widths)):
        _narrow(widths, least, room, [column.wrap for column in slim.columns])
    if sum(widths) > room:
        return None
    rows = tuple(tuple(tuple(wrap(cell, widths[i])) for i, cell in enumerate(row)) for row in slim.rows)
    return FittedTable(slim, tuple(widths), rows)


def _note_of(table: Table, kept: list[int]) -> str:
    """The note of a table without what explains columns that were left out."""
    note = table.note
    for index, column in enumerate(table.columns):
        if index not in kept and column.note:
            note = note.replace(column.note, "").replace("  ", " ").strip()
    return note


def _narrow(widths: list[int], least: list[int], room: int, wraps: list[bool]) -> None:
    """Take from the widest wrapping column, again and again, until all fit or none can give."""
    while sum(widths) > room:
        able = [i for i, wrapping in enumerate(wraps) if wrapping and widths[i] > least[i]]
        if not able:
            return
        widths[max(able, key=lambda i: widths[i])] -= 1


def _longest_words(table: Table) -> list[int]:
    """Width of each column's head and of its longest word, so that none is cut while there is room elsewhere."""
    return [
        max(NARROWEST, text_width(column.head), *(_longest_word(row[i]) for row in table.rows), 1)
        for i, column in enumerate(table.columns)
    ]


def _longest_word(cell: str) -> int:
    return max(text_width(word) for word in _AFTER_NUMBER.sub(_NBSP, cell).split(" "))


def _natural(table: Table, kept: list[int]) -> int:
    """Width with the columns kept, wrapping ones counted at no more than what still reads."""
    widths = _widths(table)
    least = [min(widths[i], 2 * NARROWEST) if table.columns[i].wrap else widths[i] for i in kept]
    return sum(least) + GAP * (len(kept) - 1)


def _widths(table: Table) -> list[int]:
    columns = range(len(table.columns))
    return [max(text_width(table.columns[i].head), *(text_width(row[i]) for row in table.rows), 1) for i in columns]


def pad(text: str, width: int, align: str) -> str:
    """The text filled with spaces to the width."""
    space = " " * max(width - text_width(text), 0)
    return space + text if align == "right" else text + space
