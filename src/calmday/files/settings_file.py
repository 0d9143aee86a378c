"""The settings log: setting.toml, with the pump's lift curve."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import re
from pathlib import Path
from typing import Final

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, SeenFiles
from calmday.files.text_file import decoded
from calmday.files.toml_table import FaultList, Table
from calmday.metrology.unit_table import UNITS
from calmday.metrology.units import QuantityError, parse_quantity, shown
from calmday.records.setting import ColdStart, LiftCurve, OwnLimit, Reading, SettingEntry, SettingsLog

LIFT: Final = "plunger lift"
KNOWN: Final[dict[str, str]] = {
    LIFT: "length",
    "static timing": "angle",
    "injector opening pressure": "pressure",
    "valve lash, inlet": "length",
    "valve lash, exhaust": "length",
    "tyre pressure, front": "pressure",
    "tyre pressure, rear": "pressure",
    "boost": "pressure",
    "axle ratio": "number",
    "idle speed": "engine speed",
    "governed speed": "engine speed",
}
"""Settings whose measure is known; any other name takes the measure of its first reading."""
_TRIED: Final = (
    "length", "pressure", "angle", "engine speed", "torque", "mass", "volume", "temperature", "time", "force",
    "power", "speed", "area", "fraction",
)  # fmt: skip
_PURE = re.compile(r"[+-]?(?:\d{1,9}(?:\.\d{0,9})?|\.\d{1,9})")
MOST_ENTRIES, MOST_POINTS = 2000, 400
CURVE_LIMIT = 200_000
_ANGLES, _LIFTS = ("-360 deg", "360 deg"), ("-30 mm", "30 mm")


def read_settings(
    path: Path, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> SettingsLog:
    """The settings log in a file. `name` the file as the user named it. Raises InputError with every fault."""
    file = name or str(path)
    return settings_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem, today=today)


def settings_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> SettingsLog:
    """The settings log in a document; else as `read_settings`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    latest = (today or dt.date.today()) + dt.timedelta(days=1)
    rows = table.tables("setting")
    if len(rows) > MOST_ENTRIES:
        table.fault("setting", f"there are {len(rows)} of them", f"at most {MOST_ENTRIES}")
    found = [entry for row in rows[:MOST_ENTRIES] if (entry := _entry(row, latest)) is not None]
    log = SettingsLog(
        label=table.text("label") or stem,
        entries=tuple(sorted(found, key=lambda entry: entry.date or dt.date.min)),
        lift_curve=_curve(table.table("lift_curve"), named.files, latest) if "lift_curve" in table else None,
        cold_starts=tuple(s for row in table.tables("cold_start") if (s := _cold_start(row, latest)) is not None),
        limits=tuple(limit for row in table.tables("limit") if (limit := _limit(row)) is not None),
        file=file,
    )
    if not any(key in table for key in ("setting", "cold_start", "lift_curve")):
        table.fault("setting", "is missing", 'a [[setting]] table with what and set, such as "0.92 mm"')
    table.finish()
    if not faults.faults:
        _one_measure_each(log, table)
    faults.raise_any()
    return log


def _one_measure_each(log: SettingsLog, table: Table) -> None:
    """Readings of one setting must be of one measure, or no step between them can be told."""
    first: dict[str, str] = {}
    for entry in log.entries:
        for reading in (entry.found, entry.set, entry.tightened):
            if reading is None:
                continue
            known = first.setdefault(entry.what, reading.dimension)
            if reading.dimension != known:
                table.fault("setting", f"{shown(entry.what)} is a {known} once and a {reading.dimension} again", known)


def _entry(table: Table, latest: dt.date) -> SettingEntry | None:
    what = _what(table)
    entry = SettingEntry(
        what=what or "",
        cylinder=table.integer("cylinder", 1, 32),
        date=table.date("date", latest),
        by=table.text("by") or "",
        found=reading(table, "found", what),
        set=reading(table, "set", what),
        tightened=reading(table, "tightened", what),
        temperature_k=table.quantity("temperature", "temperature", ("-60 degC", "150 degC")),
        screw=table.text("screw") or "",
        direction=table.text("direction") or "",
        turn=table.text("turn") or "",
        start=table.text("from") or "",
        runs=table.texts("run"),
        note=table.text("note") or "",
    )
    if not any(key in table for key in ("found", "set", "tightened")):
        table.fault("set", "is missing", 'found, set or tightened, such as set = "0.92 mm"')
    table.finish()
    return entry if what is not None else None


def _what(table: Table) -> str | None:
    what = table.text("what")
    if what is None and "what" not in table:
        table.fault("what", "is missing", f"what was set, such as {', '.join(map(shown, tuple(KNOWN)[:3]))}")
    return " ".join(what.split()) if what is not None else None


def reading(table: Table, key: str, what: str | None) -> Reading | None:
    """A value with its unit, or { value, pm }; what is known by name must be of its measure."""
    entry = table.raw(key)
    if entry is None:
        return None
    if not isinstance(entry, dict):
        return _value(table, key, entry, what)
    inner = Table(entry, table.faults, table.path(key))
    value, pm = _value(inner, "value", inner.raw("value"), what), inner.raw("pm")
    if "value" not in inner:
        inner.fault("value", "is missing", 'a table such as { value = "0.92 mm", pm = "0.02 mm" }')
    inner.finish()
    if value is None or pm is None:
        return value
    half = _value(inner, "pm", pm, None)
    if half is None:
        return None
    if half.dimension != value.dimension or not half.si > 0:
        inner.fault("pm", f"{shown(pm)} is not a half width of it", "above zero, in the same measure")
        return None
    return Reading(value.si, value.shown, value.unit, value.dimension, half.si)


