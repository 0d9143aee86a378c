"""A document as one HTML file that stands alone: no script, nothing fetched, light, dark and print."""

from __future__ import annotations

import base64
from html import escape as _escaped

from calmday.reports.charts.lettering import plain
from calmday.reports.charts.palette import stylesheet
from calmday.reports.sheet import Table
from calmday.reports.show.document import (
    Document,
    Facts,
    Item,
    Listing,
    Paragraph,
    Photos,
    Picture,
    Section,
    Signing,
    item_text,
    rows_of,
)
from calmday.reports.unbroken import whole


def escape(text: str) -> str:
    """A text as one line that HTML takes for nothing but text, its figures held together."""
    return _escaped(whole(plain(text)))


MOST_ABREAST = 2
"""Columns that stand side by side on the narrowest screen; rows of wider tables are stacked there."""

STACKS = ' class="stacks"'
"""Roles are said outright, because a table laid out as blocks is no table to a screen reader any more."""

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"

STYLE = """
*, *::before, *::after { box-sizing: border-box; }
:root { --paper: #FFFFFF; --ink: #16181B; --soft: #474B50; --rule: #B6BBC1; color-scheme: light dark; }
@media (prefers-color-scheme: dark) {
  :root { --paper: #14171A; --ink: #F2F3F5; --soft: #C6CAD0; --rule: #5A6169; }
}
html { background: var(--paper); color: var(--ink); }
body { margin: 0 auto; max-width: 60rem; padding: 1.5rem 1rem 3rem; line-height: 1.5; overflow-wrap: anywhere;
  font-family: "DejaVu Sans", Verdana, "Noto Sans", system-ui, sans-serif; }
h1 { font-size: 1.6rem; line-height: 1.25; margin: 0 0 1rem; }
h2 { font-size: 1.15rem; margin: 1.8rem 0 0.5rem; }
h3 { font-size: 1rem; margin: 1.2rem 0 0.4rem; }
.back > h2 { font-size: 1.4rem; border-top: 3px solid var(--ink); padding-top: 1rem; margin-top: 3rem; }
.back h3 { font-size: 1.1rem; }
.back h4 { font-size: 1rem; margin: 1rem 0 0.3rem; }
.answer { font-size: 1.3rem; line-height: 1.4; font-weight: 700; margin: 0 0 0.6rem; }
.small { color: var(--soft); font-size: 0.95rem; }
p, ul, ol, dl, table, figure { margin: 0.4rem 0; }
li { margin: 0.35rem 0; }
.stop { border: 3px solid var(--ink); padding: 0.4rem 1rem; }
dl.facts > div { display: grid; grid-template-columns: minmax(6rem, 11rem) 1fr; gap: 0.8rem; padding: 0.15rem 0;
  border-bottom: 1px solid var(--rule); }
dt { color: var(--soft); }
dd { margin: 0; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
th, td { padding: 0.25rem 0.9rem 0.25rem 0; text-align: left; vertical-align: baseline; font-weight: 400;
  overflow-wrap: normal; }
.wrap { min-width: 8rem; max-width: 24rem; overflow-wrap: anywhere; }
thead th { color: var(--soft); border-bottom: 2px solid var(--rule); }
tbody tr { border-bottom: 1px solid var(--rule); }
.right { text-align: right; }
.whole { white-space: nowrap; }
@media screen and (max-width: 32rem) {
  dl.facts > div { grid-template-columns: 1fr; gap: 0; }
  .stacks, .stacks tbody, .stacks tr, .stacks th, .stacks td { display: block; }
  .stacks thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .stacks tr { padding: 0.5rem 0; }
  .stacks th, .stacks td { padding: 0.1rem 0; text-align: left; white-space: normal; min-width: 0; max-width: none; }
  .stacks tbody th { font-weight: 700; }
  .stacks td { display: grid; grid-template-columns: minmax(0, 9fr) minmax(0, 11fr); gap: 0 0.8rem; }
  .stacks td::before { content: attr(data-head); color: var(--soft); }
  .stacks th.right[data-head]::before { content: attr(data-head) " "; font-weight: 400; color: var(--soft); }
  .stacks td[data-head=""] { grid-template-columns: minmax(0, 1fr); }
  .stacks td[data-head=""]::before { content: none; }
  .stacks td:empty { display: none; }
}
caption { text-align: left; font-weight: 700; padding: 0.6rem 0 0.2rem; }
@media screen and (min-width: 52rem) { .pair { display: grid; grid-template-columns: 1fr 1fr; gap: 2rem; } }
.pair > section { min-width: 0; }
.photos { display: flex; flex-wrap: wrap; gap: 1rem; }
.photos figure { flex: 1 1 12rem; max-width: 20rem; }
.photos img { width: 100%; height: auto; display: block; }
.signing { display: grid; grid-template-columns: repeat(auto-fit, minmax(10rem, 1fr)); gap: 2rem; margin-top: 3rem; }
.signing p { border-top: 1px solid var(--ink); margin: 0; padding-top: 0.2rem; color: var(--soft); }
footer { margin-top: 3rem; border-top: 1px solid var(--rule); padding-top: 0.5rem; color: var(--soft); }
@media print {
  :root { --paper: #FFFFFF; --ink: #000000; --soft: #333333; --rule: #999999; color-scheme: light; }
  @page { size: A4; margin: 11mm 14mm; }
  body { max-width: none; padding: 0; font-size: 8pt; line-height: 1.25; }
  h1 { font-size: 13pt; margin: 0 0 2mm; } .answer { font-size: 10.5pt; margin: 0 0 1mm; }
  h2, .back h3 { font-size: 10pt; margin: 2.5mm 0 1mm; }
  .back { break-before: page; }
  .back > h2 { font-size: 13pt; border: 0; margin-top: 0; padding-top: 0; }
  li, tr, figure, dl.facts > div { break-inside: avoid; } h2, h3, h4 { break-after: avoid; }
  dl.facts > div { padding: 0; }
  .small { font-size: 8pt; } th, td { padding-top: 0.2mm; padding-bottom: 0.2mm; }
  .pair { display: grid; grid-template-columns: 1fr 1fr; gap: 6mm; }
  p, ul, ol, dl, table, figure { margin: 0.8mm 0; } li { margin: 0.4mm 0; }
  .chart svg { max-width: 100mm; }
  .chart .chart-page, .pair .chart .chart-narrow { display: block; }
  .chart .chart-narrow, .pair .chart .chart-page { display: none; }
  .signing { margin-top: 6mm; }
}
"""


