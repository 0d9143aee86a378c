"""The file of a grid of imagined changes, sweep.toml: a vehicle, circumstances, and axes to vary together."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

import msgspec

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, SeenFiles
from calmday.files.toml_table import FaultList, Table
from calmday.files.vehicle_file import vehicle_states_of
from calmday.files.what_if_file import TestFiles, test_files
from calmday.files.what_if_settings import RELATIVE, STATES, read_circumstances
from calmday.metrology.units import QuantityError, parse_quantity, shown
from calmday.records.vehicle import Vehicle
from calmday.records.what_if import Circumstances, Grid, GridAxis

MOST: Final = 20_000_000
MOST_STEPS: Final = 100_000
_PERCENT = re.compile(r"([+-]?\d+(?:\.\d+)?) ?%")
_STATED: Final = {
    "test_mass": ("test_mass_kg", "mass"),
    "final_drive": ("final_drive", ""),
    "drag_coefficient": ("drag_coefficient", ""),
    "rolling_resistance": ("rolling_resistance", ""),
    "rolling_circumference": ("rolling_circumference_m", "length"),
    "frontal_area": ("frontal_area_m2", "area"),
    "tyre_pressure": ("tyre_pressure_pa", "pressure"),
    "driveline_efficiency": ("driveline_efficiency", ""),
}
"""Keys of the build sheet whose values an axis may name themselves: where the stated one stands, and its dimension."""


def read_grid(path: Path, *, name: str | None = None, seen: SeenFiles | None = None) -> tuple[Grid, TestFiles]:
    """The grid in a file, and the tests it names to learn from. Raises InputError with every fault."""
    file = name or str(path)
    document = FolderFiles(path.parent, seen).document(path.name, file)
    faults = FaultList(file, document.kept)
    table = Table(document.tables, faults)
    tests, entry = test_files(table), table.file_name("vehicle")
    vehicle: Vehicle | None = None
    if entry is None:
        if "vehicle" not in table:
            table.fault("vehicle", "is missing", 'the build sheet: vehicle = "vehicle.toml"')
    else:
        sheet = str(path.parent / entry)
        try:
            vehicle = vehicle_states_of(document.files.document(entry, sheet), sheet, Path(entry).stem)[-1]
        except InputError as error:
            faults.extend(error.faults)
    states = {key: value for key in STATES if (value := table.raw(key)) is not None}
    here = read_circumstances(Table(states, faults), Circumstances())
    axes = [_axis(each, vehicle) for each in table.tables("axis")]
    grid = Grid(
        vehicle=vehicle or Vehicle(name=path.stem),
        circumstances=here,
        axes=tuple(axis for axis in axes if axis is not None),
        draws=table.integer("draws", 20, 10_000) or 100,
        file=file,
    )
    if "axis" not in table:
        table.fault("axis", "is missing", "at least one [[axis]] table with key and values")
    if len({axis.key for axis in grid.axes}) < len(grid.axes):
        table.fault("axis", "names a key twice", "each key once")
    if grid.count > MOST:
        table.fault("axis", f"make {grid.count} combinations", f"at most {MOST}")
    table.finish()
    faults.raise_any()
    return _slow_first(grid), tests


def _slow_first(grid: Grid) -> Grid:
    """Circumstances vary slowest: what differs only in the vehicle is worked out side by side."""
    return msgspec.structs.replace(grid, axes=tuple(sorted(grid.axes, key=lambda axis: not axis.state)))


def _axis(table: Table, vehicle: Vehicle | None) -> GridAxis | None:
    key = table.text("key") or ""
    plain = key.removeprefix("vehicle.").removeprefix("engine.")
    values = _values(table)
    table.finish()
    if "key" not in table:
        table.fault("key", "is missing", "what to vary, such as final_drive")
    elif plain not in STATES and plain not in RELATIVE:
        table.fault("key", f"{shown(key)} cannot be varied", f"one of {', '.join(sorted({*STATES, *RELATIVE}))}")
    elif values and vehicle is not None:
        found = [_number(table, plain, value, vehicle) for value in values]
        numbers = tuple(number for number in found if number is not None)
        if len(numbers) == len(values):
            texts = tuple(value if isinstance(value, str) else f"{value:g}" for value in values)
            if plain in STATES:
                return GridAxis(key=plain, texts=texts, numbers=numbers, state=STATES[plain][0])
            parameter, power = RELATIVE[plain]
            return GridAxis(key=plain, texts=texts, numbers=tuple(n**power for n in numbers), parameter=parameter)
    return None


def _values(table: Table) -> list[Any]:
    """The listed values, or those from one to another in steps, evenly spread."""
    listed = table.raw("values")
    first, last, steps = table.raw("from"), table.raw("to"), table.integer("steps", 2, MOST_STEPS)
    if listed is not None:
        if isinstance(listed, list) and listed and all(isinstance(v, (str, int, float)) for v in listed):
            return listed
        table.fault("values", f"{shown(listed)} is no list of values", 'such as [3.4, 3.7] or ["70 km/h", "80 km/h"]')
        return []
    if first is None or last is None or steps is None:
        table.fault("values", "is missing", "values = [...], or from, to and steps")
        return []
    one, other = _split(first), _split(last)
    if one is None or other is None or one[1] != other[1]:
        table.fault("to", f"{shown(last)} does not go with {shown(first)}", "two numbers with the same unit")
        return []
    between = [one[0] + (other[0] - one[0]) * i / (steps - 1) for i in range(steps)]
    unit = one[1]
    if unit == "%":
        return [f"{value:+.6g} %" for value in between]
    return [f"{value:.6g} {unit}" if unit else float(f"{value:.9g}") for value in between]


def _split(value: object) -> tuple[float, str] | None:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value), ""
    match = re.fullmatch(r"([+-]?\d+(?:\.\d+)?) ?(\S.*)", value.strip()) if isinstance(value, str) else None
    return (float(match[1]), match[2]) if match else None


def _number(table: Table, key: str, value: Any, vehicle: Vehicle) -> float | None:
    """A circumstance in SI, or the factor on what is stated now."""
    try:
        if key in STATES:
            _, dimension, limits = STATES[key]
            si = parse_quantity(value, dimension)
            low, high = (parse_quantity(limit, dimension) for limit in limits)
            if low <= si <= high:
                return si
            table.fault("values", f"{shown(value)} is not possible here", f"from {limits[0]} to {limits[1]}")
            return None
        percent = _PERCENT.fullmatch(value.strip()) if isinstance(value, str) else None
        factor = 1 + float(percent[1]) / 100 if percent else _over_stated(table, key, value, vehicle)
    except QuantityError as error:
        table.fault("values", error.wrong, error.right)
        return None
    if factor is not None and not 0.05 < factor <= 10:
        table.fault("values", f"{shown(value)} is too far from what it is now", "between a twentieth and ten times it")
        return None
    return factor


def _over_stated(table: Table, key: str, value: Any, vehicle: Vehicle) -> float | None:
    stated = getattr(vehicle, _STATED[key][0]) if key in _STATED else None
    if stated is None:
        table.fault("values", f"{shown(value)} has nothing to be compared with", 'values in per cent, such as "-5 %"')
        return None
    now = stated if isinstance(stated, float) else stated.value
    dimension = _STATED[key][1]
    if dimension:
        return parse_quantity(value, dimension) / now
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not value > 0:
        table.fault("values", f"{shown(value)} is not a number above zero", "a number without quotes and unit")
        return None
    return float(value) / now
