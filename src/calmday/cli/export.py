"""`calmday export`: a run, or the whole logbook, as a plain folder."""

from __future__ import annotations

import click

from calmday.cli.backup import logbook_option, say

HELP = """A run, or the whole logbook, as a plain folder.

The folder holds what you could have written by hand: build sheets and runs as TOML, tracks and curves byte for byte
as they came in, so that calmday reduce gives the same figures on it. A file history.json beside them keeps every
entry, correction, void run, guess and result; calmday import brings all of it back.

With --cut-home one run is made ready to give away: tracks lose every fix that near to where the drive began or
ended, and history, notes and photographs stay at home.

\b
Examples
  calmday export my-logbook
  calmday export --run 2026-04-12 sunday
  calmday export --run "Fen loop" --cut-home "500 m" for-the-club

Leaves with 0 when done, 2 when the logbook cannot be read or the folder is taken, 3 when the program is at fault.
"""


@click.command(name="export", help=HELP, short_help="A run, or the whole logbook, as a plain folder.")
@click.argument("folder", metavar="FOLDER")
@click.option("--run", metavar="RUN", help="One run only: its label, its date or its identifier.")
@click.option("--cut-home", metavar="LENGTH", help='Leave out of the tracks what lies this near to the ends: "500 m".')
@logbook_option
def command(folder: str, run: str | None, cut_home: str | None, logbook: str | None) -> int:
    """Write a folder."""
    from calmday.logbook import Logbook  # noqa: PLC0415  (the database layer only now)
    from calmday.operations.logbook import export_folder, find_run, home_radius_m  # noqa: PLC0415

    radius_m = home_radius_m(cut_home) if cut_home is not None else 0.0
    with Logbook.open(logbook, make=False) as book:
        run_id = find_run(book, run) if run is not None else None
        remarks = export_folder(book, run_id, folder, radius_m)
    say(f"{'The run' if run is not None else 'The whole logbook'} is in the folder {folder}.")
    for remark in remarks:
        say(f"Note: {remark}.")
    return 0
