"""Settings of an imagined change: `final_drive = 3.7`, `tyre_pressure = "330 kPa"`, `drag_coefficient = "-10 %"`.

A key of the build sheet takes a new value, read by the very reader of build sheets; a figure that stands for a
parameter of the model also takes a change in per cent of what it is now, known or assumed. Circumstances (speed, wind,
load...) are set the same way.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any, Final

import msgspec

from calmday.errors import Fault, InputError
from calmday.files.named_files import NamedDocument
from calmday.files.toml_table import FaultList, Limits, Table
from calmday.files.vehicle_file import ENGINE_KEYS, VEHICLE_KEYS, vehicle_states_of
from calmday.metrology.units import shown
from calmday.records.vehicle import Vehicle
from calmday.records.what_if import Circumstances

RELATIVE: Final[dict[str, tuple[str, float]]] = {
    "test_mass": ("test_mass", 1.0),
    "frontal_area": ("drag_area", 1.0),
    "drag_coefficient": ("drag_area", 1.0),
    "rolling_resistance": ("rolling_resistance", 1.0),
    "final_drive": ("gearing_scale", 1.0),
    "rolling_circumference": ("gearing_scale", -1.0),
    "tyre_pressure": ("tyre_pressure", 1.0),
    "driveline_efficiency": ("driveline_efficiency", 1.0),
    "side_wind_growth": ("yaw_growth", 1.0),
    "engine_efficiency": ("indicated_efficiency", 1.0),
    "engine_friction": ("friction_mep", 1.0),
    "accessory_power": ("accessory_power", 1.0),
    "full_load_power": ("full_load_scale", 1.0),
}
"""Keys that may change in per cent: the parameter of the model, and the power of the factor that it takes."""

STATES: Final[dict[str, tuple[str, str, Limits]]] = {
    "speed": ("speed_mps", "speed", ("5 km/h", "300 km/h")),
    "headwind": ("head_wind_mps", "speed", ("-40 m/s", "40 m/s")),
    "wind": ("wind_around_mps", "speed", ("0 m/s", "40 m/s")),
    "grade": ("grade", "fraction", ("-40 %", "40 %")),
    "payload": ("payload_kg", "mass", ("-2000 kg", "40000 kg")),
    "temperature": ("temperature_k", "temperature", ("-50 degC", "55 degC")),
    "pressure": ("pressure_pa", "pressure", ("50 kPa", "110 kPa")),
    "altitude": ("altitude_m", "length", ("-400 m", "6000 m")),
}
"""Circumstances: field, dimension, limits."""

_PERCENT = re.compile(r"([+-]\d+(?:\.\d+)?) ?%")
_FAR_OFF = "2100-12-31"


class Settings(msgspec.Struct, frozen=True):
    """What a change sets: the vehicle with it, circumstances with it, factors on parameters, and the texts."""

    vehicle: Vehicle
    circumstances: Circumstances
    factors: tuple[tuple[str, float], ...]
    told: tuple[str, ...]


def parse_settings(texts: Iterable[str]) -> dict[str, Any]:
    """`key=value` texts of a command line as a table. Raises InputError."""
    found: dict[str, Any] = {}
    for text in texts:
        key, equals, value = text.partition("=")
        key, value = key.strip(), value.strip()
        if not equals or not key or not value:
            raise InputError.one("--set", text[:60], "is no setting", "key=value, such as final_drive=3.7")
        if key in found:
            raise InputError.one("--set", key, "is set twice", "one value for each key")
        found[key] = typed_value(value)
    return found


def typed_value(text: str) -> Any:
    """A number, truth value, list or table where the text is one, else the text."""
    if _PERCENT.fullmatch(text):
        return text
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError):
        return text


def read_settings(
    settings: Mapping[str, Any], named: NamedDocument, file: str, stem: str, circumstances: Circumstances, where: str
) -> Settings:
    """The vehicle and circumstances with some settings. `where` names the settings in faults. Raises InputError.

    `named` the build sheet, `file` and `stem` as for `vehicle_states_of`.
    """
    sorted_out = _Sorted(where)
    for key, value in settings.items():
        sorted_out.take(key, value)
    faults, change, factors = sorted_out.faults, sorted_out.change, sorted_out.factors
    states = sorted_out.states
    here = read_circumstances(Table(states, FaultList(where)), circumstances, faults)
    vehicle = Vehicle(name=stem)
    try:
        vehicle = _changed(named, file, stem, change, where)
        faults += _pressure_faults(vehicle, named, file, stem, change, factors, where)
        if {"final_drive", "gear_ratios"} & change.keys() and (not vehicle.gear_ratios or vehicle.final_drive is None):
            right = 'gear_ratios and final_drive in the build sheet, or a change such as final_drive = "-10 %"'
            faults.append(Fault(where, "final_drive", "has no gearing to belong to", right))
    except InputError as error:
        faults += error.faults
    if faults:
        raise InputError(faults)
    return Settings(vehicle, here, tuple(factors), tuple(f"{key} = {_shown(v)}" for key, v in settings.items()))


class _Sorted:
    """Settings sorted by what they set; what cannot be sorted is a fault."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.faults: list[Fault] = []
        self.change: dict[str, Any] = {}
        self.factors: list[tuple[str, float]] = []
        self.states: dict[str, Any] = {}

    def take(self, key: str, value: Any) -> None:
        """One setting."""
        plain = key.removeprefix("vehicle.").removeprefix("engine.")
        percent = _PERCENT.fullmatch(value.strip()) if isinstance(value, str) else None
        if plain in STATES:
            self.states[plain] = value
        elif percent is not None:
            self._take_percent(key, plain, 1 + float(percent[1]) / 100)
        elif plain in ENGINE_KEYS:
            self.change.setdefault("engine", {})[plain] = value
        elif plain in VEHICLE_KEYS:
            self.change[plain] = value
        elif plain in RELATIVE:
            self._fault(key, f"{shown(value)} is no change in per cent", 'such as "-5 %"')
        else:
            known = sorted({*VEHICLE_KEYS, *ENGINE_KEYS, *RELATIVE, *STATES})
            self._fault(key[:60], "is not a known key", _nearest(plain, known))

    def _take_percent(self, key: str, plain: str, factor: float) -> None:
        if plain not in RELATIVE:
            self._fault(
                key[:60], "cannot change in per cent", f"one of {', '.join(sorted(RELATIVE))}, or the new value"
            )
        elif not 0.05 < factor <= 10:
            self._fault(key, "changes too much", "from -95 % to +900 %")
        else:
            parameter, power = RELATIVE[plain]
            self.factors.append((parameter, factor**power))

    def _fault(self, key: str, wrong: str, right: str) -> None:
        self.faults.append(Fault(self.where, key, wrong, right))


