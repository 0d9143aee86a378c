"""A sheet that is filled in by hand, as plain structure; `field_pdf` sets it in print."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

from calmday.reports.print import Paper, Picture, typeset


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """A box: its label, the unit printed in it, and the plausible range below."""

    label: str
    unit: str = ""
    range: str = ""


class Entries(msgspec.Struct, frozen=True, kw_only=True):
    """Boxes side by side, `columns` to a row."""

    columns: int
    boxes: tuple[Entry, ...]
    kind: Literal["entries"] = "entries"


class Ticks(msgspec.Struct, frozen=True, kw_only=True):
    """Squares to tick."""

    items: tuple[str, ...]
    kind: Literal["ticks"] = "ticks"


class Grid(msgspec.Struct, frozen=True, kw_only=True):
    """Rows of boxes under heads; the first cell of a row names it, words in other cells are printed in grey."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    kind: Literal["grid"] = "grid"


class Heading(msgspec.Struct, frozen=True, kw_only=True):
    """A heading of a part."""

    text: str
    kind: Literal["heading"] = "heading"


class Words(msgspec.Struct, frozen=True, kw_only=True):
    """A short paragraph."""

    text: str
    kind: Literal["words"] = "words"


class Lines(msgspec.Struct, frozen=True, kw_only=True):
    """Lines to write on."""

    count: int
    kind: Literal["lines"] = "lines"


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """A picture by its name."""

    name: str
    kind: Literal["picture"] = "picture"


class Cautions(msgspec.Struct, frozen=True, kw_only=True):
    """What can hurt, in a frame."""

    text: str
    items: tuple[str, ...]
    kind: Literal["cautions"] = "cautions"


class Last(msgspec.Struct, frozen=True, kw_only=True):
    """The bottom line: what to expect, and what to check where it is not met."""

    text: str
    kind: Literal["last"] = "last"


Block = Entries | Ticks | Grid | Heading | Words | Lines | Shown | Cautions | Last


class FieldSheet(msgspec.Struct, frozen=True, kw_only=True):
    """One sheet. `name` a word for file names; `lead` what it is for, in one line."""

    name: str
    title: str
    lead: str
    blocks: tuple[Block, ...]


def field_pdf(
    sheets: Sequence[FieldSheet], title: str, paper: Paper = "a4", pictures: dict[str, Picture] | None = None
) -> bytes:
    """The sheets as one PDF, a page each. Raises MissingExtraError without the typesetter."""
    return typeset("field_sheet", tuple(sheets), title=title, pictures=pictures, paper=paper)
