"""`calmday import`: a plain folder into the logbook."""

from __future__ import annotations

import click

from calmday.cli.backup import logbook_option, say

HELP = """A plain folder, or a run file, into the logbook.

Takes in every run below the folder with the vehicle and the tracks it names, or all that calmday export wrote. What
the logbook has already is not added twice; what you changed by hand in an exported folder becomes a correction, and
what stood there before stays in the history. All of the folder comes in, or nothing.

\b
Examples
  calmday import my-day
  calmday import --by Ada my-day/run.toml
  calmday import --logbook club.calmday my-logbook

Leaves with 0 when done, 2 when a file is at fault or the logbook cannot be written, 3 when the program is at fault.
"""

_STATES = {"new": "new", "changed": "corrected", "same": "there already"}


@click.command(name="import", help=HELP, short_help="A plain folder, or a run file, into the logbook.")
@click.argument("folder", metavar="FOLDER")
@click.option("--by", metavar="NAME", default="", help="Who brings it in, for the history.")
@logbook_option
def command(folder: str, by: str, logbook: str | None) -> int:
    """Take a folder in."""
    from calmday.logbook import Logbook  # noqa: PLC0415  (the database layer only now)
    from calmday.operations.logbook import import_folder  # noqa: PLC0415

    with Logbook.open(logbook) as book:
        found = import_folder(book, folder, by)
    for subject in found.subjects:
        say(f"{subject.kind}: {subject.name or 'without a name'}, {_STATES[subject.state]}")
    for remark in found.remarks:
        say(f"Note: {remark}.")
    return 0