def html_document(document: Document) -> str:
    """The whole file. The words and their order are those of the document."""
    title = escape(" · ".join(part for part in (document.question, document.subject) if part))
    style = f"{stylesheet()}{STYLE}"
    return (
        '<!doctype html>\n<html lang="en" data-theme="device">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{title}</title>\n<style>{style}</style>\n</head>\n<body>\n<main>\n"
        f"{_front(document)}\n{_back(document)}\n</main>\n"
        f"<footer><p>{escape(_foot(document))}</p></footer>\n</body>\n</html>\n"
    )


def _foot(document: Document) -> str:
    return " · ".join(part for part in (document.subject, document.made, document.footer) if part)


def _front(document: Document) -> str:
    under = "".join(f"<p>{escape(line)}</p>" for line in document.under)
    stops = f'<div class="stop" role="note">{_listing(document.stops)}</div>' if document.stops is not None else ""
    sections = _rows(document.front, 2)
    return (
        f'<article class="front">\n<h1>{escape(document.question)}</h1>\n'
        f'<p class="answer">{escape(document.answer)}</p>\n'
        f"{under}{stops}\n{sections}\n</article>"
    )


def _back(document: Document) -> str:
    sections = _rows(document.back, 3)
    return f'<article class="back">\n<h2>{escape(document.back_title)}</h2>\n{sections}\n</article>'


def _rows(sections: tuple[Section, ...], level: int) -> str:
    """Sections one under the other, two beside each other where they may stand so."""
    rows = []
    for row in rows_of(sections):
        shown = "".join(_section(section, level) for section in row)
        rows.append(f'<div class="pair">{shown}</div>' if len(row) == 2 else shown)
    return "\n".join(rows)


