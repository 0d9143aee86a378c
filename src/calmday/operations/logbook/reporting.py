"""Making a report: a folder to show, and beside it what its figures rest on."""

from __future__ import annotations

import hashlib
import shlex
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from calmday import __version__
from calmday.errors import InputError, MissingExtraError
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.run_file import read_run
from calmday.logbook import Logbook, folder_out
from calmday.logbook.attachments import plain_name
from calmday.logbook.states import fields_of
from calmday.operations.folders import Put, new_folder, writer, zip_of
from calmday.operations.guesses import GuessBoard, board_of
from calmday.operations.logbook.guessing import declaration
from calmday.operations.logbook.moving import import_folder
from calmday.operations.logbook.standing import BuildDifference, changed_since_last_run
from calmday.operations.weighed_run import DEFAULT_DRAWS, DEFAULT_SEED, Reduction
from calmday.procedures.weighed_run import reduce_weighed_run
from calmday.procedures.weighed_run_result import Flag
from calmday.procedures.what_next import what_next
from calmday.records.vehicle import Vehicle
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.json_result import json_result
from calmday.reports.show.away_from_home import away_from_home
from calmday.reports.show.csv_tables import CsvTable, columns_table, csv_bytes, run_tables
from calmday.reports.show.document import Document, Photo
from calmday.reports.show.html import html_document
from calmday.reports.show.pdf import fitted, pdf_document
from calmday.reports.show.photographs import photo_of
from calmday.reports.show.repeating import ABOUT, HOW, REPEAT, RESULT, about_folder, how_to_repeat
from calmday.reports.show.run_report import RunReport, run_document
from calmday.reports.show.stills import Still, still_files, stills_of_run
from calmday.reports.words import clean, spoken_setting

__all__ = ["ReportWishes", "Reported", "report_file", "report_logged", "report_zip"]

PHOTOGRAPH = "photograph"
MOST_PHOTOS = 3
RUN = "run.toml"
VERB = "report"

Told = Callable[[float, str], None]
"""How work reports: the part done and what is being done."""


class ReportWishes(msgspec.Struct, frozen=True, kw_only=True):
    """What a report should be like.

    `question` its title, the usual one where empty; `cut_home_m` how far around the ends of the drive nothing is shown
    or given away; `decimal_comma` for spreadsheets; `photos` files to show besides those of the logbook.
    """

    question: str = ""
    cut_home_m: float = 0.0
    decimal_comma: bool = False
    units: ReaderUnits = METRIC
    photos: tuple[Path, ...] = ()
    logged_photos: bool = True
    pdf: bool = True
    pictures: bool = True
    tables: bool = True
    draws: int | None = None
    seed: int = DEFAULT_SEED

    def drawn(self, usual: int) -> int:
        """How many vehicles are simulated: as many as asked for, else as the command draws by itself."""
        return self.draws if self.draws is not None else usual


USUAL = ReportWishes()


class Reported(msgspec.Struct, frozen=True, kw_only=True):
    """What was made: the folder, its files, what a person should know about it, and what the result flags."""

    folder: str
    sentence: str
    files: tuple[str, ...]
    remarks: tuple[str, ...]
    flags: tuple[Flag, ...]


def silent(_fraction: float, _words: str) -> None:
    """Report to nobody."""


def report_file(path: Path | str, folder: Path | str, wishes: ReportWishes = USUAL, told: Told = silent) -> Reported:
    """The report of a run file with everything it names. Raises InputError with every fault found."""
    read_run(Path(path))  # what is wrong is said in the words of the file, before anything is made
    with tempfile.TemporaryDirectory(prefix="calmday-") as place, Logbook.open(Path(place) / "one.calmday") as book:
        found = import_folder(book, path)
        runs = [each.id for each in found.subjects if each.kind == "run"]
        if len(runs) != 1:
            raise InputError.one(VERB, str(path), f"holds {len(runs)} runs", "one run file")
        return report_logged(book, runs[0], folder, wishes, told, plain_name(Path(path).name))


