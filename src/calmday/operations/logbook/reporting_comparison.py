"""Making the report of a comparison: its runs in folders of their own, and the comparison beside them."""

from __future__ import annotations

import copy
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path, PurePath
from typing import Any

from calmday.errors import InputError
from calmday.files.comparison_file import read_comparison
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.text_file import decoded, read_bytes
from calmday.files.toml_table import SIZE_LIMIT, parse_toml
from calmday.logbook import Logbook, folder_out
from calmday.logbook.attachments import plain_name
from calmday.logbook.states import build_states, date_of, differences, state_on
from calmday.logbook.toml_text import toml_text
from calmday.operations.comparison import compare_runs
from calmday.operations.folders import Put, new_folder, writer, zip_of
from calmday.operations.logbook.comparison import comparison_of_logbook, comparison_tables_of
from calmday.operations.logbook.moving import import_folder
from calmday.operations.logbook.reporting import (
    USUAL,
    VERB,
    Reported,
    ReportWishes,
    Told,
    configuration_id,
    give_away,
    key_words,
    named_writer,
    put_repeat,
    put_shown,
    shown_photos,
    silent,
)
from calmday.operations.logbook.standing import conditions_of
from calmday.procedures.comparison import COMPARE_DRAWS
from calmday.procedures.comparison_result import ComparisonResult
from calmday.records.comparison import Comparison, Entry
from calmday.reports.show.comparison_report import ComparisonReport, comparison_document
from calmday.reports.show.comparison_stills import stills_of_comparison
from calmday.reports.show.csv_comparison import comparison_tables
from calmday.reports.show.repeating import ABOUT, REPEAT, about_folder

__all__ = ["report_comparison_file", "report_comparison_logged", "report_comparison_zip"]

COMPARISON = "comparison.toml"
_LISTS = ("baseline", "changed", "order")


LayOut = Callable[[int, str, str, Path, Path], str]
"""Lays out a run of a comparison: its number, its name there, its place in the folder, where the whole files go and
where the cut ones. Gives what was cut from its tracks, in words."""


def report_comparison_file(
    path: Path | str, folder: Path | str, wishes: ReportWishes = USUAL, told: Told = silent
) -> Reported:
    """The report of a comparison file with all the runs it names. Raises InputError with every fault found."""
    source = Path(path)
    asked = read_comparison(source)  # what is wrong is said in the words of the file, before anything is made
    with tempfile.TemporaryDirectory(prefix="calmday-") as place:

        def lay_out(number: int, name: str, where: str, root: Path, shown: Path) -> str:
            with Logbook.open(Path(place) / f"{number}.calmday") as book:
                found = [each.id for each in import_folder(book, source.parent / name).subjects if each.kind == "run"]
                if len(found) != 1:
                    raise InputError.one(VERB, name, f"holds {len(found)} runs", "one run file")
                return _put_run(book, found[0], where, root, shown, wishes)

        return _report(asked, _tables(source), lay_out, folder, wishes, told)


def report_comparison_logged(
    book: Logbook, comparison_id: str, folder: Path | str, wishes: ReportWishes = USUAL, told: Told = silent
) -> Reported:
    """The report of a comparison of the logbook. The folder must not exist, or be empty."""
    asked, tables = comparison_of_logbook(book, comparison_id)[0], comparison_tables_of(book, comparison_id)

    def lay_out(_number: int, run_id: str, where: str, root: Path, shown: Path) -> str:
        return _put_run(book, run_id, where, root, shown, wishes)

    return _report(asked, tables, lay_out, folder, wishes, told)


def report_comparison_zip(
    book: Logbook, comparison_id: str, wishes: ReportWishes = USUAL, told: Told = silent
) -> tuple[Reported, bytes]:
    """The report of a comparison of the logbook as one zip."""
    with tempfile.TemporaryDirectory(prefix="calmday-") as place:
        root = Path(place) / "report"
        made = report_comparison_logged(book, comparison_id, root, wishes, told)
        return made, zip_of(root)


