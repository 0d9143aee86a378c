"""`calmday published`: a published figure, and what sets it apart from a drive of your own."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

PUBLISHED_FILE = "published.toml"

HELP = """What do others say, and why is it not the same?

FIGURE is a file with a published figure, or a folder with a published.toml in it: a label, a brochure, a road
test. City and highway are put together as the label does it, the figure is shown before its adjustment and under
the rules of other years, and with --run every difference to your drive is named. Nothing is scored.

\b
Examples
  calmday published my-day/published.toml
  calmday published my-day --run my-day/run.toml
  calmday published --rules

Leaves with 0 when done, 2 when the input is at fault, 3 when the program is.
"""


@click.command(name="published", help=HELP, short_help="What do others say, and why is it not the same?")
@click.argument("figure", metavar="[FIGURE]", required=False)
@click.option("--run", "run", metavar="RUN", help="A weighed run to name the differences to.")
@click.option("--rules", is_flag=True, help="List the known kinds of published figures with their sources.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(
    figure: str | None, run: str | None, rules: bool, as_json: bool, draws: int | None, seed: int | None
) -> int:
    """Show one published figure, or the table of rules."""
    if rules:
        from calmday.reports.rules_sheet import rules_sheet  # noqa: PLC0415

        show_sheet(rules_sheet())
        return 0
    if figure is None:
        raise InputError.one("calmday published", "FIGURE", "is missing", "a file with a published figure, or --rules")
    from calmday.operations import published_file  # noqa: PLC0415  (numpy and the model only now)

    path = published_path(figure)
    result = published_file(path, run_file(run) if run is not None else None, **given(draws=draws, seed=seed))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.published_sheet import published_sheet  # noqa: PLC0415

        show_sheet(published_sheet(result))
    return of_flags(result.flags)


def published_path(text: str) -> Path:
    """The file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / PUBLISHED_FILE).is_file():
        return path / PUBLISHED_FILE
    raise InputError.one(text, PUBLISHED_FILE, "no published figure in this folder", f"a file {PUBLISHED_FILE}")