def report_logged(
    book: Logbook,
    run_id: str,
    folder: Path | str,
    wishes: ReportWishes = USUAL,
    told: Told = silent,
    name: str = RUN,
) -> Reported:
    """The report of a run of the logbook. The folder must not exist, or be empty; it appears whole or not at all.

    `name` of the run's file in it: a run without a label is called after its file.
    """
    told(0.05, "Laying out what the figures rest on")
    with new_folder(folder, VERB) as draft, tempfile.TemporaryDirectory(prefix="calmday-") as whole:
        root = draft / REPEAT if not wishes.cut_home_m else Path(whole)
        with book.reading() as connection:
            folder_out.export_inputs(connection, [run_id], book.where, lambda _: named_writer(root, name))
        told(0.1, "Driving the route again with simulated vehicles like yours")
        reduction, inputs = _reduced(root / name, wishes)
        told(0.5, "Writing the words")
        report, remarks = _run_report(book, run_id, reduction, inputs, wishes)
        put = writer(draft)
        home_cut = ""
        if wishes.cut_home_m:
            home_cut = give_away(book, run_id, wishes.cut_home_m, named_writer(draft / REPEAT, name))
        command = f"calmday reduce {_quoted(name)} --json --draws {wishes.drawn(DEFAULT_DRAWS)} --seed {wishes.seed}"
        put_repeat(put, reduction.result, command, inputs, home_cut)
        remarks += put_shown(
            put,
            run_document(report),
            stills_of_run(report.result, report.board, report.road, wishes.units),
            run_tables(report.result, report.run),
            wishes,
            told,
        )
        names = sorted(path.relative_to(draft).as_posix() for path in draft.rglob("*") if path.is_file())
        put(ABOUT, about_folder(report.result.sentence, names, home_cut))
    return Reported(
        folder=str(folder),
        sentence=report.result.sentence,
        files=tuple(sorted([*names, ABOUT])),
        remarks=tuple(remarks),
        flags=report.result.flags,
    )


def report_zip(book: Logbook, run_id: str, wishes: ReportWishes = USUAL, told: Told = silent) -> tuple[Reported, bytes]:
    """The report of a run of the logbook as one zip."""
    with tempfile.TemporaryDirectory(prefix="calmday-") as place:
        root = Path(place) / "report"
        made = report_logged(book, run_id, root, wishes, told)
        return made, zip_of(root)


def _quoted(name: str) -> str:
    """A file name as any shell takes it."""
    plain = all(c.isalnum() or c in "._-" for c in name)
    return name if plain else f'"{name}"' if not set(name) & set('"$`\\!%') else shlex.quote(name)


def named_writer(folder: Path, name: str) -> Put:
    """What writes the files of a run in a folder, the run itself under a name of its own."""
    put = writer(folder)

    def renamed(written: str, data: bytes) -> None:
        put(name if written == RUN else written, data)

    return renamed


def _reduced(path: Path, wishes: ReportWishes) -> tuple[Reduction, dict[str, str]]:
    """The run reduced from the folder that will be given along, so that the folder repeats it."""
    seen = SeenFiles(path.parent)
    run = read_run(path, name=path.name, seen=seen)
    weighed = reduce_weighed_run(run, wishes.drawn(DEFAULT_DRAWS), wishes.seed)
    return Reduction(weighed, inputs_digest(seen.sha256.items()), tuple(seen.sha256)), dict(seen.sha256)


def _run_report(
    book: Logbook, run_id: str, reduction: Reduction, inputs: Mapping[str, str], wishes: ReportWishes
) -> tuple[RunReport, list[str]]:
    document = book.document(run_id)
    said = set(fields_of(document.tables))
    if document.vehicle is not None:
        said |= set(fields_of(document.vehicle.tables))
    changed = changed_since_last_run(book, run_id)
    photos, remarks = shown_photos(wishes, _logged_photos(book, run_id, wishes))
    road = reduction.along
    if road is not None and wishes.cut_home_m:
        road = away_from_home(road, wishes.cut_home_m)
    report = RunReport(
        result=reduction.result,
        run=reduction.weighed.run,
        along=reduction.along,
        road=road,
        question=wishes.question or reduction.weighed.run.question,
        steps=what_next(reduction.result, said),
        changed=_changes(changed),
        changed_since=changed.previous_name if changed is not None else "",
        photos=photos,
        board=_board(book, run_id, reduction),
        inputs=inputs,
        configuration=configuration_id(reduction.weighed.run.vehicle),
        draws=wishes.drawn(DEFAULT_DRAWS),
        home_cut_m=wishes.cut_home_m,
        units=wishes.units,
    )
    return report, remarks


def _board(book: Logbook, run_id: str, reduction: Reduction) -> GuessBoard | None:
    run = reduction.weighed.run
    if not run.predictions or any(flag.severity == "stop" for flag in reduction.result.flags):
        return None
    declared, in_time = declaration(book.values("run", run_id), book.predictions(run_id))
    return board_of(reduction.result, run.predictions, run.guessing, declared=declared, in_time=in_time)


