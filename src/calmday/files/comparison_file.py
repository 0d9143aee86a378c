"""A comparison: comparison.toml with the runs that it names."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from pathlib import Path, PurePath
from typing import Any, cast

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.files.named_files import (
    IDENTIFIER,
    FolderFiles,
    NamedDocument,
    NamedFiles,
    NeighbouringTests,
    SeenFiles,
)
from calmday.files.run_file import run_of
from calmday.files.toml_table import FaultList, Table
from calmday.metrology.units import QuantityError, parse_consumption, shown
from calmday.records.comparison import REMOVABLE, Claim, Comparison, Entry, Removed
from calmday.records.run import Run
from calmday.records.track import FIRST_CLOCK_S

_GROUPS = ("baseline", "changed")
_SETTING = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*([A-Za-z%°/²³]{1,12})?")
_DIGEST = re.compile(r"[0-9a-fA-F]{64}")
_MOST_RUNS = 60


def read_comparison(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> Comparison:
    """The comparison of a file with all its runs. `name` the file as the user named it.

    `today` bounds the dates that are not the future; `seen` notes every file read. Raises InputError with every fault.
    """
    file = name or str(path)
    named = FolderFiles(path.parent, seen).document(path.name, file)
    return comparison_of(
        msgspec.structs.replace(named, files=NeighbouringTests(path.parent, seen)), file, path.stem, today=today
    )


def comparison_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> Comparison:
    """The comparison in a document; else as `read_comparison`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    entries = _told_apart(_entries(table, named.files, today))
    units = {unit for _, unit in entries if unit}
    knew = _yes_or_no(table, "driver_knew")
    corrected = _yes_or_no(table, "take_weather_off")
    scatter = ("0.05 %", "30 %")
    asked = Comparison(
        label=table.text("label") or stem,
        entries=tuple(entry for entry, _ in entries),
        question=table.text("question") or "",
        baseline_name=table.text("baseline_name") or "",
        changed_name=table.text("changed_name") or "",
        planned_runs=table.integer("planned_runs", 2, 500),
        smallest_change=table.quantity("smallest_change", "fraction", ("0.01 %", "100 %")),
        run_scatter=table.quantity("run_scatter", "fraction", scatter),
        scatter_belief=table.quantity("usual_scatter", "fraction", scatter),
        removed=_removed(table),
        setting_unit=next(iter(units), ""),
        factors=table.texts("changes"),
        blind=None if knew is None else not knew,
        sealed_order=_digest(table),
        seal=table.text("sealed_with") or "",
        of_several=table.integer("changes_tried", 1, 1000),
        correct_for_weather=corrected is not False,
        claims=tuple(claim for t in table.tables("claim") if (claim := _claim(t)) is not None),
        file=file,
    )
    if len(units) > 1:
        table.fault("run", f"settings stand in different units ({', '.join(sorted(units))})", "one unit throughout")
    _require(asked, table)
    table.finish()
    faults.raise_any()
    return asked


def _told_apart(found: list[tuple[Entry, str]]) -> list[tuple[Entry, str]]:
    """Runs of one label by their day as well, or by their number where that is the same too."""
    labels = Counter(entry.label for entry, _ in found)
    days = Counter((entry.label, entry.run.date if entry.run is not None else None) for entry, _ in found)
    told = []
    for number, (entry, unit) in enumerate(found, 1):
        date = entry.run.date if entry.run is not None else None
        if labels[entry.label] > 1:
            by_day = date is not None and days[entry.label, date] == 1
            label = (
                f"{entry.label}, {date.day} {date:%B}" if by_day and date is not None else f"{entry.label} ({number})"
            )
            entry = msgspec.structs.replace(entry, label=label)  # noqa: PLW2901
        told.append((entry, unit))
    return told


def _require(asked: Comparison, table: Table) -> None:
    if table.faults.faults:
        return
    counting = [entry for entry in asked.entries if not entry.left_out]
    swept = bool(asked.setting_unit)
    for entry in asked.entries:
        unknown = set(entry.with_) - set(asked.factors)
        if unknown:
            table.fault("run.with", f"{shown(min(unknown))} is not one of changes", "a name that stands in changes")
            return
        if swept and entry.setting is None and not entry.left_out:
            table.fault(
                "run.setting", f"is missing for {shown(entry.label)}", 'a setting such as "0.90 mm" for each run'
            )
            return
    if swept or asked.factors:
        if len(counting) < 2:
            table.fault("run", "has fewer than two runs that count", "two runs or more")
        return
    for key, changed in (("baseline", False), ("changed", True)):
        if not any(entry.changed == changed for entry in counting):
            table.fault(key, "has no run that counts", f'{key} = ["run_1.toml", ...] or [[run]] with group = "{key}"')


