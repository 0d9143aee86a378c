"""`calmday reduce`: the whole sheet of one weighed run."""

from __future__ import annotations

from typing import Any

import click

from calmday.cli.between import Whole
from calmday.cli.exit_status import of_flags
from calmday.cli.one_shot import keep_freed_memory
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.run_path import run_file

FEWEST_DRAWS, MOST_DRAWS = 200, 1_000_000

HELP = """What one weighed drive used, as driven and on a calm day.

RUN is a run file, or a folder with a run.toml in it. The sheet starts with one sentence, then shows where the
fuel went, where the doubt comes from, and what to watch.

\b
Examples
  calmday reduce my-day/run.toml
  calmday reduce my-day --json > my-day.json
  calmday reduce my-day --draws 20000 --seed 7
  calmday reduce my-day --with coastdown.toml --with april/run.toml

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


def draw_options(command: Any) -> Any:
    """The options of every verb that simulates: how many vehicles are drawn, and from which seed."""
    draws = click.option(
        "--draws",
        type=Whole(FEWEST_DRAWS, MOST_DRAWS),
        help="Simulated vehicles: more take longer and give smoother figures.",
    )
    seed = click.option(
        "--seed",
        type=Whole(0, 2**32 - 1),
        help="Start of the random numbers: the same seed gives the same figures.",
    )
    return draws(seed(command))


def given(**options: int | None) -> dict[str, Any]:
    """Only the options that were given, so that the defaults stay in one place."""
    return {name: value for name, value in options.items() if value is not None}


@click.command(name="reduce", help=HELP, short_help="What one weighed drive used, and on a calm day.")
@click.argument("run", metavar="RUN")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@click.option(
    "--with", "others", multiple=True, metavar="FILE",
    help="Another test of this vehicle to learn from: a run, a coastdown, a measurement. May be given again.",
)  # fmt: skip
@draw_options
def command(run: str, as_json: bool, others: tuple[str, ...], draws: int | None, seed: int | None) -> int:
    """Reduce and show one run."""
    path = run_file(run)
    keep_freed_memory()
    from calmday.operations import reduce_file  # noqa: PLC0415  (numpy and the model only now)

    options = given(draws=draws, seed=seed) | ({"others": others} if others else {})
    result = reduce_file(path, **options).result
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.run_sheet import run_sheet  # noqa: PLC0415

        show_sheet(run_sheet(result))
    return of_flags(result.flags)
