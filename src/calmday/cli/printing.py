"""Getting a sheet or JSON onto standard output, on any terminal, pipe or code page."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterable

    from calmday.procedures.weighed_run_result import Flag
    from calmday.reports.sheet import Sheet


def show_sheet(sheet: Sheet) -> None:
    """Print a sheet: drawn in colour on a terminal that can, as plain text anywhere else."""
    columns = page_columns()
    if draws_colour():
        from rich.console import Console  # noqa: PLC0415  (rich only where a terminal shows a sheet)

        from calmday.reports.terminal_sheet import print_sheet  # noqa: PLC0415

        print_sheet(sheet, Console(width=columns, highlight=False))
    else:
        from calmday.reports.plain_sheet import plain_sheet  # noqa: PLC0415

        click.echo(writable(plain_sheet(sheet, columns)), nl=False)


def show_json(result: Any) -> None:
    """Print a result as UTF-8 JSON, whatever the code page of the terminal."""
    from calmday.reports.json_result import json_result  # noqa: PLC0415

    click.echo(json_result(result), nl=False)


def tell_flags(flags: Iterable[Flag]) -> None:
    """One line per caution and stop on standard error, for those who asked for JSON."""
    for flag in flags:
        if flag.severity != "note":
            click.echo(writable(one_line(f"{flag.severity}: {flag.message}"), err=True), err=True)


def writable(text: str, *, err: bool = False) -> str:
    """The text with every character the stream cannot write replaced by one it can."""
    from calmday.reports.plain_sheet import encodable  # noqa: PLC0415

    stream = sys.stderr if err else sys.stdout
    return encodable(text, getattr(stream, "encoding", None))


def one_line(text: str) -> str:
    """The text without line breaks and control characters."""
    from calmday.reports.words import clean  # noqa: PLC0415

    return clean(text)


def draws_colour() -> bool:
    """Whether standard output is a terminal that shows colour and blocks, and nobody has said no."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty():
        return False
    return (sys.stdout.encoding or "").lower().replace("-", "").startswith("utf")


def page_columns() -> int:
    """Columns of the terminal, or COLUMNS, or 80."""
    import shutil  # noqa: PLC0415  (brings archive formats along, and JSON needs no page)

    return shutil.get_terminal_size(fallback=(80, 24)).columns
