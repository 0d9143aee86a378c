"""`calmday check`: is this run worth keeping? Asked in the lay-by, before driving home."""

from __future__ import annotations

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.one_shot import keep_freed_memory
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.run_path import run_file

HELP = """Is this run worth keeping? Ask before driving home.

Sixty seconds in the lay-by: the fuel burnt, the distance and the time beside what is plausible for the
vehicle, and in words what to look at again: the return hose, the tare, the lap count, the units. Needs no
network.

\b
Examples
  calmday check my-day
  calmday check my-day/run.toml --json

Leaves with 0 when the run can stand, 1 when it cannot, 2 when the input is at fault, 3 when the program is.
"""


@click.command(name="check", help=HELP, short_help="Is this run worth keeping? Ask before driving home.")
@click.argument("run", metavar="RUN")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
def command(run: str, as_json: bool) -> int:
    """Check and show one run."""
    path = run_file(run)
    keep_freed_memory()
    from calmday.operations import check_file  # noqa: PLC0415  (numpy and the model only now)

    check = check_file(path)
    if as_json:
        show_json(check)
        tell_flags(check.flags)
    else:
        from calmday.reports.check_sheet import check_sheet  # noqa: PLC0415

        show_sheet(check_sheet(check, path.name))
    return of_flags(check.flags)
