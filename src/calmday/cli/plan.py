"""`calmday plan`: what will a test tell, before anyone drives it?"""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags, writable
from calmday.cli.reduce import draw_options, given
from calmday.errors import InputError

PLAN_FILE = "plan.toml"

HELP = """What will a test tell? Fuel, scale, laps, runs, go or no go.

PLAN is a plan file, or a folder with a plan.toml in it: the vehicle, the route or its length, the speed, the
forecast, the scale. The test is driven on paper many times and worked out as a weighed run is: how much it will
burn, whether can and fuel fit the scale, how sure the answer will be with each number of laps, the smallest
change it could show, the order to drive in, and whether to drive it at all for the question asked.

\b
Examples
  calmday plan my-day/plan.toml
  calmday plan my-day --sheets my-day/print --paper a5
  calmday plan my-day --json

Leaves with 0 when done, 1 when the test must not be driven as planned, 2 when the input is at fault, 3 when
the program is.
"""


@click.command(name="plan", help=HELP, short_help="What will a test tell, before anyone drives it?")
@click.argument("plan", metavar="PLAN")
@click.option("--sheets", metavar="FOLDER", help="Write run sheet, cards and checklists as PDF into this folder.")
@click.option("--paper", type=click.Choice(["a4", "a5"]), default="a4", show_default=True, help="Size of the sheets.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(plan: str, sheets: str | None, paper: str, as_json: bool, draws: int | None, seed: int | None) -> int:
    """Plan and show one test."""
    path = plan_path(plan)
    from calmday.operations import plan_file  # noqa: PLC0415  (numpy and the model only now)

    result = plan_file(path, **given(draws=draws, seed=seed))
    if sheets is not None:
        from calmday.operations import write_test_sheets  # noqa: PLC0415  (the typesetter only where asked)

        written = write_test_sheets(result, Path(sheets), "a5" if paper == "a5" else "a4")
        click.echo(writable(f"{len(written)} sheets written to {sheets}.", err=True), err=True)
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.plan_sheet import plan_sheet  # noqa: PLC0415

        show_sheet(plan_sheet(result))
    return of_flags(result.flags)


def plan_path(text: str) -> Path:
    """The plan file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / PLAN_FILE).is_file():
        return path / PLAN_FILE
    raise InputError.one(text, PLAN_FILE, "no plan file in this folder", f"a file {PLAN_FILE}")
