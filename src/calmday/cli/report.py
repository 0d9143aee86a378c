"""`calmday report`: a run, or a comparison, as a folder to show to others."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.compare import COMPARISON_FILE
from calmday.cli.exit_status import of_flags
from calmday.cli.printing import writable
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import RUN_FILE, run_file

HELP = """A run, or a comparison, as a folder to show to others.

RUN is a run file, a comparison file, or a folder with a run.toml or a comparison.toml in it. The folder gets a page
for everybody with pages for critics behind it (report.pdf, report.html), still pictures for a film with captions,
tables for a spreadsheet, and what all of it rests on, with the one command that repeats the figures.

No place on the map stands in what is to be shown. With --cut-home nothing near the ends of the drive is shown or given
away, and the folder can be handed on whole.

\b
Examples
  calmday report my-day --folder to-show
  calmday report axle-test/comparison.toml --folder to-show
  calmday report my-day --folder to-show --question "Worth a new axle?"
  calmday report my-day --folder to-show --cut-home "500 m" --photo scale.jpg

Leaves with 0 when done, 1 when the result must not be used (the report says so too), 2 when the input is at fault, 3
when the program is.
"""


@click.command(name="report", help=HELP, short_help="A run, or a comparison, as a folder to show to others.")
@click.argument("run", metavar="RUN")
@click.option("--folder", required=True, type=click.Path(path_type=Path), help="Where to put it; must be new or empty.")
@click.option("--question", default="", help="The question on top of the report; the usual one where left out.")
@click.option("--cut-home", metavar="LENGTH", help='Show and give away nothing this near to the ends: "500 m".')
@click.option(
    "--photo",
    "photos",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    multiple=True,
    help="A photograph to show; again for more.",
)
@click.option("--decimal-comma", is_flag=True, help="Tables with 7,12 and semicolons, for spreadsheets that want them.")
@draw_options
def command(
    run: str,
    folder: Path,
    question: str,
    cut_home: str | None,
    photos: tuple[Path, ...],
    decimal_comma: bool,
    draws: int | None,
    seed: int | None,
) -> int:
    """Make a report."""
    from calmday.operations.logbook import home_radius_m  # noqa: PLC0415  (the model and the database layer only now)
    from calmday.operations.logbook.reporting import ReportWishes, report_file  # noqa: PLC0415

    wishes = ReportWishes(
        question=question,
        cut_home_m=home_radius_m(cut_home) if cut_home is not None else 0.0,
        decimal_comma=decimal_comma,
        photos=photos,
        **given(draws=draws, seed=seed),
    )
    compared = comparison_in(run)
    if compared is not None:
        from calmday.operations.logbook.reporting_comparison import report_comparison_file  # noqa: PLC0415

        made = report_comparison_file(compared, folder, wishes)
    else:
        made = report_file(run_file(run), folder, wishes)
    click.echo(writable(made.sentence))
    click.echo(
        writable(
            f"The report is in the folder {folder}: {len(made.files)} files. README.txt there says what may be shown."
        )
    )
    for remark in made.remarks:
        click.echo(writable(f"Note: {remark}."), err=True)
    return of_flags(made.flags)


def comparison_in(given: str) -> Path | None:
    """The comparison meant: a file that names runs to compare, or that of a folder without a run of its own."""
    path = Path(given)
    if path.is_dir():
        found = path / COMPARISON_FILE
        return found if found.is_file() and not (path / RUN_FILE).is_file() else None
    if path.name == COMPARISON_FILE:
        return path
    return path if path.is_file() and _names_groups(path) else None


def _names_groups(path: Path) -> bool:
    """Whether a file names runs before and after a change; what cannot be read is left to the reader of runs."""
    import tomllib  # noqa: PLC0415

    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return False
    return bool({"baseline", "changed"} & tables.keys()) or "run" in tables
