"""`calmday guesses`: seal a guess, let the program guess, and see who was nearest."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags, writable
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

if TYPE_CHECKING:
    from calmday.procedures.guess_result import GuessBoard

HELP = """Who guessed best, and is every seal whole?

RUN is a run file, or a folder with a run.toml in it, with [[prediction]] tables. Everybody is ranked by the unit
and rule declared under [guessing], beside what the crowd said together; seals are checked. Before the drive,
--seal seals a guess and --own lets the program make its own, from build sheet, road and weather alone.

\b
Examples
  calmday guesses --seal "34 mpg US" --by Ada   the seal, to show and keep
  calmday guesses my-day --own                  what the program expects
  calmday guesses my-day                        the board after the weigh-in
  calmday guesses my-day --picture board.svg    the same to show a room

Leaves with 0 when done, 1 when the board must not be used, 2 when the input is at fault, 3 when the program is.
"""


@click.command(name="guesses", help=HELP, short_help="Who guessed best, and is every seal whole?")
@click.argument("run", metavar="[RUN]", required=False)
@click.option("--seal", metavar="'34 mpg US'", help="Seal a guess; needs --by.")
@click.option("--by", default="", metavar="NAME", help="Who guesses.")
@click.option("--own", is_flag=True, help="The program's own guess, sealed, before the weigh-in.")
@click.option("--picture", metavar="FILE", help="Draw the board: .svg, or .png with the extra pictures.")
@click.option("--tall", is_flag=True, help="The picture upright (9:16) instead of wide (16:9).")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(
    run: str | None,
    seal: str | None,
    by: str,
    own: bool,
    picture: str | None,
    tall: bool,
    as_json: bool,
    draws: int | None,
    seed: int | None,
) -> int:
    """Seal, guess, or show the board."""
    if seal is not None:
        return _sealed(seal, by)
    if run is None:
        raise InputError.one("calmday guesses", "RUN", "is missing", "a run file, or --seal with --by")
    if own:
        return _own(run, as_json, seed)
    from calmday.operations import guess_board_file  # noqa: PLC0415  (numpy and the model only now)

    board = guess_board_file(run_file(run), **given(draws=draws, seed=seed))
    if as_json:
        show_json(board)
        tell_flags(board.flags)
    else:
        from calmday.reports.guess_sheet import guess_sheet  # noqa: PLC0415

        show_sheet(guess_sheet(board))
    if picture is not None:
        _draw(board, Path(picture), tall)
    return of_flags(board.flags)


def _sealed(text: str, by: str) -> int:
    from calmday.operations import sealed_table  # noqa: PLC0415

    digest, table = sealed_table(text, by, "calmday guesses")
    click.echo(writable(f"Seal to show now: {digest}", err=True), err=True)
    click.echo("Keep the table below to yourself until the fuel is weighed; then put it into run.toml.", err=True)
    click.echo(writable(table), nl=False)
    return 0


def _own(run: str, as_json: bool, seed: int | None) -> int:
    from calmday.operations import own_guess_file, sealed_table  # noqa: PLC0415
    from calmday.records.seal import MODEL_NAME  # noqa: PLC0415

    made = own_guess_file(run_file(run), **given(seed=seed))
    if as_json:
        show_json(made)
        return 0
    digest, table = sealed_table(made.text, MODEL_NAME, "calmday guesses")
    click.echo(writable(made.sentence, err=True), err=True)
    click.echo(f"Seal to show now: {digest}", err=True)
    click.echo(writable(table), nl=False)
    return 0


def _draw(board: GuessBoard, file: Path, tall: bool) -> None:
    from calmday.reports.charts.guess_board import guess_board_chart  # noqa: PLC0415

    chart = guess_board_chart(board)
    if file.suffix.lower() == ".png":
        from calmday.reports.charts.picture import png  # noqa: PLC0415

        data = png(chart, "9:16" if tall else "16:9")
    elif file.suffix.lower() == ".svg":
        data = chart.svg("9:16" if tall else "16:9", "light").encode()
    else:
        raise InputError.one(str(file), "--picture", "is no picture known here", "a name ending in .svg or .png")
    try:
        file.write_bytes(data)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.one(str(file), "--picture", reason, "a file that can be written to") from error
    click.echo(writable(f"Picture written to {file}.", err=True), err=True)
