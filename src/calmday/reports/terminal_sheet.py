"""A sheet on a terminal: colour and drawn bars on top of the same words, order and widths as the plain sheet.

Colours are those of Okabe and Ito (2008), told apart by every kind of colour vision; a word or a mark always
says the same thing as the colour, so the sheet reads in greyscale too. Text keeps the terminal's own colours,
which the reader has chosen for contrast; only bars and marks are coloured.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.layout import GAP, fit, page_width, wrap
from calmday.reports.plain_sheet import INDENT, SEVERITY_WORDS, bar_lines, stacked
from calmday.reports.sheet import Bars, Block, Prose, Remarks, Sheet, Table

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

BLUE, ORANGE, VERMILION = "#56B4E9", "#E69F00", "#D55E00"
BAR_MARK = "\u2588"
SEVERITY_MARK = {"stop": ("✗", VERMILION), "caution": ("!", ORANGE), "note": ("·", BLUE)}


def print_sheet(sheet: Sheet, console: Console) -> None:
    """Draw the sheet on a rich console, no line wider than the page."""
    from rich.text import Text  # noqa: PLC0415  (rich only where a terminal really shows a sheet)

    width = page_width(console.width)
    console.print(Text(sheet.title), width=width)
    console.print()
    for line in wrap(sheet.lead, width):
        console.print(Text(line, style="bold"))
    for paragraph in sheet.under:
        for line in wrap(paragraph, width):
            console.print(Text(line, style="italic"))
    for block in sheet.blocks:
        console.print()
        for part in _block(block, width):
            console.print(part)


def _block(block: Block, width: int) -> list[RenderableType]:
    if isinstance(block, Table):
        return [*_titled(block.title, width), *_table(block, width)]
    if isinstance(block, Bars):
        return [*_titled(block.title, width), *_bars(block, width), *_note(block.note, width)]
    if isinstance(block, Remarks):
        return [*_titled(block.title, width), *_remarks(block, width)]
    return [*_titled(block.title, width), *_prose(block, width)]


def _lines(text: str, width: int, style: str = "") -> list[RenderableType]:
    from rich.text import Text  # noqa: PLC0415

    return [Text(line, style=style) for line in wrap(text, width)] if text else []


def _titled(title: str, width: int) -> list[RenderableType]:
    return _lines(title, width, "bold")


def _note(note: str, width: int) -> list[RenderableType]:
    return _lines(note, width)


def _prose(block: Prose, width: int) -> list[RenderableType]:
    return [line for paragraph in block.lines for line in _lines(paragraph, width)]


def _table(table: Table, width: int) -> list[RenderableType]:
    from rich.table import Table as RichTable  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    fitted = fit(table, width)
    if fitted is None:
        return [*(Text(line) for line in stacked(table, width)), *_note(table.note, width)]
    headed = any(column.head for column in fitted.table.columns)
    drawn = RichTable(
        box=None,
        show_header=headed,
        show_edge=False,
        pad_edge=False,
        padding=(0, GAP, 0, 0),
        header_style="underline",
    )
    for column, cells in zip(fitted.table.columns, fitted.widths, strict=True):
        drawn.add_column(Text(column.head), justify=column.align, width=cells, no_wrap=True)
    for row in fitted.rows:
        drawn.add_row(*(Text("\n".join(cell)) for cell in row))
    return [drawn, *_note(fitted.table.note, width)]


def _bars(block: Bars, width: int) -> list[RenderableType]:
    from rich.text import Text  # noqa: PLC0415

    lines: list[RenderableType] = []
    for line in bar_lines(block, width, BAR_MARK):
        text = Text(line)
        start = line.find(BAR_MARK)
        if start >= 0:
            text.stylize(BLUE, start)
        lines.append(text)
    return lines


def _remarks(block: Remarks, width: int) -> list[RenderableType]:
    from rich.text import Text  # noqa: PLC0415

    lines: list[RenderableType] = []
    for item in block.items:
        mark, colour = SEVERITY_MARK[item.severity]
        head = f"{mark} {SEVERITY_WORDS[item.severity]}:"
        first, *more = wrap(f"{head} {item.saw}", width - INDENT)
        text = Text(first)
        text.stylize("bold", 0, len(head))
        text.stylize(colour, 0, len(mark))
        lines.append(text)
        said = [*more, *wrap(item.why, width - INDENT)]
        lines += [Text(" " * INDENT + line) for line in said if line]
        todo = wrap(f"To do: {item.remedy}", width - INDENT) if item.remedy else []
        lines += [Text(" " * INDENT + line, style="bold") for line in todo]
    return lines
