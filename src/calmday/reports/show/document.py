"""A report as plain structure: parts, sections and blocks in reading order. What writes it adds no word of its own.

The first part is the page that everybody reads, the second is for those who doubt it. A section says by its `rank`
which of them leave the first page where there is no room for all: the highest first, rank 0 never.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import msgspec

from calmday.reports.charts.chart import Chart
from calmday.reports.charts.lettering import plain
from calmday.reports.sheet import Table

Tone = Literal["body", "small", "strong"]
Mark = Literal["", "stop", "caution", "note", "fair", "answer"]

MARKS: dict[Mark, str] = {
    "": "",
    "stop": "Stop: ",
    "caution": "Take care: ",
    "note": "Note: ",
    "fair": "Fair point. ",
    "answer": "",
}
"""What stands before an item, so that nothing is said by colour or shape alone."""


class Paragraph(msgspec.Struct, frozen=True):
    """A short paragraph."""

    text: str
    tone: Tone = "body"


class Item(msgspec.Struct, frozen=True, kw_only=True):
    """One item of a list: `lead` in bold, then the rest. `mark` what kind it is."""

    text: str
    lead: str = ""
    mark: Mark = ""


class Listing(msgspec.Struct, frozen=True):
    """Items one under the other."""

    items: tuple[Item, ...]
    ordered: bool = False


class Facts(msgspec.Struct, frozen=True):
    """Pairs of what and value, one on a line."""

    pairs: tuple[tuple[str, str], ...]


class Picture(msgspec.Struct, frozen=True):
    """A chart, with its own title and, for those who do not see it, its description."""

    chart: Chart

    @property
    def alt(self) -> str:
        """What the picture shows, in a sentence with numbers."""
        return self.chart.description


class Photo(msgspec.Struct, frozen=True, kw_only=True):
    """A photograph, as JPEG without anything but the picture."""

    jpeg: bytes
    wide: int
    high: int
    alt: str
    caption: str


class Photos(msgspec.Struct, frozen=True):
    """Photographs side by side."""

    photos: tuple[Photo, ...]


class Signing(msgspec.Struct, frozen=True):
    """Lines to sign on: what is written under each."""

    lines: tuple[str, ...]


Block = Paragraph | Listing | Facts | Table | Picture | Photos | Signing


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """Blocks under a heading. `rank` 0 stays on the first page, the highest leaves it first. `half` may stand beside
    its neighbour in half the width."""

    title: str
    blocks: tuple[Block, ...]
    rank: int = 0
    half: bool = False


class Document(msgspec.Struct, frozen=True, kw_only=True):
    """A report.

    `question` its title, `answer` the one sentence, `under` what must be said right below it; `front` the sections of
    the first page, `back_title` and `back` the pages for critics; `footer` stands at the foot of every printed page,
    `made` the date on it, `author` whose it is.
    """

    question: str
    answer: str
    under: tuple[str, ...] = ()
    stops: Listing | None = None
    front: tuple[Section, ...]
    back_title: str
    back: tuple[Section, ...]
    footer: str
    subject: str
    made: str = ""
    sound: bool = True


MOVED_TITLE = "Also on the pages for critics"


def with_room_for(document: Document, moved: int) -> Document:
    """The document with `moved` sections taken from the first page to the start of the pages for critics.

    Those of the highest rank go first, of equal rank the last one; the first page says what has gone. Rank 0 stays.
    """
    ranked = sorted(
        (index for index, section in enumerate(document.front) if section.rank),
        key=lambda index: (-document.front[index].rank, -index),
    )
    gone = sorted(ranked[:moved])
    if not gone:
        return document
    left = tuple(section for index, section in enumerate(document.front) if index not in gone)
    taken = tuple(document.front[index] for index in gone)
    said = Paragraph(f"{MOVED_TITLE}: {', '.join(_lower(section.title) for section in taken)}.", "small")
    kept = (*left[:-1], msgspec.structs.replace(left[-1], blocks=(said, *left[-1].blocks))) if left else ()
    return msgspec.structs.replace(document, front=kept, back=(*taken, *document.back))


def most_to_move(document: Document) -> int:
    """How many sections may leave the first page."""
    return sum(section.rank > 0 for section in document.front)


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]


def rows_of(sections: tuple[Section, ...]) -> list[list[Section]]:
    """Sections in rows: two that may stand in half the width and follow each other share one."""
    rows: list[list[Section]] = []
    for section in sections:
        if section.half and rows and len(rows[-1]) == 1 and rows[-1][0].half:
            rows[-1].append(section)
        else:
            rows.append([section])
    return rows


def texts(document: Document) -> Iterator[str]:
    """Every text of the document in reading order, each as it is printed; what pictures show comes as their words."""
    yield plain(document.question)
    yield plain(document.answer)
    yield from map(plain, document.under)
    if document.stops is not None:
        yield from block_texts(document.stops)
    for section in document.front:
        yield from _section(section)
    yield plain(document.back_title)
    for section in document.back:
        yield from _section(section)


def _section(section: Section) -> Iterator[str]:
    if section.title:
        yield plain(section.title)
    for block in section.blocks:
        yield from block_texts(block)


def block_texts(block: Block) -> Iterator[str]:
    """Every text of a block in reading order."""
    yield from map(plain, _block(block))


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Paragraph):
        yield block.text
    elif isinstance(block, Listing):
        yield from _listing(block)
    elif isinstance(block, Facts):
        for what, value in block.pairs:
            yield from (what, value)
    elif isinstance(block, Table):
        yield from _table(block)
    elif isinstance(block, Picture):
        yield block.alt
    elif isinstance(block, Photos):
        for photo in block.photos:
            yield from (photo.alt, photo.caption)
    else:
        yield from block.lines


def _listing(block: Listing) -> Iterator[str]:
    for item in block.items:
        yield item_text(item)


def item_text(item: Item) -> str:
    """An item as it is read."""
    lead = f"{item.lead} " if item.lead else ""
    return f"{MARKS[item.mark]}{lead}{item.text}" if item.mark != "fair" else f"{lead}{MARKS['fair']}{item.text}"


def _table(block: Table) -> Iterator[str]:
    if block.title:
        yield block.title
    yield from (column.head for column in block.columns if column.head)
    for row in block.rows:
        yield from (cell for cell in row if cell)
    if block.note:
        yield block.note
