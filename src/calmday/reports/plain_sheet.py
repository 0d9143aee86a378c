"""A sheet as plain text: no colour, no boxes, nothing that a pipe or an old terminal could garble."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import MINUS, NARROW_SPACE
from calmday.reports.layout import GAP, fit, pad, page_width, wrap
from calmday.reports.sheet import Bars, Block, Prose, Remarks, Sheet, Table
from calmday.reports.words import text_width

if TYPE_CHECKING:
    from collections.abc import Sequence

SEVERITY_WORDS = {"stop": "Stop", "caution": "Take care", "note": "Note"}
BAR_MARK = "#"
SHORTEST_BAR = 6
INDENT = 2
_KEYBOARD = str.maketrans({MINUS: "-", NARROW_SPACE: " "})
_SPARE = str.maketrans(
    {
        "±": "+/-",
        "°": " deg ",
        "²": "2",
        "³": "3",
        "₂": "2",
        "’": "'",
        "–": "-",
        "—": "-",
        MINUS: "-",
        "✓": "+",
        "✗": "x",
        NARROW_SPACE: " ",
    }
)


def plain_sheet(sheet: Sheet, columns: int = 80) -> str:
    """The sheet as text, no line wider than the page."""
    width = page_width(columns)
    parts = ["\n".join([*wrap(sheet.title, width), "=" * min(text_width(sheet.title), width)])]
    parts.append("\n".join(wrap(sheet.lead, width)))
    parts += ["\n".join(wrap(line, width)) for line in sheet.under]
    parts += ["\n".join(_block(block, width)) for block in sheet.blocks]
    return "\n\n".join(parts).translate(_KEYBOARD) + "\n"


def encodable(text: str, encoding: str | None) -> str:
    """The text with every character that `encoding` lacks replaced by a spelling it has."""
    name = encoding or "ascii"
    try:
        text.encode(name)
    except UnicodeEncodeError:
        return text.translate(_SPARE).encode(name, "replace").decode(name)
    return text


def _block(block: Block, width: int) -> list[str]:
    if isinstance(block, Table):
        return _titled(block.title, width) + _table(block, width)
    if isinstance(block, Bars):
        return _titled(block.title, width) + bar_lines(block, width, BAR_MARK) + _note(block.note, width)
    if isinstance(block, Remarks):
        return _titled(block.title, width) + _remarks(block, width)
    return _titled(block.title, width) + _prose(block, width)


def _titled(title: str, width: int) -> list[str]:
    return [*wrap(title, width), "-" * min(text_width(title), width)] if title else []


def _note(note: str, width: int) -> list[str]:
    return wrap(note, width) if note else []


def _prose(block: Prose, width: int) -> list[str]:
    return [line for paragraph in block.lines for line in wrap(paragraph, width)]


def _table(table: Table, width: int) -> list[str]:
    fitted = fit(table, width)
    if fitted is None:
        return stacked(table, width) + _note(table.note, width)
    aligns = [column.align for column in fitted.table.columns]
    lines = []
    heads = [column.head for column in fitted.table.columns]
    if any(heads):
        lines.append(_joined(heads, fitted.widths, aligns))
    for row in fitted.rows:
        tall = max(len(cell) for cell in row)
        broken = [[cell[i] if i < len(cell) else "" for cell in row] for i in range(tall)]
        lines += [_joined(cells, fitted.widths, aligns) for cells in broken]
    return lines + _note(fitted.table.note, width)


def _joined(cells: Sequence[str], widths: Sequence[int], aligns: Sequence[str]) -> str:
    padded = [pad(cell, width, align) for cell, width, align in zip(cells, widths, aligns, strict=True)]
    return (" " * GAP).join(padded).rstrip()


def stacked(table: Table, width: int) -> list[str]:
    """Row by row, one cell under the other: for pages too narrow for columns."""
    lines = []
    for row in table.rows:
        first, *rest = row
        head = table.columns[0].head
        lines += wrap(f"{head} {first}".strip(), width)
        for column, cell in zip(table.columns[1:], rest, strict=True):
            said = f"{column.head}: {cell}" if column.head else cell
            lines += [" " * INDENT + line for line in wrap(said, width - INDENT)]
    return lines


def bar_lines(block: Bars, width: int, mark: str) -> list[str]:
    """Label, bar and figure on a line each; without the bar where there is no room for one."""
    figures = max((text_width(bar.text) for bar in block.bars), default=0)
    longest = max((text_width(bar.label) for bar in block.bars), default=0)
    labels = min(longest, width - figures - SHORTEST_BAR - 2 * GAP)
    room = width - labels - figures - 2 * GAP
    lines = []
    for bar in block.bars:
        first, *more = wrap(bar.label, labels)
        drawn = mark * round(bar.length * room)
        lines.append(f"{pad(first, labels, 'left')}  {pad(bar.text, figures, 'right')}  {drawn}".rstrip())
        lines += more
    return lines


def _remarks(block: Remarks, width: int) -> list[str]:
    lines = []
    for item in block.items:
        first, *more = wrap(f"{SEVERITY_WORDS[item.severity]}: {item.saw}", width - INDENT)
        said = [*more, *wrap(item.why, width - INDENT), *wrap(f"To do: {item.remedy}", width - INDENT)]
        lines += [first, *(" " * INDENT + line for line in said if line)]
    return lines
