"""What a vehicle was set to: each reading and each turn of a screw, the pump's own lift curve, starts in the cold."""

from __future__ import annotations

import datetime as dt

import msgspec


class Reading(msgspec.Struct, frozen=True):
    """One value of a setting. `si` in SI units, `dimension` of it ("number" for a pure one), `shown` in `unit`."""

    si: float
    shown: float
    unit: str
    dimension: str
    half_width: float | None = None


class SettingEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One visit to one setting. `found` before it was touched, `set` what it was brought to, `tightened` read again
    after the screws were tight. `screw`, `direction`, `turn`, `start` which screw, which way, how far, from where."""

    what: str
    cylinder: int | None = None
    date: dt.date | None = None
    by: str = ""
    found: Reading | None = None
    set: Reading | None = None
    tightened: Reading | None = None
    temperature_k: float | None = None
    screw: str = ""
    direction: str = ""
    turn: str = ""
    start: str = ""
    runs: tuple[str, ...] = ()
    note: str = ""


class LiftCurve(msgspec.Struct, frozen=True, kw_only=True):
    """Plunger lift over crank angle as measured on this very pump. Half widths 95 %; None: nobody said."""

    crank_rad: tuple[float, ...]
    lift_m: tuple[float, ...]
    lift_half_width_m: float | None = None
    angle_half_width_rad: float | None = None
    date: dt.date | None = None
    by: str = ""


class ColdStart(msgspec.Struct, frozen=True, kw_only=True):
    """One start of a cold engine: how warm it was, how long the starter turned."""

    temperature_k: float
    time_s: float
    date: dt.date | None = None
    note: str = ""


class OwnLimit(msgspec.Struct, frozen=True, kw_only=True):
    """A limit that the owner drew. The program knows none of its own."""

    what: str
    lowest: Reading | None = None
    highest: Reading | None = None
    by: str = ""


class SettingsLog(msgspec.Struct, frozen=True, kw_only=True):
    """The settings of one vehicle in the order of their dates."""

    label: str
    entries: tuple[SettingEntry, ...]
    lift_curve: LiftCurve | None = None
    cold_starts: tuple[ColdStart, ...] = ()
    limits: tuple[OwnLimit, ...] = ()
    file: str = ""
