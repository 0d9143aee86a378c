"""Full-load curves: a CSV of engine speed with torque, power or both, the unit in the column name."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

from calmday.errors import InputError
from calmday.files.delimited import Delimited, number_at, read_delimited
from calmday.files.text_file import MEGABYTE, read_text
from calmday.metrology.units import parse_quantity, shown
from calmday.records.vehicle import FullLoadCurve

_SPEEDS = {"speed_rpm": "rpm", "rpm": "rpm", "engine_speed_rpm": "rpm", "speed_rps": "rev/s"}
_TORQUES = {"torque_nm": "N*m", "torque_lbf_ft": "lbf*ft", "torque_lb_ft": "lbf*ft", "torque_kgf_m": "kgf*m"}
_POWERS = {"power_kw": "kW", "power_w": "W", "power_hp": "hp", "power_ps": "PS"}
_HALF_WIDTH = "pm_percent"
_RIGHT = "speed_rpm with torque_Nm, torque_lbf_ft, torque_kgf_m, power_kW, power_hp or power_PS"
# A governor's droop may be drawn a little below zero.
_LIMITS = {
    "engine speed": (1.0, 25_000 / 60, "from 60 to 25000 rpm"),
    "torque": (-100.0, 10_000.0, "from 0 to 10000 N*m"),
    "power": (-1e5, 2e6, "from 0 to 2000 kW"),
}


def read_full_load(path: Path, name: str | None = None) -> FullLoadCurve:
    """The curve in ascending engine speed: revolutions per second, N*m, and W where the file gives both.

    Torque comes from power (torque = power / 2 pi n) only where the file gives none. Raises InputError.
    """
    name = name or str(path)
    return parse_full_load(read_text(path, name, MEGABYTE), path.name, name)


def parse_full_load(text: str, source: str, name: str) -> FullLoadCurve:
    """The curve in a file's text. `source` the file's own name, `name` as the user named it. Raises InputError."""
    table = read_delimited(text, name)
    speed = _column(table, _SPEEDS, "engine speed", name)
    torque = _column(table, _TORQUES, "torque", name)
    power = _column(table, _POWERS, "power", name)
    if speed is None or (torque is None and power is None):
        missing = "engine speed" if speed is None else "torque or power"
        raise InputError.one(name, "line 1", f"has no column for {missing}", f"a header of {_RIGHT}")
    known = {**_SPEEDS, **_TORQUES, **_POWERS}
    unknown = [c for c in table.header if c not in known and c not in ("", "note", _HALF_WIDTH)]
    if unknown:
        raise InputError.one(name, "line 1", f"the column {shown(unknown[0])} is not known", _RIGHT)
    if len(table.rows) < 2:
        raise InputError.one(name, "file", f"has {len(table.rows)} points", "at least two points of the curve")
    _check(speed, "engine speed", table.lines, name)
    if torque is None and power is not None:
        torque = [p / (2 * math.pi * n) for p, n in zip(power, speed, strict=True)]
    assert torque is not None
    _check(torque, "torque", table.lines, name)
    if power is not None:
        _check(power, "power", table.lines, name)
    order = sorted(range(len(speed)), key=speed.__getitem__)
    for a, b in pairwise(order):
        if speed[a] == speed[b]:
            wrong = f"has {speed[a] * 60:.6g} rpm a second time"
            raise InputError.one(name, f"line {max(table.lines[a], table.lines[b])}", wrong, "each engine speed once")
    half_width = _half_widths(table, name)
    both = any(c in _TORQUES for c in table.header) and power is not None
    return FullLoadCurve(
        speed_rps=tuple(speed[i] for i in order),
        torque_nm=tuple(torque[i] for i in order),
        power_w=tuple(power[i] for i in order) if both and power is not None else None,
        source=source,
        half_width=tuple(half_width[i] for i in order) if half_width is not None else None,
    )


def _half_widths(table: Delimited, name: str) -> list[float] | None:
    """Relative 95 % half width of each torque, None where the file does not say."""
    if _HALF_WIDTH not in table.header:
        return None
    cells = table.column(table.header.index(_HALF_WIDTH))
    found = [number_at(c, name, line, _HALF_WIDTH) for c, line in zip(cells, table.lines, strict=True)]
    for value, line in zip(found, table.lines, strict=True):
        if not 0 < value <= 100:
            raise InputError.one(name, f"line {line}", f"the {_HALF_WIDTH} is not possible", "from above 0 to 100")
    return [value / 100 for value in found]


def _column(table: Delimited, names: dict[str, str], what: str, name: str) -> list[float] | None:
    """The SI values of the one column whose name is among `names`, None where there is none."""
    found = [i for i, column in enumerate(table.header) if column in names]
    if not found:
        return None
    if len(found) > 1:
        raise InputError.one(name, "line 1", f"has {len(found)} columns of {what}", "one")
    header = table.header[found[0]]
    dimension = {"engine speed": "engine speed", "torque": "torque", "power": "power"}[what]
    factor = parse_quantity(f"1 {names[header]}", dimension)
    cells = table.column(found[0])
    return [number_at(c, name, line, header) * factor for c, line in zip(cells, table.lines, strict=True)]


def _check(values: list[float], what: str, lines: list[int], name: str) -> None:
    low, high, right = _LIMITS[what]
    for value, line in zip(values, lines, strict=True):
        if not low <= value <= high:
            raise InputError.one(name, f"line {line}", f"the {what} is not possible", f"{what} {right}")
