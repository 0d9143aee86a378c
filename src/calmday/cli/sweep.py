"""`calmday sweep`: a whole grid of imagined changes, on this machine or on a cluster."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import click

from calmday.cli.between import Whole
from calmday.cli.printing import show_json, show_sheet
from calmday.cli.reduce import given

HELP = """A whole grid of imagined changes: every combination, and which use least.

SWEEP is a file that names the vehicle, the speed and wind, and the settings to vary together. Every combination is
worked out with the same simulated vehicles. With --keep, work that was stopped goes on where it was.

\b
Examples
  calmday sweep sweep.toml
  calmday sweep sweep.toml --rows all.csv --keep parts
  calmday sweep sweep.toml --dask tcp://192.0.2.7:8786
"""


@click.command(name="sweep", help=HELP, short_help="A whole grid of imagined changes, and which use least.")
@click.argument("sweep", metavar="SWEEP")
@click.option("--rows", metavar="FILE", help="Write every combination as a row of a CSV file.")
@click.option("--keep", metavar="FOLDER", help="Keep finished parts here, and go on from those that are there.")
@click.option("--workers", type=Whole(1, 512), help="How many processors of this machine to use; all if not said.")
@click.option("--dask", metavar="ADDRESS", default="", help="Scheduler of a Dask cluster to work on instead.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet.")
@click.option(
    "--seed", type=Whole(0, 2**32 - 1), help="Start of the random numbers: the same seed gives the same figures."
)
def command(
    sweep: str, rows: str | None, keep: str | None, workers: int | None, dask: str, as_json: bool, seed: int | None
) -> int:
    """Work out one grid."""
    path = Path(sweep)
    if path.is_dir():
        path = path / "sweep.toml"
    from calmday.operations import sweep_file  # noqa: PLC0415  (numpy and the model only now)

    result = sweep_file(path, rows=rows, folder=keep, dask=dask, told=_Progress(), **given(workers=workers, seed=seed))
    if as_json:
        show_json(result)
    else:
        from calmday.reports.sweep_sheet import sweep_sheet  # noqa: PLC0415

        show_sheet(sweep_sheet(result))
    return 0


class _Progress:
    """One line on standard error that grows with the work, on a terminal only, and only where it takes a while."""

    def __init__(self) -> None:
        self._begin = time.monotonic()

    def __call__(self, done: int, parts: int) -> None:
        """So many parts of so many are done."""
        if sys.stderr.isatty() and time.monotonic() - self._begin > 1:
            click.echo(f"\r{done} of {parts} parts", err=True, nl=done == parts)
