"""The verb about settings. The command line, the page, the comparison and the Python interface call this."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.settings_file import read_settings
from calmday.files.text_file import decoded, read_bytes
from calmday.files.toml_line import text_line
from calmday.files.toml_table import SIZE_LIMIT, parse_toml
from calmday.procedures.settings_log import SEED, name_of, result_of_settings, settings_on
from calmday.procedures.settings_result import SettingsResult
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.setting import Reading, SettingsLog
from calmday.reports.settings_sheet import settings_headline

__all__ = ["SettingsResult", "runs_with_setting", "settings_file", "settings_of_log", "settings_when"]


def settings_of_log(
    log: SettingsLog, *, seed: int = SEED, files: tuple[str, ...] = (), inputs_sha256: str = ""
) -> SettingsResult:
    """What a log in memory says."""
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_settings(log, made_by, seed)
    return msgspec.structs.replace(plain, sentence=settings_headline(plain))


def settings_file(path: Path | str, *, seed: int = SEED) -> SettingsResult:
    """Read a settings log with its lift curve. Raises InputError."""
    seen = SeenFiles(Path(path).parent)
    log = read_settings(Path(path), seen=seen)
    digest = inputs_digest(seen.sha256.items())
    return settings_of_log(log, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)


def settings_when(log: SettingsLog, date: dt.date) -> dict[str, Reading]:
    """What every setting stood at on a day, by name: what a comparison of runs may take its values from."""
    return settings_on(log, date)


def runs_with_setting(path: Path | str, what: str, runs: Sequence[Path | str] = ()) -> str:
    """What one setting stood at on each run, as `[[run]]` tables for a comparison over that setting.

    The runs that the log itself names, and `runs`, run files whose date says what stood then. Raises InputError.
    """
    log = read_settings(Path(path))
    told = {run.run: (run.values.get(what), run.units.get(what, "")) for run in settings_of_log(log).runs}
    for run in runs:
        file = Path(run)
        date = parse_toml(decoded(read_bytes(file, str(run), SIZE_LIMIT), str(run)), str(run)).get("date")
        if not isinstance(date, dt.date):
            raise InputError.one(str(run), "date", "is missing", "the day of the run: it says what was set then")
        standing = settings_on(log, date).get(what)
        told.setdefault(file.name, (None, "") if standing is None else (standing.shown, standing.unit))
    known = sorted({name for run in settings_of_log(log).runs for name in run.values} | set(_names(log)))
    if what not in known:
        raise InputError.one(str(path), what, "is not a setting of this log", f"one of {', '.join(known)}")
    rows = []
    for name, (value, unit) in told.items():
        if value is None:
            raise InputError.one(
                str(path), what, f"was not read before {name} was driven", "a reading of an earlier day"
            )
        shown = f"{value:g} {unit}".strip()
        rows.append("\n".join(["[[run]]", text_line("file", name), text_line("setting", shown), ""]))
    if not rows:
        raise InputError.one(str(path), "run", "is named nowhere", "run under a setting, or run files behind the log")
    return "\n".join(rows)


def _names(log: SettingsLog) -> list[str]:
    return [name_of(entry) for entry in log.entries]
