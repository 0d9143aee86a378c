"""`calmday settings`: what it was set at before anybody touched it, and every turn of a screw since."""

from __future__ import annotations

from pathlib import Path

import click

from calmday.cli.exit_status import of_flags
from calmday.cli.printing import show_json, show_sheet, tell_flags, writable
from calmday.errors import InputError

SETTING_FILE = "setting.toml"

HELP = """How is it set, and what was it before?

LOG is a settings log, or a folder with a setting.toml in it: pump timing as plunger lift, opening pressures, valve
lash, tyre pressures, boost, axle, or anything else with its unit; who, when, which screw, which way, how far.
With the pump's own lift curve millimetres become crank degrees with their doubt. Limits are yours alone.

\b
Examples
  calmday settings my-car/setting.toml
  calmday settings my-car --json
  calmday settings my-car run-*.toml --runs-of "plunger lift"

Leaves with 0 when done, 2 when the input is at fault, 3 when the program is.
"""


@click.command(name="settings", help=HELP, short_help="How is it set, and what was it before?")
@click.argument("log", metavar="LOG")
@click.argument("runs", metavar="[RUN]...", nargs=-1)
@click.option("--runs-of", metavar="SETTING", help="What it stood at on each run, as tables for a comparison over it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the sheet; cautions go to standard error.")
def command(log: str, runs: tuple[str, ...], runs_of: str | None, as_json: bool) -> int:
    """Show one settings log, or what one setting stood at on each run."""
    path = log_path(log)
    if runs_of is not None:
        from calmday.operations import runs_with_setting  # noqa: PLC0415

        click.echo(writable(runs_with_setting(path, runs_of, runs)), nl=False)
        return 0
    if runs:
        raise InputError.one("calmday settings", "RUN", "stands without --runs-of", "--runs-of with a setting")
    from calmday.operations import settings_file  # noqa: PLC0415  (numpy only now)

    result = settings_file(path)
    if as_json:
        show_json(result)
        tell_flags(result.flags)
    else:
        from calmday.reports.settings_sheet import settings_sheet  # noqa: PLC0415

        show_sheet(settings_sheet(result))
    return of_flags(result.flags)


def log_path(text: str) -> Path:
    """The log itself, or the one in the folder given."""
    path = Path(text)
    if not path.is_dir():
        return path
    if (path / SETTING_FILE).is_file():
        return path / SETTING_FILE
    raise InputError.one(text, SETTING_FILE, "no settings log in this folder", f"a file {SETTING_FILE}")
