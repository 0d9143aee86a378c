"""`calmday trace`: the full-load curve from a picture of a chart."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags
from calmday.errors import InputError

CHART_FILE = "chart.toml"

HELP = """The full-load curve from a picture of a chart.

CHART is a file that names the picture, marks known places on its axes and says which curves to follow, or a
folder with a chart.toml in it. The curve comes with the band to which it could be read, and power is held
against torque times speed. --out writes the full_load.csv that a build sheet names; --overlay draws the curve
over the picture, for the eye.

\b
Examples
  calmday trace my-day/chart.toml
  calmday trace my-day --out my-day/full_load.csv --overlay look.png
  calmday trace my-day --json

Needs the extra "pictures". Leaves with 0 when done, 1 when the result must not be used, 2 when the input is
at fault, 3 when the program is.
"""


@click.command(name="trace", help=HELP, short_help="The full-load curve from a picture of a chart.")
@click.argument("chart", metavar="CHART")
@click.option("--out", "out", metavar="FILE", help="Write the curve here, as full_load.csv.")
@click.option("--overlay", "overlay", metavar="FILE", help="Draw the curve over the picture, as PNG.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
def command(chart: str, out: str | None, overlay: str | None, as_json: bool) -> int:
    """Trace and show one chart."""
    path = chart_file(chart)
    from calmday.operations import full_load_csv, trace_file  # noqa: PLC0415  (numpy only now)

    result = trace_file(path)
    if out is not None:
        _write(Path(out), full_load_csv(result).encode())
    if overlay is not None:
        from calmday.reports.trace_overlay import overlay_png  # noqa: PLC0415

        _write(Path(overlay), overlay_png(result, (path.parent / result.picture.file).read_bytes()))
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.trace_sheet import trace_sheet  # noqa: PLC0415

        show_sheet(trace_sheet(result))
    return of_flags(result.flags)


def chart_file(text: str) -> Path:
    """The chart file itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / CHART_FILE).is_file():
        return path / CHART_FILE
    raise InputError.one(text, CHART_FILE, "no chart file in this folder", f"a file {CHART_FILE}")


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise InputError.one(
            str(path), "file", f"cannot be written ({error.strerror or error})", "a place to write to"
        ) from None
