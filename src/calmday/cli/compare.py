"""`calmday compare`: did the change make a difference?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from calmday.cli.between import Whole
from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags, writable
from calmday.cli.reduce import draw_options, given
from calmday.errors import InputError

COMPARISON_FILE = "comparison.toml"

HELP = """Did it make a difference? Runs before and after a change.

COMPARISON is a comparison file, or a folder with a comparison.toml in it, that names weighed runs before and
after a change, on whatever days and in whatever wind. The change in fuel with its give-or-take, the chance that
it is one, the smallest change that could have been seen, and how many runs are still needed. A setting tried
at several values is fitted with a curve; several changes at once are told apart where that can be done.

With --claim a sentence is looked at for the usual mistakes; with --draw-order an order of runs is drawn by
lot and sealed, so that the driver need not know.

\b
Examples
  calmday compare my-test/comparison.toml
  calmday compare my-test --json
  calmday compare my-test --picture change.svg
  calmday compare --claim "12 % better mpg"
  calmday compare --draw-order 8

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


@click.command(name="compare", help=HELP, short_help="Did the change make a difference?")
@click.argument("comparison", metavar="[COMPARISON]", required=False)
@click.option("--claim", "claims", multiple=True, metavar="WORDS", help="Look at what somebody says, not at a file.")
@click.option("--draw-order", type=Whole(2, 60), metavar="RUNS", help="Draw and seal an order of so many runs.")
@click.option("--picture", metavar="FILE", help="Draw the answer: .svg, or .png with the extra pictures.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(
    comparison: str | None,
    claims: tuple[str, ...],
    draw_order: int | None,
    picture: str | None,
    as_json: bool,
    draws: int | None,
    seed: int | None,
) -> int:
    """Compare, look at claims, or draw an order."""
    if claims:
        return _claims(claims, as_json)
    if draw_order is not None:
        return _order(draw_order, as_json)
    if comparison is None:
        raise InputError.one("calmday compare", "COMPARISON", "is missing", f"a folder with a {COMPARISON_FILE}")
    path = comparison_file(comparison)
    from calmday.operations import compare_file  # noqa: PLC0415  (numpy and the model only now)

    result = compare_file(path, **given(draws=draws, seed=seed))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.comparison_sheet import comparison_sheet  # noqa: PLC0415

        show_sheet(comparison_sheet(result))
    if picture is not None:
        _picture(result, picture)
    return of_flags(result.flags)


def _claims(claims: tuple[str, ...], as_json: bool) -> int:
    from calmday.operations import check_claim  # noqa: PLC0415

    if as_json:
        show_json([{"text": claim, "flags": check_claim(claim)} for claim in claims])
        return 0
    for claim in claims:
        found = check_claim(claim)
        if not found:
            click.echo(writable("Nothing is wrong with the words themselves; the figures decide.", err=False))
        for flag in found:
            click.echo(writable(f"{flag.saw}\n  {flag.why}\n  To do: {flag.remedy}", err=False))
    return 0


def _order(runs: int, as_json: bool) -> int:
    from calmday.operations import sealed_order  # noqa: PLC0415

    drawn = sealed_order(runs)
    if as_json:
        show_json(drawn)
        return 0
    text = (
        f"Digest, to show before the first run:\n  {drawn.digest}\n"
        f"For the helper who sets the vehicle (A before, B after the change), kept from the driver:\n"
        f"  {drawn.sealed_with}\n"
        f'Afterwards put both into the comparison: sealed_order = the digest, sealed_with = "the helper\'s line".\n'
        f"Anyone can check then, with this program or without:\n  printf '%s' 'THE LINE' | sha256sum"
    )
    click.echo(writable(text, err=False))
    return 0


def _picture(result: Any, picture: str) -> None:
    from calmday.reports.charts import png  # noqa: PLC0415
    from calmday.reports.charts.compared import compared_chart, setting_chart  # noqa: PLC0415

    file = Path(picture)
    chart = compared_chart(result) or setting_chart(result)
    if chart is None:
        raise InputError.one(picture, "--picture", "there is nothing to draw yet", "a comparison with an answer")
    try:
        if file.suffix.lower() == ".png":
            file.write_bytes(png(chart))
        else:
            file.write_text(chart.svg("16:9", "light"), encoding="utf-8")
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.one(picture, "--picture", reason, "a file that can be written to") from error
    click.echo(writable(f"Picture written to {file}.", err=True), err=True)


def comparison_file(text: str) -> Path:
    """The comparison file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / COMPARISON_FILE).is_file():
        return path / COMPARISON_FILE
    raise InputError.one(text, COMPARISON_FILE, "no comparison in this folder", f"a file {COMPARISON_FILE}")
