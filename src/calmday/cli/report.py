"""`calmday report`: a run, or a comparison, as a folder to show to others."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import writable
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file

HELP = """A run as a folder to show to others.

RUN is a run file, or a folder with a run.toml in it. The folder gets a page for everybody with pages for critics
behind it (report.pdf, report.html), still pictures for a film with captions, tables for a spreadsheet, and what all of
it rests on, with the one command that repeats the figures.

No place on the map stands in what is to be shown. With --cut-home nothing near the ends of the drive is shown or given
away, and the folder can be handed on whole.

\b
Examples
  calmday report my-day --folder to-show
  calmday report my-day --folder to-show --question "Is the new axle worth it?"
  calmday report my-day --folder for-the-club --cut-home "500 m" --photo scale.jpg

Leaves with 0 when done, 1 when the result must not be used (the report says so too), 2 when the input is at fault, 3
when the program is.
"""


@click.command(name="report", help=HELP, short_help="A run as a folder to show to others.")
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
