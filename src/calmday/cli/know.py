"""`calmday know`: what all tests of a vehicle say together."""

from __future__ import annotations

import click

from calmday.cli.coastdown import coastdown_file
from calmday.cli.exit_status import of_flags
from calmday.cli.gears import vehicle_file
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file

HELP = """What all tests of a vehicle say together.

VEHICLE is a build sheet, or a folder with a vehicle.toml in it. Weighed runs, coastdowns and small measurements
(tow force, weighbridge, fuel at idle and others) are put together: what one says of the vehicle, all others
learn. A test that does not agree is named and counts for less; what a change of the build sheet touched is known
less well from then on.

\b
Examples
  calmday know my-van --run april/run.toml --run may/run.toml
  calmday know my-van --coastdown may/coastdown.toml --evidence tow.toml
  calmday know my-van --run april --json

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


@click.command(name="know", help=HELP, short_help="What all tests of a vehicle say together.")
@click.argument("vehicle", metavar="VEHICLE")
@click.option("--run", "runs", multiple=True, metavar="RUN", help="A weighed run; may be given again.")
@click.option("--coastdown", "coastdowns", multiple=True, metavar="FILE", help="Coastdowns; may be given again.")
@click.option("--evidence", "evidence", multiple=True, metavar="FILE", help="A small measurement; may be given again.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(
    vehicle: str,
    runs: tuple[str, ...],
    coastdowns: tuple[str, ...],
    evidence: tuple[str, ...],
    as_json: bool,
    draws: int | None,
    seed: int | None,
) -> int:
    """Pool and show everything known of a vehicle."""
    sheet = vehicle_file(vehicle)
    from calmday.operations import known_vehicle_file  # noqa: PLC0415  (numpy and the model only now)

    result = known_vehicle_file(
        sheet,
        runs=[run_file(one) for one in runs],
        coastdowns=[coastdown_file(one) for one in coastdowns],
        evidence=list(evidence),
        **given(draws=draws, seed=seed),
    )
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.knowledge_sheet import knowledge_sheet  # noqa: PLC0415

        show_sheet(knowledge_sheet(result))
    return of_flags(result.flags)