def _entries(table: Table, files: NamedFiles, today: dt.date | None) -> list[tuple[Entry, str]]:
    """Every run in the order given, with the unit of its setting."""
    listed = {name: table.file_names(name) for name in _GROUPS}
    details = table.tables("run")
    said: dict[str, Table] = {}
    loose: list[Table] = []
    members = table.table("member")
    said |= {name: members.table(name) for name, _ in members.items()}
    for detail in details:
        name = detail.file_name("file")
        if name is None:
            loose.append(detail)
        elif name in said:
            detail.fault("file", f"{shown(name)} has a table already", "one [[run]] table for each run")
        else:
            said[name] = detail
    found: list[tuple[Entry, str]] = []
    for group in _GROUPS:
        for name in listed[group]:
            found += _filed(table, files, today, name, group == "changed", said.pop(name, None))
    for name, detail in said.items():
        side = detail.choice("group", _GROUPS)
        if "group" not in detail and "setting" not in detail and "changes" not in table:
            detail.fault("group", "is missing", "baseline or changed")
        found += _filed(table, files, today, name, side == "changed", detail)
    for detail in loose:
        found += _unfiled(detail)
    if len(found) > _MOST_RUNS:
        table.fault("run", f"{len(found)} runs are named", f"at most {_MOST_RUNS}")
        return []
    _same_control_unit(table, found, [*details, *(members.table(name) for name, _ in members.items())])
    return _in_order(table, found)


def _filed(
    table: Table, files: NamedFiles, today: dt.date | None, name: str, changed: bool, detail: Table | None
) -> list[tuple[Entry, str]]:
    file = str(Path(table.faults.file).parent / name)
    own, unit = _details(detail)
    try:
        run = run_of(files.document(name, file), file, PurePath(name).stem, today=today)
    except InputError as error:
        table.faults.extend(error.faults)
        return []
    label = own.pop("label", None) or _called(run, PurePath(name).stem)
    return [(Entry(changed=changed, label=label, run=run, file=name, **own), unit)]


def _called(run: Run, stem: str) -> str:
    """The run's label; its date where a logbook knows it by an identifier only."""
    if run.label != stem or not IDENTIFIER.fullmatch(stem):
        return run.label
    return f"run of {run.date.day} {run.date:%B}" if run.date is not None else f"run {stem[-4:]}"


def _unfiled(detail: Table) -> list[tuple[Entry, str]]:
    """A run of which only fuel and distance were noted."""
    group = detail.choice("group", _GROUPS)
    fuel = detail.quantity("fuel", "mass", ("1 g", "2000 kg"))
    distance = detail.quantity("distance", "length", ("100 m", "5000 km"))
    for key, value, right in (
        ("fuel", fuel, 'what was burnt, such as "1472 g", or file with a run file'),
        ("distance", distance, 'the distance, such as "25.0 km"'),
    ):
        if value is None and key not in detail:
            detail.fault(key, "is missing", right)
    own, unit = _details(detail)
    if fuel is None or distance is None:
        return []
    label = own.pop("label", None) or detail.key
    return [(Entry(changed=group == "changed", label=label, fuel_kg=fuel, distance_m=distance, **own), unit)]


def _details(detail: Table | None) -> tuple[dict[str, Any], str]:
    """What a [[run]] table says beside its file, and the unit of its setting."""
    if detail is None:
        return {}, ""
    setting, unit = _setting(detail)
    own = {
        "label": detail.text("label"),
        "block": detail.text("block") or "",
        "setting": setting,
        "temperature_k": detail.quantity("temperature", "temperature", ("-40 degC", "55 degC")),
        "control_kgpm": _control(detail),
        "with_": detail.texts("with"),
        "left_out": detail.text("left_out") or "",
        "known_before": _yes_or_no(detail, "known_before_weighing"),
    }
    detail.raw("group")
    detail.finish()
    return own, unit


