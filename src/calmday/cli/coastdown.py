"""`calmday coastdown`: air drag and rolling resistance from rolls in neutral."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.between import Number
from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.errors import InputError

COASTDOWN_FILE = "coastdown.toml"

HELP = """Air drag and rolling resistance, from rolls in neutral.

COASTDOWN is a coastdown file, or a folder with a coastdown.toml in it: the speed of the vehicle slowing out of
gear, both ways on one road, recorded by a receiver. One long track with several rolls is cut by itself. All passes are
fitted together with the wind, the slope and the gusts; the road load comes with its doubt, pass by pass.

\b
Examples
  calmday coastdown my-day/coastdown.toml
  calmday coastdown my-day --wanted 4
  calmday coastdown my-day --json

Roll out of gear only where it is allowed, engine on, with nobody behind.

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


@click.command(name="coastdown", help=HELP, short_help="Air drag and rolling resistance, from rolls in neutral.")
@click.argument("coastdown", metavar="COASTDOWN")
@click.option(
    "--wanted", type=Number(0.2, 50), metavar="PERCENT",
    help="Give-or-take of the force that would be good enough; the sheet says how many passes it takes.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(coastdown: str, wanted: float | None, as_json: bool, draws: int | None, seed: int | None) -> int:
    """Reduce and show one day of coastdowns."""
    path = coastdown_file(coastdown)
    from calmday.operations import reduce_coastdown_file  # noqa: PLC0415  (numpy and the model only now)

    share = None if wanted is None else wanted / 100
    result = reduce_coastdown_file(path, wanted=share, **given(draws=draws, seed=seed))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.coastdown_sheet import coastdown_sheet  # noqa: PLC0415

        show_sheet(coastdown_sheet(result))
    return of_flags(result.flags)


def coastdown_file(text: str) -> Path:
    """The coastdown file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / COASTDOWN_FILE).is_file():
        return path / COASTDOWN_FILE
    raise InputError.one(text, COASTDOWN_FILE, "no coastdown file in this folder", f"a file {COASTDOWN_FILE}")
