"""The verb about settings. The command line, the page, the comparison and the Python interface call this."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.settings_file import read_settings
from calmday.procedures.settings_log import SEED, result_of_settings, settings_on
from calmday.procedures.settings_result import SettingsResult
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.setting import Reading, SettingsLog
from calmday.reports.settings_sheet import settings_headline

__all__ = ["SettingsResult", "settings_file", "settings_of_log", "settings_when"]


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
