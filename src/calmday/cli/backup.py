"""`calmday backup`: the whole logbook as one file to put away."""

from __future__ import annotations

import click

from calmday.cli.printing import one_line, writable

HELP = """The whole logbook as one file to put away.

FILE is the copy's name, or a folder to put it in under the date of today. The copy is checked before it gets its
name, and nothing that exists is overwritten. Others may go on writing meanwhile. A logbook on a server comes out
as a file too.

\b
Examples
  calmday backup /media/stick
  calmday backup logbook-before-the-rally.calmday
  calmday backup --logbook postgresql://club@shed/logbook club.calmday

Leaves with 0 when done, 2 when the logbook cannot be read or the file cannot be written, 3 when the program is at
fault.
"""


def logbook_option(command: click.decorators.FC) -> click.decorators.FC:
    """The option of every verb that opens a logbook."""
    return click.option(
        "--logbook",
        metavar="PLACE",
        help="A logbook file, or the address of a PostgreSQL database; else CALMDAY_LOGBOOK, else your own.",
    )(command)


def say(text: str) -> None:
    """One plain sentence on standard output."""
    click.echo(writable(one_line(text)))


@click.command(name="backup", help=HELP, short_help="The whole logbook as one file to put away.")
@click.argument("file", metavar="FILE")
@logbook_option
def command(file: str, logbook: str | None) -> int:
    """Write a copy."""
    from calmday.logbook import Logbook  # noqa: PLC0415  (the database layer only now)
    from calmday.operations.logbook import backup  # noqa: PLC0415

    with Logbook.open(logbook, make=False) as book:
        written = backup(book, file)
    say(f"The whole logbook is in {written}, {written.stat().st_size / 1e6:.1f} MB, checked.")
    return 0