def _yes_or_no(table: Table, key: str) -> bool | None:
    """true or false, or the word in quotes."""
    value = table.raw(key)
    if isinstance(value, str) and value.strip().lower() in ("yes", "true", "no", "false"):
        return value.strip().lower() in ("yes", "true")
    return table.boolean(key)


def _setting(detail: Table) -> tuple[float | None, str]:
    value = detail.raw("setting")
    if value is None:
        return None, ""
    match = _SETTING.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None and isinstance(value, str) and re.search(r"\d,\d", value):
        detail.fault("setting", f"{shown(value)} has a comma in the number", "a decimal point, 0.90 mm not 0,90 mm")
        return None, ""
    if match is None:
        detail.fault("setting", f"{shown(value)} is not a setting", 'a number with its unit, such as "0.90 mm"')
        return None, ""
    return float(match.group(1)), match.group(2) or "steps"


def _control(detail: Table) -> float | None:
    """Fuel per distance of the control vehicle, in any one unit: only its ratio from run to run enters."""
    value = detail.raw("control")
    if value is None:
        return None
    try:
        number, unit = parse_consumption(value)
    except QuantityError as error:
        detail.fault("control", error.wrong, error.right)
        return None
    return number if unit in ("L_per_100km", "g_per_km") else 1.0 / number


def _same_control_unit(table: Table, found: list[tuple[Entry, str]], details: list[Table]) -> None:
    """Every run with a control figure, or none; and all of them in one unit."""
    given = [entry.control_kgpm is not None for entry, _ in found]
    if any(given) and not all(given):
        table.fault("run.control", "is given for some runs only", "the control vehicle's consumption for every run")
    units = set()
    for detail in details:
        value = detail.raw("control")
        if isinstance(value, str):
            try:
                units.add(parse_consumption(value)[1])
            except QuantityError:
                return
    if len(units) > 1:
        table.fault("run.control", "stands in different units", "one unit for every run, such as L/100km")


def _in_order(table: Table, found: list[tuple[Entry, str]]) -> list[tuple[Entry, str]]:
    """The entries with their place in the order driven: as said, else by the clock of their tracks or their dates."""
    names = [entry.file or entry.label for entry, _ in found]
    said = table.texts("order")
    if said:
        if sorted(said) != sorted(names):
            missing = [name for name in names if name not in said] or [name for name in said if name not in names]
            wrong = f"does not fit: {shown(missing[0])}" if missing else "names a run twice"
            table.fault("order", wrong, "every run once, by its file, or by its label where it has none")
            return found
        places = {name: i + 1 for i, name in enumerate(said)}
        return [
            (msgspec.structs.replace(entry, order=places[name]), unit)
            for name, (entry, unit) in zip(names, found, strict=True)
        ]
    moments = [_moment(entry.run) for entry, _ in found]
    if None in moments or len(set(moments)) < len(moments):
        return found
    ranked = sorted(range(len(found)), key=lambda i: moments[i] or 0.0)
    place_of = {i: place + 1 for place, i in enumerate(ranked)}
    return [(msgspec.structs.replace(entry, order=place_of[i]), unit) for i, (entry, unit) in enumerate(found)]


def _moment(run: Run | None) -> float | None:
    """When a run began: by its track, else noon of its date."""
    if run is None:
        return None
    if run.track is not None and len(run.track):
        begin = float(np.nanmin(run.track.time_s))
        if begin > FIRST_CLOCK_S:
            return begin
    if run.date is None:
        return None
    return dt.datetime.combine(run.date, dt.time(12), dt.UTC).timestamp()


def _removed(table: Table) -> tuple[Removed, ...] | None:
    words = table.texts("take_off")
    for word in words:
        if word not in REMOVABLE:
            table.fault("take_off", f"{shown(word)} is not known", f"one or both of {', '.join(REMOVABLE)}")
    return cast("tuple[Removed, ...]", words) if "take_off" in table else None


def _digest(table: Table) -> str:
    digest = table.text("sealed_order") or ""
    if digest and not _DIGEST.fullmatch(digest):
        table.fault("sealed_order", f"{shown(digest)} is not a digest", "the 64 characters shown when it was sealed")
        return ""
    return digest


def _claim(table: Table) -> Claim | None:
    text, by = table.text("text"), table.text("by") or ""
    if "text" not in table:
        table.fault("text", "is missing", "what was said, such as 12 % better mpg")
    table.finish()
    return None if text is None else Claim(text=text, by=by)
