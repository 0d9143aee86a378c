"""A run's sheet as HTML for a notebook: the words and order of the terminal sheet, nothing fetched."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from calmday.reports.plain_sheet import SEVERITY_WORDS
from calmday.reports.run_sheet import run_sheet
from calmday.reports.sheet import Bar, Bars, Block, Remark, Remarks, Table

if TYPE_CHECKING:
    from calmday.procedures.weighed_run_result import RunResult

BAR_COLOUR = "#0072B2"  # the blue of Okabe and Ito
LONGEST_BAR_EM = 20


def reduction_html(result: RunResult) -> str:
    """The sheet as an HTML fragment. The sentence and the first tables are open, the rest folds away."""
    sheet = run_sheet(result)
    head = f"<p><strong>{escape(sheet.lead)}</strong></p>"
    under = "".join(f"<p>{escape(line)}</p>" for line in sheet.under)
    first, rest = sheet.blocks[:3], sheet.blocks[3:]
    details = "".join(_block(block) for block in rest)
    folded = f"<details><summary>The rest of the sheet</summary>{details}</details>"
    return f"<div>{head}{under}{''.join(_block(block) for block in first)}{folded}</div>"


def _block(block: Block) -> str:
    title = f"<h4>{escape(block.title)}</h4>" if block.title else ""
    if isinstance(block, Table):
        return f"{title}{_table(block)}{_paragraph(block.note)}"
    if isinstance(block, Bars):
        return f"{title}{_bars(block)}{_paragraph(block.note)}"
    if isinstance(block, Remarks):
        return f"{title}<ul>{''.join(_remark(item) for item in block.items)}</ul>"
    return title + "".join(_paragraph(line) for line in block.lines)


def _paragraph(text: str) -> str:
    return f"<p>{escape(text)}</p>" if text else ""


def _table(table: Table) -> str:
    styles = [f' style="text-align:{column.align}"' for column in table.columns]
    heads = "".join(
        f"<th{style}>{escape(column.head)}</th>" for column, style in zip(table.columns, styles, strict=True)
    )
    rows = "".join(f"<tr>{_cells(row, styles)}</tr>" for row in table.rows)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def _cells(row: tuple[str, ...], styles: list[str]) -> str:
    return "".join(f"<td{style}>{escape(cell)}</td>" for cell, style in zip(row, styles, strict=True))


def _bars(block: Bars) -> str:
    rows = "".join(
        f"<tr><td>{escape(bar.label)}</td><td>{escape(bar.text)}</td><td>"
        f'<div aria-hidden="true" style="{_bar_style(bar)}"></div></td></tr>'
        for bar in block.bars
    )
    return f"<table><tbody>{rows}</tbody></table>"


def _bar_style(bar: Bar) -> str:
    return f"height:1em;background:{BAR_COLOUR};width:{LONGEST_BAR_EM * bar.length:.2f}em"


def _remark(item: Remark) -> str:
    todo = f" <em>To do: {escape(item.remedy)}</em>" if item.remedy else ""
    head = f"<strong>{SEVERITY_WORDS[item.severity]}:</strong>"
    return f"<li>{head} {escape(item.saw)} {escape(item.why)}{todo}</li>"
