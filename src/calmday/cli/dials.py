"""`calmday dials`: do speedometer, odometer and fuel gauge tell the truth?"""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

DIALS_FILE = "dials.toml"

HELP = """Do the dials tell the truth?

DIALS is a file with what was read off the dials beside what is known to be true, or a folder with a
dials.toml in it: the speedometer against satellite speed, the odometer against a known way, the fuel gauge
against weighed or measured fillings. Factors with their doubt, the limits of UN R39, what another tyre or
axle will do to both dials, and how far the fuel goes.

\b
Examples
  calmday dials my-day/dials.toml
  calmday dials my-day --run my-day/run.toml
  calmday dials my-day --json

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


@click.command(name="dials", help=HELP, short_help="Do speedometer, odometer and fuel gauge tell the truth?")
@click.argument("dials", metavar="DIALS")
@click.option("--run", "run", metavar="RUN", help="A weighed run of this vehicle, for what it uses.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(dials: str, run: str | None, as_json: bool, draws: int | None, seed: int | None) -> int:
    """Judge and show the dials of one vehicle."""
    path = dials_file(dials)
    from calmday.operations import check_dials_file  # noqa: PLC0415  (numpy and the model only now)

    result = check_dials_file(path, run_file(run) if run is not None else None, **given(draws=draws, seed=seed))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.dials_sheet import dials_sheet  # noqa: PLC0415

        show_sheet(dials_sheet(result))
    return of_flags(result.flags)


def dials_file(text: str) -> Path:
    """The dials' file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / DIALS_FILE).is_file():
        return path / DIALS_FILE
    raise InputError.one(text, DIALS_FILE, "no dials' file in this folder", f"a file {DIALS_FILE}")