def _changes(found: BuildDifference | None) -> tuple[str, ...]:
    """What differs from the run before, in words."""
    if found is None:
        return ()
    differences = [
        f"{key_words(each.key)}: {each.before or 'not given'} before, {each.after or 'not given'} now"
        for each in (*found.vehicle, *found.run)
    ]
    return (*found.what, *differences)


def key_words(key: str) -> str:
    """A key of a file in words: `axle ratio`, `engine idle speed`."""
    return spoken_setting(key.removeprefix("vehicle.").replace(".", " "))


def configuration_id(vehicle: Vehicle) -> str:
    """Twelve signs that stand for a vehicle as built: SHA-256 over what its build sheet says, dates and remarks apart.

    The same build sheet gives the same signs wherever it lies; an empty field counts for nothing.
    """
    fields = msgspec.to_builtins(msgspec.structs.replace(vehicle, file="", since=None, changes=()))
    return hashlib.sha256(msgspec.json.encode(_filled(fields), order="sorted")).hexdigest()[:12]


def _filled(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _filled(each) for key, each in value.items() if each not in (None, "", (), [])}
    return [_filled(each) for each in value] if isinstance(value, (list, tuple)) else value


def _logged_photos(book: Logbook, run_id: str, wishes: ReportWishes) -> list[tuple[str, bytes]]:
    if not wishes.logged_photos:
        return []
    files = book.files("run", run_id, PHOTOGRAPH)[:MOST_PHOTOS]
    contents = book.contents([file.sha256 for file in files])
    return [(file.name, contents[file.sha256]) for file in files]


def shown_photos(wishes: ReportWishes, more: Sequence[tuple[str, bytes]] = ()) -> tuple[tuple[Photo, ...], list[str]]:
    """The photographs to show, without anything but the picture, and why one is not shown."""
    found: list[Photo] = []
    remarks: list[str] = []
    for name, data in [*((path.name, path.read_bytes()) for path in wishes.photos), *more][:MOST_PHOTOS]:
        try:
            found.append(photo_of(name, data))
        except MissingExtraError as error:
            remarks.append(f"photographs are left out: {error}")
            break
    return tuple(found), remarks


def give_away(book: Logbook, run_id: str, radius_m: float, put: Put) -> str:
    """The files of a run with its home ends cut, without a result; what was left out, in words."""

    def kept(name: str, data: bytes) -> None:
        if name != folder_out.RESULT:
            put(name, data)

    with book.reading() as connection:
        remarks = folder_out.export_for_others(connection, run_id, radius_m, book.where, kept)
    return f"{clean(remarks[0])}."


def put_repeat(put: Put, result: Any, command: str, inputs: Mapping[str, str], home_cut: str) -> None:
    """The result and how to get it again, beside what it rests on."""
    content = json_result(result)
    sha256 = hashlib.sha256(content).hexdigest()
    put(f"{REPEAT}/{RESULT}", content)
    digest = result.provenance.inputs_sha256
    put(f"{REPEAT}/{HOW}", how_to_repeat(command, __version__, sha256, inputs, digest, home_cut))


def put_shown(
    put: Put,
    document: Document,
    stills: Sequence[Still],
    tables: Sequence[CsvTable],
    wishes: ReportWishes,
    told: Told,
) -> list[str]:
    """The files to show; what could not be made, and what to install for it."""
    remarks: list[str] = []
    shown = document
    if wishes.pdf:
        told(0.6, "Setting the pages")
        try:
            shown, size = fitted(document)
            put("report.pdf", pdf_document(shown, size))
        except MissingExtraError as error:
            remarks.append(f"there is no report.pdf: {error}")
    put("report.html", html_document(shown).encode())
    if wishes.pictures:
        told(0.7, "Drawing the pictures")
        try:
            files = still_files(stills)
        except MissingExtraError as error:
            remarks.append(f"the pictures are SVG only: {error}")
            files = still_files(stills, pictures=False)
        for name, data in files.items():
            put(f"pictures/{name}", data)
    if wishes.tables:
        told(0.95, "Writing the tables")
        for table in (*tables, columns_table(tables)):
            put(f"tables/{table.name}.csv", csv_bytes(table, decimal_comma=wishes.decimal_comma))
    return remarks
