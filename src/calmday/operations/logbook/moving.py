"""Taking the logbook elsewhere and bringing it back: plain folders, and whole copies."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from calmday.errors import InputError
from calmday.logbook import Logbook, copies, folder_in, folder_out
from calmday.logbook.connection import default_place, is_url
from calmday.logbook.folder_in import Import
from calmday.metrology.units import QuantityError, parse_quantity
from calmday.operations.folders import new_folder, writer

_LEAST_RADIUS_M, _MOST_RADIUS_M = 50.0, 50_000.0


def export_folder(book: Logbook, run_id: str | None, folder: Path | str, cut_home_m: float = 0.0) -> tuple[str, ...]:
    """Write one run (or, with None, the whole logbook) as a plain folder; remarks on what it lacks.

    `cut_home_m`: for giving a run away; tracks lose every fix this near where the drive began or ended, and history
    and photographs stay at home. The folder must not exist, or be empty; it appears whole or not at all.
    """
    if cut_home_m and run_id is None:
        raise InputError.one("export", "cut home", "is for one run", "name the run to give away")
    remarks: tuple[str, ...] = ()
    with new_folder(folder, "export") as draft, book.reading() as connection:
        put = writer(draft)
        if run_id is None:
            folder_out.export_all(connection, book.where, put)
        elif cut_home_m > 0:
            remarks = folder_out.export_for_others(connection, run_id, cut_home_m, book.where, put)
        else:
            folder_out.export_run(connection, run_id, book.where, put)
    return remarks


def import_folder(book: Logbook, folder: Path | str, by: str = "", *, inside_only: bool = False) -> Import:
    """Take in a plain folder, an exported one or a person's own, or a single run file. All of it, or nothing.

    `inside_only`: refuse files outside the folder. Raises InputError with what is wrong.
    """
    place = Path(folder)
    if not place.exists():
        raise InputError.one("import", str(place), "is not there", "a folder with a run.toml in it, or a run file")
    with book.writing() as connection:
        return folder_in.import_folder(connection, place, by or "import", book.where, inside_only=inside_only)


def backup(book: Logbook, file: Path | str) -> Path:
    """Write a whole, checked copy of the logbook as one file; also of one on a server. The file must not exist.

    In a folder it is named after the day.
    """
    target = Path(file)
    if target.is_dir():
        target /= f"logbook-{dt.date.today().isoformat()}.calmday"
    if target.exists():
        raise InputError.one("backup", str(target), "is there already", "a name that is not taken")
    if book.engine.dialect.name == "sqlite":
        copies.copy_file(Path(book.where), target)
    else:
        with book.reading() as connection:
            copies.copy_rows_to_file(connection, target)
    return target


def restore(file: Path | str, where: Path | str | None = None, *, replace: bool = False) -> Path | None:
    """Put a copy in the place of the logbook; where the one that was there has been moved to (None: there was none).

    To a server only where its database is still empty.
    """
    place = str(where) if where is not None else default_place()
    if not is_url(place):
        return copies.restore_file(Path(file), Path(place), replace=replace)
    if not Path(file).exists():
        raise InputError.one("restore", str(file), "is not there", "the name of a backup file")
    copies.look_only(Path(file))
    with (
        Logbook.open(place) as book,
        Logbook.open(Path(file), make=False) as source,
        book.writing() as target,
        source.reading() as rows,
    ):
        if not copies.is_empty(target):
            raise InputError.one("restore", book.where, "holds a logbook already", "an empty database")
        copies.copy_rows(rows, target)
    return None


def find_run(book: Logbook, named: str) -> str:
    """The identifier of the run that a person means: by identifier, label or date. Raises InputError."""
    runs = book.subjects("run", keys=("date",))
    found = [run for run in runs if named in (run.id, run.name, run.values.get("date"))]
    if len(found) == 1:
        return found[0].id
    if found:
        listed = ", ".join(f"{run.name} ({run.id})" for run in found[:8])
        raise InputError.one("export", named[:60], f"fits {len(found)} runs: {listed}", "the identifier of one of them")
    near = ", ".join(run.name for run in runs[-5:]) or "none yet"
    raise InputError.one("export", named[:60], "is no run of this logbook", f"a label or date; the newest: {near}")


def home_radius_m(text: str) -> float:
    """How far around home tracks are cut, from a text with its unit. Raises InputError."""
    try:
        radius = parse_quantity(text, "length")
    except QuantityError as e:
        raise InputError.one("export", "cut home", e.wrong, 'a length such as "500 m"') from None
    if not _LEAST_RADIUS_M <= radius <= _MOST_RADIUS_M:
        raise InputError.one("export", "cut home", f"{text[:40]} is not possible here", "from 50 m to 50 km")
    return radius
