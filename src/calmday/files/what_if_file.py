"""The file of imagined changes, whatif.toml, or the same from the words of a command."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import msgspec

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, NamedDocument, SeenFiles
from calmday.files.toml_table import FaultList, Table
from calmday.files.vehicle_file import vehicle_states_of
from calmday.files.what_if_change import Made, settings_of
from calmday.files.what_if_settings import STATES, Settings, parse_settings, read_circumstances, read_settings
from calmday.metrology.money import Money, parse_money, parse_volume_price
from calmday.metrology.units import QuantityError
from calmday.records.vehicle import Vehicle
from calmday.records.what_if import Circumstances, ImaginedChange, WhatIf, YearPart

MOST_CHANGES: Final = 40


def read_what_if(path: Path, *, name: str | None = None, seen: SeenFiles | None = None) -> tuple[WhatIf, TestFiles]:
    """The question in a file, and the tests it names to learn from. Raises InputError with every fault."""
    file = name or str(path)
    return what_if_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem)


def what_if_of(document: NamedDocument, file: str, stem: str) -> tuple[WhatIf, TestFiles]:
    """The question in a document; else as `read_what_if`."""
    faults = FaultList(file, document.kept)
    table = Table(document.tables, faults)
    tests = test_files(table)
    table.text("label")
    entry = table.file_name("vehicle")
    if entry is None and "vehicle" not in table:
        table.fault("vehicle", "is missing", 'the build sheet: vehicle = "vehicle.toml"')
    here = read_circumstances(_states(table, faults), Circumstances())
    sheet = _sheet(document, entry, file, faults)
    told = [(each, settings_of(each)) for each in table.tables("change")]
    changes = [_change(t, made, sheet, here, i) for i, (t, made) in enumerate(told)] if sheet is not None else []
    if len(told) > MOST_CHANGES:
        table.fault("change", f"has {len(told)} tables", f"at most {MOST_CHANGES}")
    found = WhatIf(
        vehicle=sheet.vehicle if sheet is not None else Vehicle(name=stem),
        circumstances=here,
        changes=tuple(c for c in changes if c is not None),
        together=_together([made.settings for _, made in told], sheet, here),
        year=tuple(_year(t, here) for t in table.tables("year")),
        price=price_of(table, "price"),
        distance_per_year_m=table.quantity("distance_per_year", "length", ("1 km", "1000000 km")),
        axle=bool(table.boolean("best_axle")),
        file=file,
    )
    table.finish()
    faults.raise_any()
    return found, tests


def what_if_from_words(
    vehicle: Path, settings: tuple[str, ...], states: Mapping[str, str], *, axle: bool = False, seen: SeenFiles
) -> WhatIf:
    """The question of a command: `settings` all made together, `states` by option. Raises InputError."""
    file = str(vehicle)
    named = FolderFiles(vehicle.parent, seen).document(vehicle.name, file)
    sheet = _Sheet(named, file, vehicle.stem, vehicle_states_of(named, file, vehicle.stem)[-1])
    faults = FaultList("calmday whatif")
    table = Table({key: value for key, value in states.items() if key in STATES}, faults)
    here = read_circumstances(table, Circumstances())
    faults.raise_any()
    parsed = parse_settings(settings)
    changes = [_imagined(sheet, {key: value}, here, key, "--set") for key, value in parsed.items()]
    together = _imagined(sheet, parsed, here, "all together", "--set") if len(parsed) > 1 else None
    return WhatIf(
        vehicle=sheet.vehicle, circumstances=here, changes=tuple(changes), together=together, axle=axle, file=file
    )


class TestFiles(msgspec.Struct, frozen=True):
    """Weighed runs and coastdowns that tell of the vehicle, relative to the file that names them."""

    runs: tuple[str, ...] = ()
    coastdowns: tuple[str, ...] = ()


class _Sheet(msgspec.Struct, frozen=True):
    """A build sheet that settings can be put on."""

    named: NamedDocument
    file: str
    stem: str
    vehicle: Vehicle

    def with_settings(self, settings: Mapping[str, Any], here: Circumstances, where: str) -> Settings:
        return read_settings(settings, self.named, self.file, self.stem, here, where)


def _sheet(document: NamedDocument, entry: str | None, file: str, faults: FaultList) -> _Sheet | None:
    if entry is None:
        return None
    name = str(Path(file).parent / entry)
    try:
        named = document.files.document(entry, name)
        return _Sheet(named, name, Path(entry).stem, vehicle_states_of(named, name, Path(entry).stem)[-1])
    except InputError as error:
        faults.extend(error.faults)
        return None


def _states(table: Table, faults: FaultList) -> Table:
    """The circumstances among the keys of a table, marked as asked for."""
    return Table({key: value for key in STATES if (value := table.raw(key)) is not None}, faults, table.key)


def _imagined(sheet: _Sheet, settings: Mapping[str, Any], here: Circumstances, what: str, where: str) -> ImaginedChange:
    found = sheet.with_settings(settings, here, where)
    return ImaginedChange(
        what=what,
        told=found.told,
        vehicle=found.vehicle,
        circumstances=found.circumstances,
        factors=found.factors,
    )


def _change(table: Table, made: Made, sheet: _Sheet, here: Circumstances, place: int) -> ImaginedChange | None:
    what = table.text("what") or ", ".join(made.settings) or f"change {place + 1}"
    cost, work = money_of(table, "cost"), table.quantity("work", "time", ("1 min", "2000 h"))
    table.finish()
    if not made.settings:
        return None
    where = table.path("set")
    try:
        found = _imagined(sheet, made.settings, here, what, f"{table.faults.file}: {where}")
    except InputError as error:
        for fault in error.faults:
            if fault.file.endswith(where):
                table.fault(made.box or f"set.{fault.key}", fault.wrong, fault.right)
            else:
                table.faults.extend([fault])
        return None
    return msgspec.structs.replace(found, cost=cost, work_s=work)


def _together(every: Sequence[Mapping[str, Any]], sheet: _Sheet | None, here: Circumstances) -> ImaginedChange | None:
    """All changes at once; None where they are fewer than two, or set the same key twice."""
    merged: dict[str, Any] = {}
    for settings in every:
        if not settings or merged.keys() & settings.keys():
            return None
        merged |= settings
    if sheet is None or len(every) < 2:
        return None
    try:
        return _imagined(sheet, merged, here, "all together", "set")
    except InputError:
        return None  # each change by itself has told its fault, or they do not go together


def _year(table: Table, here: Circumstances) -> YearPart:
    distance = table.quantity("distance", "length", ("0 km", "1000000 km"))
    if "distance" not in table:
        table.fault("distance", "is missing", 'how far in a year, such as "6000 km"')
    found = YearPart(
        distance_m=distance or 0.0,
        circumstances=read_circumstances(_states(table, table.faults), here),
        cold_starts=table.integer("cold_starts", 0, 10_000) or 0,
    )
    table.finish()
    return found


def test_files(table: Table) -> TestFiles:
    """The files of tests that a document names to learn from."""
    return TestFiles(table.file_names("runs"), table.file_names("coastdowns"))


def money_of(table: Table, key: str) -> Money | None:
    """An amount with its currency: `"150 EUR"`."""
    value = table.raw(key)
    if value is None:
        return None
    try:
        return parse_money(value)
    except QuantityError as error:
        table.fault(key, error.wrong, error.right)
        return None


def price_of(table: Table, key: str) -> Money | None:
    """A price of fuel for each m3: `"1.62 EUR/L"`."""
    value = table.raw(key)
    if value is None:
        return None
    try:
        return Money(*parse_volume_price(value))
    except QuantityError as error:
        table.fault(key, error.wrong, error.right)
        return None
