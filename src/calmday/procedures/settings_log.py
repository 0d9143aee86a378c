"""A settings log, read: what each setting was before anybody touched it, every step since, and what it stands at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Final

from calmday.files.settings_file import LIFT
from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.draws import FloatArray
from calmday.metrology.unit_table import UNITS
from calmday.procedures.cold_starts import cold_starts
from calmday.procedures.flag import Flag
from calmday.procedures.lift_timing import (
    LiftDraws,
    crank_draws,
    degrees,
    dial_of,
    draw_curve,
    lift_per_degree,
    protractor_of,
)
from calmday.procedures.settings_flags import settings_flags
from calmday.procedures.settings_result import (
    LiftTiming,
    LimitCheck,
    RunSettings,
    SettingChange,
    SettingHistory,
    SettingsResult,
)
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.setting import Reading, SettingEntry, SettingsLog

SEED: Final = 20260412


def result_of_settings(log: SettingsLog, provenance: Provenance, seed: int = SEED) -> SettingsResult:
    """Everything a log says; the sentence is the caller's."""
    lifts = [entry for entry in log.entries if entry.what == LIFT]
    curve = draw_curve(log.lift_curve, 3 * max(len(lifts), 1), seed) if log.lift_curve is not None else None
    histories = tuple(_history(entries, curve) for entries in _series(log.entries))
    timing = next((each for each in histories if each.what == LIFT), None)
    starts = cold_starts(log.cold_starts, timing)
    limits = tuple(_limits(log, histories))
    plain = SettingsResult(
        label=log.label,
        sentence="",
        settings=histories,
        timing=_timing(log, curve, timing),
        cold_starts=starts,
        limits=limits,
        runs=tuple(_runs(log)),
        provenance=provenance,
    )
    flags: tuple[Flag, ...] = tuple(settings_flags(log, plain, curve is not None))
    return SettingsResult(
        **{name: getattr(plain, name) for name in plain.__struct_fields__ if name != "flags"}, flags=flags
    )


def in_force(entry: SettingEntry) -> Reading | None:
    """What a visit left behind."""
    return next((r for r in (entry.tightened, entry.set, entry.found) if r is not None), None)


def name_of(entry: SettingEntry) -> str:
    """The setting with its cylinder."""
    return f"{entry.what}, cylinder {entry.cylinder}" if entry.cylinder is not None else entry.what


def settings_on(log: SettingsLog, date: dt.date) -> dict[str, Reading]:
    """What every setting stood at on a day, by name: for runs that were driven then."""
    found: dict[str, Reading] = {}
    for entry in log.entries:
        reading = in_force(entry)
        if reading is not None and entry.date is not None and entry.date <= date:
            found[name_of(entry)] = reading
    return found


def _series(entries: Sequence[SettingEntry]) -> list[list[SettingEntry]]:
    found: dict[str, list[SettingEntry]] = {}
    for entry in entries:
        found.setdefault(name_of(entry), []).append(entry)
    return list(found.values())


def _history(entries: Sequence[SettingEntry], curve: LiftDraws | None) -> SettingHistory:
    readings = [r for entry in entries for r in (entry.found, entry.set, entry.tightened) if r is not None]
    unit, dimension = readings[0].unit, readings[0].dimension
    opening = entries[0]
    last = entries[-1]
    left = in_force(last)
    return SettingHistory(
        what=opening.what,
        cylinder=opening.cylinder,
        unit=unit,
        first=_in(opening.found, unit, dimension),
        first_date=_day(opening.date) if opening.found is not None else "",
        first_by=opening.by if opening.found is not None else "",
        now=_in(left, unit, dimension),
        now_date=_day(last.date),
        changes=tuple(_changes(entries, unit, dimension, curve if opening.what == LIFT else None)),
    )


