"""From what a person typed to the run file that was meant."""

from __future__ import annotations

from pathlib import Path

from calmday.errors import InputError

RUN_FILE = "run.toml"


def run_file(given: str) -> Path:
    """The run file itself, or the one in the folder given. Raises InputError unless it holds just one."""
    path = Path(given)
    if not path.is_dir():
        return path
    if (path / RUN_FILE).is_file():
        return path / RUN_FILE
    found = sorted(entry.name for entry in path.glob("run*.toml"))
    if len(found) == 1:
        return path / found[0]
    if found:
        names = ", ".join(found)
        raise InputError.one(given, RUN_FILE, f"several run files in this folder: {names}", "name one of them")
    raise InputError.one(given, RUN_FILE, "no run file in this folder", f"a file {RUN_FILE}, or the name of another")
