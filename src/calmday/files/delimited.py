"""Delimited text with a header line: comma, semicolon or tab; decimal comma where the delimiter allows it."""

from __future__ import annotations

import csv

import msgspec

from calmday.errors import InputError
from calmday.metrology.units import shown


class Delimited(msgspec.Struct, frozen=True):
    """Header names (lower case, no outer blanks), data rows as text, and the line number of each row."""

    header: tuple[str, ...]
    rows: list[list[str]]
    lines: list[int]
    decimal_comma: bool

    def column(self, index: int) -> list[str]:
        """One column as text, the decimal sign made a point."""
        column = [row[index].strip() for row in self.rows]
        return [cell.replace(",", ".") for cell in column] if self.decimal_comma else column


def read_delimited(text: str, name: str) -> Delimited:
    """Header and rows of delimited text. Blank lines and lines that start with # are passed over.

    Raises InputError where there is no header, or a row has another number of fields than the header.
    """
    numbered = [(i, line) for i, line in enumerate(text.splitlines(), 1) if line.strip() and line.lstrip()[0] != "#"]
    if not numbered:
        raise InputError.one(name, "file", "has no lines", "a header line with column names, then data")
    delimiter = max(";\t,", key=numbered[0][1].count)
    try:
        rows = list(csv.reader([line for _, line in numbered], delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error as e:
        raise InputError.one(name, "file", f"is not delimited text ({e})", "one line per row, quotes closed") from None
    if len(rows) != len(numbered):
        raise InputError.one(name, "file", "has line breaks within quotes", "one line per row")
    header = tuple(cell.strip().lower() for cell in rows[0])
    width = len(header)
    for row, (line, _) in zip(rows, numbered, strict=True):
        while len(row) > width and not row[-1].strip():
            row.pop()
        if len(row) != width:
            wrong = f"has {len(row)} fields"
            raise InputError.one(
                name, f"line {line}", wrong, f"{width} fields as in the header" + _comma_hint(delimiter)
            )
    return Delimited(
        header, rows[1:], [line for line, _ in numbered[1:]], delimiter != "," and _has_decimal_comma(rows)
    )


def number_at(cell: str, name: str, line: int, column: str) -> float:
    """A finite number from one cell. Raises InputError that names line and column."""
    try:
        value = float(cell)
    except ValueError:
        value = float("nan")
    if not abs(value) < float("inf") or "_" in cell:
        raise InputError.one(
            name, f"line {line}", f"{shown(cell)} in column {column} is not a number", "a number such as 12.5"
        )
    return value


def _has_decimal_comma(rows: list[list[str]]) -> bool:
    return any("," in cell for row in rows[1:201] for cell in row)


def _comma_hint(delimiter: str) -> str:
    return "; with decimal commas, put semicolons between the columns" if delimiter == "," else ""