def _section(section: Section, level: int) -> str:
    title = f"<h{level}>{escape(section.title)}</h{level}>" if section.title else ""
    blocks = "".join(_table(b, section.title) if isinstance(b, Table) else _block(b) for b in section.blocks)
    return f"<section>{title}{blocks}</section>"


def _block(block: Paragraph | Listing | Facts | Picture | Photos | Signing) -> str:
    if isinstance(block, Paragraph):
        kind = f' class="{block.tone}"' if block.tone != "body" else ""
        return f"<p{kind}>{escape(block.text)}</p>"
    if isinstance(block, Listing):
        return _listing(block)
    if isinstance(block, Facts):
        pairs = "".join(f"<div><dt>{escape(what)}</dt><dd>{escape(value)}</dd></div>" for what, value in block.pairs)
        return f'<dl class="facts">{pairs}</dl>'
    return _drawn(block)


def _drawn(block: Picture | Photos | Signing) -> str:
    if isinstance(block, Picture):
        return _picture(block)
    return _photos(block) if isinstance(block, Photos) else _signing(block)


def _listing(block: Listing) -> str:
    kind = "ol" if block.ordered else "ul"
    return f"<{kind}>{''.join(f'<li>{_item(item)}</li>' for item in block.items)}</{kind}>"


def _item(item: Item) -> str:
    """The item as `item_text` reads it, with its lead in bold."""
    whole = item_text(item)
    if not item.lead:
        return escape(whole)
    before, _, after = whole.partition(item.lead)
    parts = (escape(before), f"<strong>{escape(item.lead)}</strong>", escape(after))
    return " ".join(part for part in parts if part)


def _table(table: Table, section: str) -> str:
    kinds = [
        f' class="{" ".join(k for k in ("right" if c.align == "right" else "", "wrap" if c.wrap else "whole") if k)}"'
        for c in table.columns
    ]
    heads = "".join(
        f'<th scope="col" role="columnheader"{kind}>{escape(column.head)}</th>'
        if column.head
        else '<td role="cell"></td>'
        for column, kind in zip(table.columns, kinds, strict=True)
    )
    headed = any(column.head for column in table.columns)
    head = f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>' if headed else ""
    names = [f' data-head="{escape(column.head)}"' for column in table.columns]
    stacks = headed and len(table.columns) > MOST_ABREAST
    rows = "".join(_row(row, kinds, names if stacks else [""] * len(names)) for row in table.rows)
    caption = f"<caption>{escape(table.title)}</caption>" if table.title else ""
    note = f'<p class="small">{escape(table.note)}</p>' if table.note else ""
    named = escape(table.title or section) or "Table"
    scroll = f'<div class="scroll" tabindex="0" role="group" aria-label="{named}">'
    body = f'<tbody role="rowgroup">{rows}</tbody>'
    return f'{scroll}<table role="table"{STACKS if stacks else ""}>{caption}{head}{body}</table></div>{note}'


def _row(row: tuple[str, ...], kinds: list[str], names: list[str]) -> str:
    """A row; `names` what each cell is called where it stands under the one before, on a narrow screen."""
    first, *rest = zip(row, kinds, names, strict=True)
    cells = "".join(f'<td role="cell"{kind}{name}>{escape(cell)}</td>' for cell, kind, name in rest)
    return f'<tr role="row"><th scope="row" role="rowheader"{first[1]}{first[2]}>{escape(first[0])}</th>{cells}</tr>'


def _picture(picture: Picture) -> str:
    chart = picture.chart
    wide = chart.svg("page", "page", "report") + chart.svg("narrow", "page", "report")
    return f'<figure class="chart" data-chart="{escape(chart.name)}">{wide}</figure>'


def _photos(block: Photos) -> str:
    figures = "".join(
        f'<figure><img src="data:image/jpeg;base64,{base64.b64encode(photo.jpeg).decode()}" alt="{escape(photo.alt)}" '
        f'width="{photo.wide}" height="{photo.high}"><figcaption>{escape(photo.caption)}</figcaption></figure>'
        for photo in block.photos
    )
    return f'<div class="photos">{figures}</div>'


def _signing(block: Signing) -> str:
    return f'<div class="signing">{"".join(f"<p>{escape(line)}</p>" for line in block.lines)}</div>'
