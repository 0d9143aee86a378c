"""`calmday whatif`: what a change would do, before anyone buys parts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

HELP = """What a change would do, before anyone buys parts.

VEHICLE is a build sheet, a folder with a vehicle.toml in it, or a file of imagined changes (whatif.toml).
A key of the build sheet takes a new value or, for many, a change in per cent. Before and after are the same
simulated vehicles, so that what they have in common does not blur the difference.

\b
Examples
  calmday whatif my-day --set final_drive=3.7 --speed "90 km/h"
  calmday whatif my-day --set "drag_coefficient=-10 %" --run my-day
  calmday whatif my-day --set "tyre_pressure=330 kPa" --set "test_mass=-5 %"
  calmday whatif my-day --best-axle --speed "80 km/h" --headwind "6 m/s"
  calmday whatif whatif.toml --json
"""

_STATES = (
    ("speed", "90 km/h", "The steady speed; 80 km/h where none is given."),
    ("headwind", "7 m/s", "Wind straight from ahead, at the vehicle."),
    ("wind", "4 m/s", "Wind from all around, as on a loop, at the vehicle: about 0.6 of a forecast's."),
    ("grade", "3 %", "Slope of the road."),
    ("payload", "200 kg", "Load on top of the test mass."),
    ("temperature", "5 degC", "Of the air."),
    ("pressure", "1000 hPa", "Of the air, on the road."),
    ("altitude", "600 m", "Height of the road, where no pressure is given."),
)


def _options(command: Any) -> Any:
    for name, example, words in reversed(_STATES):
        command = click.option(f"--{name}", metavar=f'"{example}"', help=words)(command)
    return command


@click.command(name="whatif", help=HELP, short_help="What a change would do, before anyone buys parts.")
@click.argument("vehicle", metavar="VEHICLE")
@click.option("--set", "settings", multiple=True, metavar="KEY=VALUE", help="A change; several are also made together.")
@click.option("--run", "runs", multiple=True, metavar="RUN", help="A weighed run to learn from; as often as you like.")
@click.option("--coastdown", "coastdowns", multiple=True, metavar="COASTDOWN", help="A coastdown to learn from.")
@click.option("--best-axle", is_flag=True, help="Seek the axle ratio that uses least.")
@_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(
    vehicle: str,
    settings: tuple[str, ...],
    runs: tuple[str, ...],
    coastdowns: tuple[str, ...],
    best_axle: bool,
    as_json: bool,
    **options: Any,
) -> int:
    """Answer one what-if."""
    states = {name: options[name] for name, _, _ in _STATES if options[name] is not None}
    how_many = given(draws=options["draws"], seed=options["seed"])
    path = _file(vehicle)
    from calmday.operations import what_if_file, what_if_words  # noqa: PLC0415  (numpy and the model only now)

    if _asks(path):
        if settings or states or runs or coastdowns or best_axle:
            raise InputError.one(
                vehicle, "arguments", "says everything itself", "no options but --json, --draws, --seed"
            )
        result = what_if_file(path, **how_many)
    else:
        learnt = [run_file(run) for run in runs]
        result = what_if_words(path, settings, states, learnt, coastdowns, axle=best_axle, **how_many)
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.what_if_sheet import what_if_sheet  # noqa: PLC0415

        show_sheet(what_if_sheet(result))
    return of_flags(result.flags)


def _file(text: str) -> Path:
    path = Path(text)
    if not path.is_dir():
        return path
    for name in ("whatif.toml", "vehicle.toml"):
        if (path / name).is_file():
            return path / name
    raise InputError.one(text, "vehicle.toml", "no build sheet in this folder", "a file vehicle.toml or whatif.toml")


def _asks(path: Path) -> bool:
    """Whether a file is one of imagined changes: it names a vehicle instead of describing it."""
    import tomllib  # noqa: PLC0415

    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return path.name.startswith("whatif")  # the reader says what is wrong with it
    return isinstance(tables.get("vehicle"), str) or path.name == "whatif.toml"
