"""`calmday restore`: bring the logbook back from a copy."""

from __future__ import annotations

import click

from calmday.cli.backup import logbook_option, say

HELP = """Bring the logbook back from a copy made by calmday backup.

The copy is checked first and stays as it is. A logbook that is there already is never overwritten: with --replace
it is moved aside, and you are told where to. Into a database on a server only while that is still empty.

\b
Examples
  calmday restore /media/stick/logbook-2026-04-12.calmday
  calmday restore --replace logbook-2026-04-12.calmday
  calmday restore --logbook shed.calmday logbook-2026-04-12.calmday

Leaves with 0 when done, 2 when the copy is damaged or the place is taken, 3 when the program is at fault.
"""


@click.command(name="restore", help=HELP, short_help="Bring the logbook back from a copy.")
@click.argument("file", metavar="FILE")
@click.option("--replace", is_flag=True, help="Move the logbook that is there aside.")
@logbook_option
def command(file: str, replace: bool, logbook: str | None) -> int:
    """Put a copy in the logbook's place."""
    from calmday.operations.logbook import restore  # noqa: PLC0415  (the database layer only now)

    aside = restore(file, logbook, replace=replace)
    say("The logbook is back." if aside is None else f"The logbook is back; the one that was there is now {aside}.")
    return 0
