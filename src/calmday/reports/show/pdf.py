"""A document as a tagged PDF, its first part on one page."""

from __future__ import annotations

import base64
from typing import Any

from calmday.reports.charts.lettering import plain
from calmday.reports.print import Picture as PrintedPicture
from calmday.reports.print import typeset
from calmday.reports.print.typesetting import noted, picture_of
from calmday.reports.sheet import Table
from calmday.reports.show.document import (
    Block,
    Document,
    Facts,
    Item,
    Listing,
    Paragraph,
    Photo,
    Photos,
    Picture,
    Section,
    Signing,
    item_text,
    most_to_move,
    rows_of,
    with_room_for,
)
from calmday.reports.unbroken import whole

TEMPLATE = "report"
LETTERS_PT = (9.5, 9.0, 8.5, 8.0)
"""Sizes of the letters tried for the first page before a section leaves it."""

SMALLER_PT = (7.5, 7.0, 6.5, 6.0)
"""Sizes tried where no more sections may leave: for names of many lines only."""

ALONE = 0.6
"""Width of a picture with nothing beside it, of the page's."""


def fitted(document: Document) -> tuple[Document, float]:
    """The document with as few sections moved as its first page needs to be one page, and the size of its letters.

    Raises MissingExtraError without the typesetter.
    """
    most = most_to_move(document)
    for moved in range(most + 1):
        tried = with_room_for(document, moved)
        for size in LETTERS_PT:
            if _front_ends(tried, size) == 1:
                return tried, size
    barest = with_room_for(document, most)
    fits = (size for size in SMALLER_PT if _front_ends(barest, size) == 1)
    return barest, next(fits, SMALLER_PT[-1])


def pdf_document(document: Document, size: float = LETTERS_PT[0]) -> bytes:
    """The PDF of a document as it is. Raises MissingExtraError without the typesetter."""
    data, pictures = _data(document, size)
    return typeset(TEMPLATE, data, title=plain(document.question), pictures=pictures)


def _front_ends(document: Document, size: float) -> int:
    data, pictures = _data(document, size)
    return int(noted(TEMPLATE, data, "front-ends", title=document.question, pictures=pictures))


def _data(document: Document, size: float) -> tuple[dict[str, Any], dict[str, PrintedPicture]]:
    """What the template reads, and the pictures by name."""
    pictures: dict[str, PrintedPicture] = {}
    front = [[_section(section, 3, pictures, len(row) == 2) for section in row] for row in rows_of(document.front)]
    data = {
        "size": size,
        "question": document.question,
        "answer": document.answer,
        "under": list(document.under),
        "stops": _block(document.stops, 3, pictures, False) if document.stops is not None else None,
        "front": front,
        "back_title": document.back_title,
        "back": [[_section(s, 4, pictures, len(row) == 2) for s in row] for row in rows_of(document.back)],
        "foot": " · ".join(part for part in (document.subject, document.made, document.footer) if part),
    }
    return _plain(data), pictures


def _plain(value: Any) -> Any:
    """The same value with every text as one line without characters that no page may hold."""
    if isinstance(value, str):
        return whole(plain(value))
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return {key: _plain(each) for key, each in value.items()} if isinstance(value, dict) else value


def _section(section: Section, level: int, pictures: dict[str, PrintedPicture], half: bool) -> dict[str, Any]:
    return {
        "title": section.title,
        "blocks": [_block(block, level, pictures, half) for block in section.blocks],
    }


def _block(block: Block, level: int, pictures: dict[str, PrintedPicture], half: bool) -> dict[str, Any]:
    if isinstance(block, Paragraph):
        return {"kind": "paragraph", "text": block.text, "tone": block.tone}
    if isinstance(block, Listing):
        return {"kind": "list", "ordered": block.ordered, "items": [_item(item) for item in block.items]}
    if isinstance(block, Facts):
        return {"kind": "facts", "pairs": [list(pair) for pair in block.pairs]}
    return _table(block, level) if isinstance(block, Table) else _drawn(block, pictures, half)


def _drawn(block: Picture | Photos | Signing, pictures: dict[str, PrintedPicture], half: bool) -> dict[str, Any]:
    if isinstance(block, Picture):
        name = f"p{len(pictures)}"
        pictures[name] = picture_of(block.chart, "narrow" if half else "page")
        return {"kind": "picture", "name": name, "share": 1.0 if half else ALONE}
    if isinstance(block, Photos):
        return {"kind": "photos", "photos": [_photo(photo, pictures) for photo in block.photos]}
    return {"kind": "signing", "lines": list(block.lines)}


def _framed(photo: Photo) -> bytes:
    """The photograph within a drawing: the typesetter takes files from memory only where they are text."""
    size = f'width="{photo.wide}" height="{photo.high}"'
    data = base64.b64encode(photo.jpeg).decode()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {photo.wide} {photo.high}">'
        f'<image {size} href="data:image/jpeg;base64,{data}"/></svg>'
    ).encode()


def _photo(photo: Photo, pictures: dict[str, PrintedPicture]) -> dict[str, str]:
    name = f"p{len(pictures)}"
    pictures[name] = PrintedPicture(content=_framed(photo), words=photo.alt)
    return {"name": name, "caption": photo.caption}


def _item(item: Item) -> dict[str, str]:
    whole = item_text(item)
    if not item.lead:
        return {"before": whole, "lead": "", "after": ""}
    before, lead, after = whole.partition(item.lead)
    return {"before": before, "lead": lead, "after": after}


def _table(table: Table, level: int) -> dict[str, Any]:
    return {
        "kind": "table",
        "title": table.title,
        "level": level,
        "columns": [{"head": c.head, "right": c.align == "right", "wrap": c.wrap} for c in table.columns],
        "headed": any(column.head for column in table.columns),
        "rows": [list(row) for row in table.rows],
        "note": table.note,
    }
