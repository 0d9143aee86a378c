"""`calmday sound`: how fast did the engine turn? From a recording."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from calmday.cli.between import Whole
from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags, writable
from calmday.errors import InputError

if TYPE_CHECKING:
    from calmday.operations.sound import HeardSound

SOUND_FILE = "sound.toml"

HELP = """How fast did the engine turn? From a sound recording.

SOUND is a recording (WAV; FLAC and OGG with the extra sound), a sound.toml that names one, or a folder with a
sound.toml in it. All lines of the sound that fit one engine speed count together; where the engine does not
stand out, that is said rather than guessed. With road speed the sound says the overall ratio, which gear was
held, whether gearing and tyre are what the build sheet says, and whether the clutch slips.

\b
Examples
  calmday sound cab.wav --vehicle my-day/vehicle.toml
  calmday sound cab.wav --cylinders 4 --track out.gpx --csv speed.csv
  calmday sound cab.wav --vehicle vehicle.toml --speed "80 km/h" --gear 5
  calmday sound my-day/sound.toml --picture sound.svg --json

Leaves with 0 when done, 1 when the result must not be used, 2 when the input is at fault, 3 when the
program is.
"""


@click.command(name="sound", help=HELP, short_help="How fast did the engine turn? From a recording.")
@click.argument("sound", metavar="SOUND")
@click.option("--vehicle", metavar="VEHICLE", help="The build sheet: cylinders, strokes, engine speeds, gearing.")
@click.option("--cylinders", type=Whole(1, 24), help="How many, where no build sheet says.")
@click.option("--strokes", type=click.Choice(["2", "4"]), help="Two-stroke or four-stroke, where no build sheet says.")
@click.option("--uneven-firing", is_flag=True, help="The engine is built to fire at uneven intervals.")
@click.option("--track", metavar="TRACK", multiple=True, help="Track of the drive, for road speed.")
@click.option("--started", metavar="TIME", help="When the recording began, such as 2026-04-12T13:30:00+02:00.")
@click.option("--speed", metavar="80 km/h", help="Steady road speed, where there is no track.")
@click.option("--gear", type=Whole(1, 24), help="The gear that was held throughout.")
@click.option("--csv", "csv", metavar="FILE", help="Write engine speed against time.")
@click.option("--picture", metavar="FILE", help="Write the spectrogram: .svg, or .png with the extra pictures.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
def command(sound: str, csv: str | None, picture: str | None, as_json: bool, **options: Any) -> int:
    """Listen to one recording."""
    path = sound_file(sound)
    said = _said(options)
    from calmday.operations import hear_sound_file  # noqa: PLC0415  (numpy and the tracker only now)

    heard = hear_sound_file(path, said)
    result = heard.result
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.sound_sheet import sound_sheet  # noqa: PLC0415

        show_sheet(sound_sheet(result))
    if csv is not None:
        from calmday.reports.sound_sheet import speed_csv  # noqa: PLC0415

        _write(csv, "--csv", speed_csv(result).encode())
    if picture is not None:
        _write(picture, "--picture", _picture(heard, picture))
    return of_flags(result.flags)


def _said(options: dict[str, Any]) -> dict[str, Any]:
    """The options that were given, under the keys of a sound file."""
    keys = ("cylinders", "started", "speed", "gear")
    said = {key: options[key] for key in keys if options[key] is not None}
    if options["vehicle"] is not None:
        from calmday.cli.gears import vehicle_file  # noqa: PLC0415

        said["vehicle"] = str(vehicle_file(options["vehicle"]))
    if options["strokes"] is not None:
        said["strokes"] = int(options["strokes"])
    if options["track"]:
        said["track"] = list(options["track"])
    if options["uneven_firing"]:
        said["uneven_firing"] = True
    return said


def _picture(heard: HeardSound, file: str) -> bytes:
    from calmday.reports.charts.engine_sound import spectrogram_chart  # noqa: PLC0415
    from calmday.reports.charts.picture import png  # noqa: PLC0415

    chart = spectrogram_chart(heard.result, heard.picture)
    if file.lower().endswith(".png"):
        return png(chart)
    return chart.svg("16:9", "light").encode()


def _write(file: str, option: str, data: bytes) -> None:
    try:
        Path(file).write_bytes(data)
    except OSError as error:
        raise InputError.one(file, option, error.strerror or str(error), "a file that can be written to") from error
    click.echo(writable(f"Written: {file}.", err=True), err=True)


def sound_file(text: str) -> Path:
    """The recording or sound file itself, or the sound file in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / SOUND_FILE).is_file():
        return path / SOUND_FILE
    raise InputError.one(text, SOUND_FILE, "no sound file in this folder", f"a file {SOUND_FILE}, or name a recording")
