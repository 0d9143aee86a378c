"""`calmday pull`: the engine's power from full-load pulls and timed hills."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

PULL_FILE = "pull.toml"

HELP = """The engine's power, from pulls and timed hills.

PULL is a pull file, or a folder with a pull.toml in it: full-load acceleration in one gear recorded by a
receiver, or a hill climbed at full load and timed. Repeated pulls are averaged. Power at flywheel and wheels
with its doubt, against the chart, and brought to standard conditions.

\b
Examples
  calmday pull my-day/pull.toml
  calmday pull my-day --run my-day/run.toml
  calmday pull my-day --json

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


@click.command(name="pull", help=HELP, short_help="The engine's power, from pulls and timed hills.")
@click.argument("pull", metavar="PULL")
@click.option("--run", "run", metavar="RUN", help="A weighed run of this vehicle, to learn from.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(pull: str, run: str | None, as_json: bool, draws: int | None, seed: int | None) -> int:
    """Reduce and show one day of pulls."""
    path = pull_file(pull)
    from calmday.operations import reduce_pull_file  # noqa: PLC0415  (numpy and the model only now)

    result = reduce_pull_file(path, run_file(run) if run is not None else None, **given(draws=draws, seed=seed))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.pull_sheet import pull_sheet  # noqa: PLC0415

        show_sheet(pull_sheet(result))
    return of_flags(result.flags)


def pull_file(text: str) -> Path:
    """The pull file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / PULL_FILE).is_file():
        return path / PULL_FILE
    raise InputError.one(text, PULL_FILE, "no pull file in this folder", f"a file {PULL_FILE}")