def _changes(
    entries: Sequence[SettingEntry], unit: str, dimension: str, curve: LiftDraws | None
) -> Iterator[SettingChange]:
    stood: Reading | None = None
    origin: FloatArray | None = None
    previous: FloatArray | None = None
    for i, entry in enumerate(entries):
        left = in_force(entry)
        before = entry.found if entry.found is not None else stood
        changed = left is not None and (entry.set is not None or entry.tightened is not None)
        own: FloatArray | None = None
        if curve is not None and left is not None:
            own = crank_draws(curve, left.si, 3 * i, left.half_width)
            if entry.found is not None:
                found = crank_draws(curve, entry.found.si, 3 * i + 1, entry.found.half_width)
                previous = found
                origin = found if origin is None else origin
            origin = own if origin is None else origin
        yield SettingChange(
            date=_day(entry.date),
            by=entry.by,
            found=_in(entry.found, unit, dimension),
            set=_in(entry.set, unit, dimension),
            tightened=_in(entry.tightened, unit, dimension),
            step=_step(before, left, unit, dimension) if changed else None,
            moved_by_tightening=_step(entry.set, entry.tightened, unit, dimension),
            moved_since=_step(stood, entry.found, unit, dimension),
            advance=None if own is None or origin is None or own is origin else degrees(own - origin),
            advance_step=None if own is None or previous is None or not changed else degrees(own - previous),
            temperature=None if entry.temperature_k is None else entry.temperature_k - ZERO_CELSIUS_K,
            screw=entry.screw,
            direction=entry.direction,
            turn=entry.turn,
            start=entry.start,
            runs=entry.runs,
            note=entry.note,
        )
        stood = left if left is not None else stood
        previous = own if own is not None else previous


def _in(reading: Reading | None, unit: str, dimension: str) -> float | None:
    """A reading in the unit of its history."""
    if reading is None:
        return None
    if reading.unit == unit:
        return reading.shown
    factor, offset = UNITS[dimension][unit]
    return (reading.si - offset) / factor


def _step(before: Reading | None, after: Reading | None, unit: str, dimension: str) -> float | None:
    a, b = _in(before, unit, dimension), _in(after, unit, dimension)
    return None if a is None or b is None else b - a


def _day(date: dt.date | None) -> str:
    return date.isoformat() if date is not None else ""


def _timing(log: SettingsLog, curve: LiftDraws | None, history: SettingHistory | None) -> LiftTiming | None:
    if log.lift_curve is None or curve is None:
        return None
    given = log.lift_curve
    now = None
    if history is not None and history.now is not None:
        now = lift_per_degree(curve, history.now * UNITS["length"][history.unit][0])
    return LiftTiming(
        points=len(given.lift_m),
        lowest_lift=1000 * min(given.lift_m),
        highest_lift=1000 * max(given.lift_m),
        per_degree=now,
        dial=dial_of(given),
        protractor=protractor_of(given),
    )


def _limits(log: SettingsLog, histories: Sequence[SettingHistory]) -> Iterator[LimitCheck]:
    for limit in log.limits:
        own: list[SettingHistory | None] = [each for each in histories if each.what == limit.what]
        reading = limit.highest or limit.lowest
        for history in own or [None]:
            unit = history.unit if history is not None else reading.unit if reading is not None else ""
            dimension = reading.dimension if reading is not None else "number"
            low, high = _in(limit.lowest, unit, dimension), _in(limit.highest, unit, dimension)
            now = history.now if history is not None else None
            keeps = None if now is None else (low is None or now >= low) and (high is None or now <= high)
            name = limit.what if history is None or history.cylinder is None else f"{limit.what} {history.cylinder}"
            yield LimitCheck(what=name, lowest=low, highest=high, unit=unit, by=limit.by, now=now, keeps=keeps)


def _runs(log: SettingsLog) -> Iterator[RunSettings]:
    """What stood when each run named in the log was driven: the visit that names it, and all before."""
    names = list(dict.fromkeys(run for entry in log.entries for run in entry.runs))
    for name in names:
        last = max(i for i, entry in enumerate(log.entries) if name in entry.runs)
        standing = {name_of(e): r for e in log.entries[: last + 1] if (r := in_force(e)) is not None}
        yield RunSettings(
            run=name,
            values={key: reading.shown for key, reading in standing.items()},
            units={key: reading.unit for key, reading in standing.items()},
        )