def _value(table: Table, key: str, entry: object, what: str | None) -> Reading | None:
    known = KNOWN.get(what or "")
    if isinstance(entry, (int, float)) and not isinstance(entry, bool):
        if known in (None, "number") and math.isfinite(entry) and abs(entry) < 1e9:
            return Reading(float(entry), float(entry), "", "number")
        wrong = f"{shown(entry)} has no unit" if known not in (None, "number") else f"{shown(entry)} is not possible"
        table.fault(key, wrong, f"a {known or 'value'} with its unit")
        return None
    if known == "number" and isinstance(entry, str) and _PURE.fullmatch(entry.strip()):
        return Reading(float(entry), float(entry), "", "number")  # as a page keeps it
    if known == "number":
        table.fault(key, f"{shown(entry)} is not a number", "a number without quotes, such as 3.73")
        return None
    last: QuantityError | None = None
    for dimension in (known,) if known is not None else _TRIED:
        try:
            si = parse_quantity(entry, dimension)
        except QuantityError as error:
            last = last or error
            continue
        return _as_written(str(entry), si, dimension)
    wrong, right = (last.wrong, last.right) if last is not None else ("is not a value", "a number with its unit")
    table.fault(key, wrong, right if known is not None else 'a value with its unit, such as "0.92 mm" or "150 bar"')
    return None


def _as_written(text: str, si: float, dimension: str) -> Reading:
    """The value in the unit it was written in, where that is one unit of the table."""
    tail = text.strip().lstrip("+-.0123456789eE ").strip()
    factor, offset = UNITS[dimension].get(tail, (1.0, 0.0))
    unit = tail if tail in UNITS[dimension] else next(iter(UNITS[dimension]))
    return Reading(si, (si - offset) / factor, unit, dimension)


def _curve(table: Table, files: NamedFiles, latest: dt.date) -> LiftCurve | None:
    entry = table.file_name("file")
    points = table.tables("point")
    angles = [p.quantity("angle", "angle", _ANGLES) for p in points[:MOST_POINTS]]
    lifts = [p.quantity("lift", "length", _LIFTS) for p in points[:MOST_POINTS]]
    for point in points:
        for key in ("angle", "lift"):
            if key not in point:
                point.fault(key, "is missing", 'angle = "4 deg" and lift = "0.35 mm"')
        point.finish()
    pairs = [(a, b) for a, b in zip(angles, lifts, strict=True) if a is not None and b is not None]
    if entry is not None:
        pairs += _curve_file(table, entry, files)
    found = LiftCurve(
        crank_rad=tuple(a for a, _ in sorted(pairs)),
        lift_m=tuple(b for _, b in sorted(pairs)),
        lift_half_width_m=table.quantity("tolerance", "length", ("0.0001 mm", "2 mm")),
        angle_half_width_rad=table.quantity("angle_tolerance", "angle", ("0.001 deg", "10 deg")),
        date=table.date("date", latest),
        by=table.text("by") or "",
    )
    if len({a for a, _ in pairs}) < len(pairs):
        table.fault("point", "has one angle twice", "one lift for each angle")
    if len(pairs) < 4 and not table.faults.faults:
        table.fault("point", f"there are {len(pairs)} of them", "at least 4, every 1 or 2 degrees of crank")
    table.finish()
    return found if pairs else None


def _curve_file(table: Table, entry: str, files: NamedFiles) -> list[tuple[float, float]]:
    name = str(Path(table.faults.file).parent / entry)
    try:
        text = decoded(files.data(entry, name, CURVE_LIMIT), name)
    except InputError as error:
        table.faults.extend(error.faults)
        return []
    rows = [row for row in csv.reader(io.StringIO(text)) if row]
    if not rows or [head.strip() for head in rows[0]] != ["crank_deg", "lift_mm"]:
        table.fault("file", f"{shown(entry)} has another head", "a first line crank_deg,lift_mm")
        return []
    pairs = []
    for number, row in enumerate(rows[1 : MOST_POINTS + 1], start=2):
        try:
            angle, lift = (float(cell) for cell in row)
        except ValueError:
            table.fault("file", f"{shown(entry)}, line {number}, is not two numbers", "such as 4,0.35")
            return []
        if not (abs(angle) <= 360 and abs(lift) <= 30):
            table.fault("file", f"{shown(entry)}, line {number}, is not possible", "degrees of crank, millimetres")
            return []
        pairs.append((math.radians(angle), lift / 1000))
    return pairs


def _cold_start(table: Table, latest: dt.date) -> ColdStart | None:
    temperature = table.quantity("temperature", "temperature", ("-60 degC", "60 degC"))
    time = table.quantity("time", "time", ("0.1 s", "10 min"))
    for key, right in (("temperature", '"4 degC"'), ("time", 'how long the starter turned, "6 s"')):
        if key not in table:
            table.fault(key, "is missing", right)
    date, note = table.date("date", latest), table.text("note") or ""
    table.finish()
    if temperature is None or time is None:
        return None
    return ColdStart(temperature_k=temperature, time_s=time, date=date, note=note)


def _limit(table: Table) -> OwnLimit | None:
    what = _what(table)
    low, high = reading(table, "lowest", what), reading(table, "highest", what)
    if "lowest" not in table and "highest" not in table:
        table.fault("highest", "is missing", "lowest or highest, as you yourself drew the line")
    by = table.text("by") or ""
    table.finish()
    return OwnLimit(what=what, lowest=low, highest=high, by=by) if what is not None else None
