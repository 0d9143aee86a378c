"""`calmday demo`: an invented drive, reduced on the spot and held against the truth it was invented from."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

TRUTH_FILE = "truth.json"

HELP = """An invented drive, worked out here and now.

Shows the sheet of a drive that never took place, then holds the figures against the truth it was invented
from. With --folder the files are copied there first, to look at and to change; files that are already there
are left alone.

\b
Examples
  calmday demo
  calmday demo --folder my-day
  calmday demo --json
"""


@click.command(name="demo", help=HELP, short_help="An invented drive, worked out here and now.")
@click.option("--folder", type=click.Path(path_type=Path), help="Copy the example here and use the copy.")
@click.option(
    "--json", "as_json", is_flag=True, help="Print the result as JSON; the comparison goes to standard error."
)
@draw_options
def command(folder: Path | None, as_json: bool, draws: int | None, seed: int | None) -> int:
    """Reduce the example and compare it with its truth."""
    from calmday.operations import demo_folder, reduce_file  # noqa: PLC0415  (numpy and the model only now)

    source = demo_folder()
    if folder is not None:
        copy_missing(source, folder)
    chosen = folder or source
    result = reduce_file(run_file(str(chosen)), **given(draws=draws, seed=seed)).result
    from calmday.reports.truth_sheet import truth_lines, truth_sheet  # noqa: PLC0415

    lines = truth_lines(result, read_truth(chosen / TRUTH_FILE))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
        click.echo(truth_sheet(lines).lead, err=True)
    else:
        from calmday.reports.run_sheet import run_sheet  # noqa: PLC0415

        show_sheet(run_sheet(result))
        click.echo()
        show_sheet(truth_sheet(lines))
        where = f"The files are in {chosen}." if folder else "To look at the files: calmday demo --folder my-day"
        click.echo(f"\n{where}")
    return of_flags(result.flags)


def copy_missing(source: Path, folder: Path) -> None:
    """Copy the example into the folder, leaving files alone that are already there. Raises InputError."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file in sorted(entry for entry in source.iterdir() if entry.is_file()):
            if not (folder / file.name).exists():
                shutil.copyfile(file, folder / file.name)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.one(str(folder), "--folder", reason, "a folder that can be written to") from error


def read_truth(path: Path) -> Any:
    """The truth as nested names and numbers; empty where the folder holds none."""
    import msgspec  # noqa: PLC0415

    try:
        return msgspec.json.decode(path.read_bytes(), type=dict[str, Any])
    except FileNotFoundError:
        return {}
    except (msgspec.DecodeError, OSError) as error:
        raise InputError.one(str(path), "file", str(error), "the truth as the example came with it") from error
