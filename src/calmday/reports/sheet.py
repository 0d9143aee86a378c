"""A sheet as plain structure: what is said and in which order, not how it is drawn."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import msgspec

Severity = Literal["note", "caution", "stop"]


class Column(msgspec.Struct, frozen=True):
    """One column of a table. On a narrow page the highest `rank` is left out first; rank 0 stays. `note` explains it,
    and is left out with it."""

    head: str
    align: Literal["left", "right"] = "left"
    rank: int = 0
    wrap: bool = False
    note: str = ""


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """Rows under a title, one text per column. `note` holds the notes of all columns: see `noted`."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


def noted(columns: Iterable[Column], note: str = "") -> str:
    """What stands below a table: `note`, and what its columns need explained."""
    return " ".join(part for part in (note, *(column.note for column in columns)) if part)


class Bar(msgspec.Struct, frozen=True):
    """One bar: `length` from 0 to 1 of the longest a bar may be, with its figure as text."""

    label: str
    length: float
    text: str


class Bars(msgspec.Struct, frozen=True, kw_only=True):
    """A small bar chart with direct labels."""

    title: str
    bars: tuple[Bar, ...]
    note: str = ""


class Remark(msgspec.Struct, frozen=True, kw_only=True):
    """What we saw, why it matters, what to do now."""

    severity: Severity
    saw: str
    why: str
    remedy: str


class Remarks(msgspec.Struct, frozen=True, kw_only=True):
    """Several remarks under one title."""

    title: str
    items: tuple[Remark, ...]


class Prose(msgspec.Struct, frozen=True, kw_only=True):
    """Short paragraphs; the title may be empty."""

    title: str
    lines: tuple[str, ...]


Block = Table | Bars | Remarks | Prose


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """A whole sheet: the one sentence first, then everything else. `sound` false: a remark says stop."""

    title: str
    lead: str
    under: tuple[str, ...] = ()
    blocks: tuple[Block, ...] = ()
    sound: bool = True