def _report(
    asked: Comparison,
    tables: dict[str, Any],
    lay_out: LayOut,
    folder: Path | str,
    wishes: ReportWishes,
    told: Told,
) -> Reported:
    """Lay the runs out, compare them there, and write what is to be shown."""
    named = list(dict.fromkeys(entry.file for entry in asked.entries if entry.file))
    with new_folder(folder, VERB) as draft, tempfile.TemporaryDirectory(prefix="calmday-") as shelf:
        root = draft / REPEAT if not wishes.cut_home_m else Path(shelf)
        told(0.05, "Laying out what the figures rest on")
        places = {name: _place(number, name) for number, name in enumerate(named, start=1)}
        cuts = [lay_out(number, name, places[name], root, draft / REPEAT) for number, name in enumerate(named, start=1)]
        for target in {root, draft / REPEAT}:
            target.mkdir(parents=True, exist_ok=True)
            (target / COMPARISON).write_bytes(_rewritten(tables, places))
        told(0.2, "Driving every run again with simulated vehicles like yours")
        result, inputs, copied = _compared(root / COMPARISON, wishes)
        told(0.7, "Writing the words")
        photos, remarks = shown_photos(wishes)
        report = ComparisonReport(
            result=result,
            question=wishes.question,
            differs=_differs(root, copied),
            configurations=_configurations(copied),
            photos=photos,
            inputs=inputs,
            draws=wishes.drawn(COMPARE_DRAWS),
        )
        put = writer(draft)
        home_cut = " ".join(dict.fromkeys(cut for cut in cuts if cut))
        command = f"calmday compare {COMPARISON} --json --draws {wishes.drawn(COMPARE_DRAWS)} --seed {wishes.seed}"
        put_repeat(put, result, command, inputs, home_cut)
        document, stills = comparison_document(report), stills_of_comparison(result)
        remarks += put_shown(put, document, stills, comparison_tables(result, copied), wishes, told)
        names = sorted(each.relative_to(draft).as_posix() for each in draft.rglob("*") if each.is_file())
        put(ABOUT, about_folder(result.sentence, names, home_cut))
    return Reported(
        folder=str(folder),
        sentence=result.sentence,
        files=tuple(sorted([*names, ABOUT])),
        remarks=tuple(remarks),
        flags=result.flags,
    )


def _place(number: int, name: str) -> str:
    """Where a run stands in the folder: numbered, under the name it had, which may be its label."""
    plain = plain_name(PurePath(name).name)
    return f"runs/{number:02d}/{plain if plain.endswith('.toml') else f'{plain}.toml'}"


def _put_run(book: Logbook, run_id: str, place: str, root: Path, shown: Path, wishes: ReportWishes) -> str:
    """Copy a run with all it names; what was cut from its tracks, in words."""
    with book.reading() as connection:
        folder_out.export_inputs(connection, [run_id], book.where, lambda _: _within(root, place))
    return give_away(book, run_id, wishes.cut_home_m, _within(shown, place)) if wishes.cut_home_m else ""


def _within(root: Path, place: str) -> Put:
    """What writes the files of one run in its folder, the run itself under the name it had."""
    folder, _, name = place.rpartition("/")
    return named_writer(root / folder, name)


def _rewritten(told: Mapping[str, Any], places: Mapping[str, str]) -> bytes:
    """The comparison with the runs where they now lie."""
    tables = copy.deepcopy(dict(told))
    for key in _LISTS:
        value = tables.get(key)
        if isinstance(value, list):
            tables[key] = [places.get(str(name), name) for name in value]
        elif isinstance(value, str):
            tables[key] = places.get(value, value)
    details = tables.get("run", [])
    for run in details if isinstance(details, list) else []:
        if "file" in run:
            run["file"] = places.get(str(run["file"]), run["file"])
    if isinstance(tables.get("member"), dict):
        tables["member"] = {places.get(name, name): said for name, said in tables["member"].items()}
    return toml_text(tables).encode()


def _compared(path: Path, wishes: ReportWishes) -> tuple[ComparisonResult, dict[str, str], Comparison]:
    """The comparison worked out from the folder that will be given along, so that the folder repeats it."""
    seen = SeenFiles(path.parent)
    asked = read_comparison(path, name=path.name, seen=seen)
    digest = inputs_digest(seen.sha256.items())
    result = compare_runs(
        asked, draws=wishes.drawn(COMPARE_DRAWS), seed=wishes.seed, files=tuple(seen.sha256), inputs_sha256=digest
    )
    return result, dict(seen.sha256), asked


def _first(asked: Comparison, changed: bool) -> Entry | None:
    return next((e for e in asked.entries if e.changed == changed and e.run is not None and not e.left_out), None)


def _configurations(asked: Comparison) -> tuple[str, str]:
    """What stands for the vehicle on both sides."""
    before, after = _first(asked, False), _first(asked, True)
    return _configuration(before), _configuration(after)


def _configuration(entry: Entry | None) -> str:
    return configuration_id(entry.run.vehicle) if entry is not None and entry.run is not None else ""


def _differs(root: Path, asked: Comparison) -> tuple[str, ...]:
    """What differs between the files of the first run before the change and of the first after it."""
    before, after = _first(asked, False), _first(asked, True)
    if before is None or after is None:
        return ()
    return tuple(
        f"{key_words(each.key)}: {each.before or 'not given'} before, {each.after or 'not given'} after"
        for each in differences(_said(root / before.file), _said(root / after.file))
    )


def _said(path: Path) -> dict[str, str]:
    """How a run was done, and the vehicle as it was on that day, as the files have it."""
    tables = _tables(path)
    said = conditions_of(tables)
    vehicle = tables.get("vehicle")
    if isinstance(vehicle, str):
        states = build_states(_tables(path.parent / vehicle))
        said |= state_on(states, date_of(tables.get("date"))).fields
    return said


def _tables(path: Path) -> dict[str, Any]:
    return parse_toml(decoded(read_bytes(path, path.name, SIZE_LIMIT), path.name), path.name)