def read_circumstances(table: Table, circumstances: Circumstances, faults: list[Fault] | None = None) -> Circumstances:
    """The circumstances with what a table says; its faults go to `faults`, or stay with the table."""
    found = {}
    for key, (name, dimension, limits) in STATES.items():
        value = table.quantity(key, dimension, limits)
        if value is not None:
            found[name] = value
    if faults is not None:
        faults += table.faults.faults
    return msgspec.structs.replace(circumstances, **found)


def _changed(named: NamedDocument, file: str, stem: str, change: dict[str, Any], where: str) -> Vehicle:
    """The newest state of the build sheet with one more change, read as a change of it would be."""
    if not change:
        return vehicle_states_of(named, file, stem)[-1]
    earlier = named.tables.get("change", [])
    earlier = earlier if isinstance(earlier, list) else [earlier]
    tables = {**named.tables, "change": [*earlier, {"date": _FAR_OFF, **change}]}
    start = f"change[{len(earlier)}]"
    try:
        return vehicle_states_of(NamedDocument(tables, named.files, named.kept), file, stem)[-1]
    except InputError as error:
        own = [
            Fault(where, f.key.removeprefix(start).lstrip("."), f.wrong, f.right) if f.key.startswith(start) else f
            for f in error.faults
        ]
        raise InputError(own) from None


def _pressure_faults(
    vehicle: Vehicle,
    named: NamedDocument,
    file: str,
    stem: str,
    change: Mapping[str, Any],
    factors: list[tuple[str, float]],
    where: str,
) -> list[Fault]:
    """A new pressure says something only against the usual one."""
    if "tyre_pressure" not in change or any(key == "tyre_pressure" for key, _ in factors):
        return []
    before = vehicle_states_of(named, file, stem)[-1].tyre_pressure_pa
    after = vehicle.tyre_pressure_pa
    if before is None or after is None:
        right = 'the usual tyre_pressure in the build sheet, or a change such as "+10 %"'
        return [Fault(where, "tyre_pressure", "has nothing to be compared with", right)]
    factors.append(("tyre_pressure", after.value / before.value))
    return []


def _nearest(word: str, known: list[str]) -> str:
    import difflib  # noqa: PLC0415

    near = difflib.get_close_matches(word, known, 1)
    return f"did you mean {near[0]}?" if near else f"one of {', '.join(known)}"


def _shown(value: Any) -> str:
    return value if isinstance(value, str) else str(value)


__all__ = [
    "RELATIVE",
    "STATES",
    "Settings",
    "parse_settings",
    "read_circumstances",
    "read_settings",
    "typed_value",
]
