"""`calmday gears`: has it the power, which gear, and when to change?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from calmday.cli.between import Number
from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags, writable
from calmday.cli.reduce import draw_options, given
from calmday.cli.run_path import run_file
from calmday.errors import InputError

if TYPE_CHECKING:
    from calmday.procedures.gears_result import GearsResult

VEHICLE_FILE = "vehicle.toml"

HELP = """Has it the power? Thrust, gears and shift points.

VEHICLE is a build sheet, or a folder with a vehicle.toml in it. What each gear holds against wind, hill and
load and what stops it, what it has in hand at a speed, which gear to hold, and when to change up for best
acceleration and for least fuel. With --run the figures rest on what a weighed run taught, and the sheet says
where that drive was held back, and by what.

\b
Examples
  calmday gears my-day/vehicle.toml
  calmday gears my-day --headwind "7 m/s" --grade "3 %"
  calmday gears my-day --run my-day/run.toml --json
  calmday gears my-day --card card.html --unit mph

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""

_STATES = (
    ("--headwind", "speed", '"7 m/s"', "Wind from ahead, at the height of the vehicle."),
    ("--grade", "fraction", '"3 %"', "Hill, rise over run; downhill below zero."),
    ("--payload", "mass", '"200 kg"', "Load on top of the test mass."),
    ("--altitude", "length", '"1450 m"', "Height above sea, for the air."),
    ("--temperature", "temperature", '"11 degC"', "Of the air."),
    ("--pressure", "pressure", '"1013 hPa"', "Of the air, on the road."),
)
_LIMITS = {
    "headwind": (-40.0, 40.0, "from -40 m/s to 40 m/s"),
    "grade": (-0.4, 0.4, "from -40 % to 40 %"),
    "payload": (-10_000.0, 40_000.0, "from -10 t to 40 t"),
    "altitude": (-450.0, 6000.0, "from -450 m to 6000 m"),
    "temperature": (213.0, 333.0, "from -60 degC to 60 degC"),
    "pressure": (45_000.0, 110_000.0, "from 450 hPa to 1100 hPa"),
    "speed": (1.0, 70.0, "from 4 km/h to 250 km/h"),
    "smooth": (2.5, 150.0, "from 150 rpm to 9000 rpm"),
    "reserve": (0.0, 0.6, "from 0 % to 60 %"),
}


def state_options(command: Any) -> Any:
    """The options that say what the vehicle meets."""
    for name, _, example, words in reversed(_STATES):
        command = click.option(name, metavar=example.replace('"', ""), help=f"{words}")(command)
    return command


def si(option: str, text: str | None, dimension: str) -> float | None:
    """An option's quantity in SI units; InputError where it is none or not possible."""
    if text is None:
        return None
    from calmday.metrology.units import QuantityError, parse_quantity, shown  # noqa: PLC0415

    try:
        value = parse_quantity(text, dimension)
    except QuantityError as error:
        raise InputError.one("calmday gears", f"--{option}", error.wrong, error.right) from error
    low, high, right = _LIMITS[option]
    if not low - 1e-9 <= value <= high + 1e-9:
        raise InputError.one("calmday gears", f"--{option}", f"{shown(text)} is not possible here", right)
    return value


@click.command(name="gears", help=HELP, short_help="Has it the power? Gears, thrust, shift points.")
@click.argument("vehicle", metavar="VEHICLE")
@click.option("--run", "run", metavar="RUN", help="A weighed run of this vehicle, to learn from.")
@click.option("--coastdown", "coastdowns", metavar="FILE", multiple=True, help="Coastdowns, to learn from as well.")
@state_options
@click.option("--speed", metavar="90 km/h", help="Speed to judge reserves at.")
@click.option("--smooth", metavar="900 rpm", help="Lowest engine speed that runs cleanly.")
@click.option(
    "--speedometer-factor",
    type=Number(0.5, 2.0),
    help="True over indicated speed; the card is then for the dial.",
)
@click.option(
    "--chart-standard",
    type=click.Choice(["ISO 1585", "SAE J1349", "DIN 70020"]),
    help="What the full-load curve is corrected to.",
)
@click.option("--tachometer", is_flag=True, help="The vehicle has a rev counter: put engine speeds on the card.")
@click.option("--reserve", metavar="18 %", help="Share of full load kept in hand after a change up for least fuel.")
@click.option("--unit", type=click.Choice(["km/h", "mph"]), default="km/h", show_default=True, help="Of speeds.")
@click.option("--card", metavar="FILE", help="Write the shift card: .html to print large, .txt, or - for here.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
@draw_options
def command(
    vehicle: str,
    run: str | None,
    coastdowns: tuple[str, ...],
    unit: str,
    card: str | None,
    as_json: bool,
    **options: Any,
) -> int:
    """Answer one question about gears."""
    path = vehicle_file(vehicle)
    asked = {name.strip("-"): si(name.strip("-"), options[name.strip("-")], dim) for name, dim, _, _ in _STATES}
    speed = si("speed", options["speed"], "speed")
    smooth = si("smooth", options["smooth"], "engine speed")
    reserve = si("reserve", options["reserve"], "fraction")
    from calmday.operations import conditions, study_gears_file  # noqa: PLC0415  (numpy and the model only now)

    study = study_gears_file(
        path,
        run_file(run) if run is not None else None,
        coastdowns,
        standard=options["chart_standard"],
        smooth_rps=smooth,
        **given(draws=options["draws"], seed=options["seed"]),
    )
    result = study.answer(
        conditions(
            head_wind_mps=asked["headwind"] or 0.0,
            grade=asked["grade"] or 0.0,
            payload_kg=asked["payload"] or 0.0,
            temperature_k=asked["temperature"],
            pressure_pa=asked["pressure"],
            altitude_m=asked["altitude"],
        ),
        speed_kmh=None if speed is None else round(3.6 * speed, 9),
        speedometer_factor=options["speedometer_factor"],
        reserve=reserve,
    )
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    elif card != "-":
        from calmday.reports.gears_sheet import gears_sheet  # noqa: PLC0415

        show_sheet(gears_sheet(result, unit))
    if card is not None:
        _write_card(result, card, unit, options["tachometer"], as_json)
    return of_flags(result.flags)


def _write_card(result: GearsResult, card: str, unit: str, tachometer: bool, as_json: bool) -> None:
    from calmday.reports.plain_sheet import plain_sheet  # noqa: PLC0415
    from calmday.reports.shift_card import shift_card_page, shift_card_sheet  # noqa: PLC0415

    if card == "-":
        click.echo(
            writable(plain_sheet(shift_card_sheet(result, unit, tachometer)), err=as_json), err=as_json, nl=False
        )
        return
    file = Path(card)
    page = file.suffix.lower() in (".html", ".htm")
    text = (
        shift_card_page(result, unit, tachometer) if page else plain_sheet(shift_card_sheet(result, unit, tachometer))
    )
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.one(card, "--card", reason, "a file that can be written to") from error
    click.echo(writable(f"Shift card written to {file}.", err=True), err=True)


def vehicle_file(text: str) -> Path:
    """The build sheet itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / VEHICLE_FILE).is_file():
        return path / VEHICLE_FILE
    raise InputError.one(text, VEHICLE_FILE, "no build sheet in this folder", f"a file {VEHICLE_FILE}")
