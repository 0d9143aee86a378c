"""From a comparison worked out to the facts that the guard looks at."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from calmday.metrology.figure import Figure
from calmday.metrology.rounding import listed
from calmday.procedures.comparison import Compared
from calmday.procedures.comparison_design import (
    DRIFT,
    TEMPERATURE,
    in_step_with_order,
    order_in_letters,
    order_known,
    tie_to_order,
    two_groups,
)
from calmday.procedures.comparison_levels import batch_of
from calmday.procedures.comparison_names import described_changes
from calmday.procedures.guard_facts import Facts
from calmday.procedures.weighed_run import WeighedRun
from calmday.records.comparison import Entry
from calmday.records.run import Run
from calmday.records.vehicle import Vehicle

_SHEET = {
    "test_mass_kg": "mass",
    "frontal_area_m2": "frontal area",
    "drag_coefficient": "drag coefficient",
    "rolling_resistance": "rolling resistance",
    "tyre": "tyre",
    "rolling_circumference_m": "rolling circumference",
    "gear_ratios": "gear ratios",
    "final_drive": "axle ratio",
    "engine": "engine",
}
_GEARING = ("final_drive", "tyre", "rolling_circumference_m")


def facts_of(found: Compared, **judged: object) -> Facts:
    """The facts of a comparison. `judged`: those that follow from the result (effect, corrections, odd runs...)."""
    before = [i for i, entry in enumerate(found.entries) if not entry.changed]
    after = [i for i, entry in enumerate(found.entries) if entry.changed]
    runs = found.runs

    def mean(of: Callable[[WeighedRun], float | None], which: Sequence[int]) -> float | None:
        known = [value for i in which if (run := runs[i]) is not None and (value := of(run)) is not None]
        return float(np.mean(known)) if known and len(known) == len(which) else None

    air = [found.temperatures_c[i] for i in before], [found.temperatures_c[i] for i in after]
    if TEMPERATURE in found.layout.names:
        air = [], []
    speeds = mean(_speed_kmh, before), mean(_speed_kmh, after)
    masses = mean(_mass_kg, before), mean(_mass_kg, after)
    pressures = mean(_pressure, before), mean(_pressure, after)
    gearing = _gearing_changed(found)
    ordered = order_known(found.entries)
    late, unsaid = _left_out(found.asked.entries)
    facts = Facts(
        modelled=found.basis != "as driven",
        before_runs=len(before),
        after_runs=len(after),
        planned_runs=found.asked.planned_runs,
        order=order_in_letters(found.entries),
        order_tie=(tie_to_order(found.entries) if two_groups(found.asked) else 0.0) if ordered else None,
        in_step=in_step_with_order(found.asked, found.entries),
        taken_off=_taken_off(found),
        days=len({day for day in found.days if day is not None}) or None,
        days_shared=_days_shared(found),
        smallest_change=_percent(found.asked.smallest_change),
        wind_before_mps=mean(_wind_mps, before),
        wind_after_mps=mean(_wind_mps, after),
        loop_penalty=_loop_penalty(found),
        air_before_c=_mean_of(air[0]),
        air_after_c=_mean_of(air[1]),
        speed_before_kmh=speeds[0],
        speed_after_kmh=speeds[1],
        batches_before=_batches(runs, before),
        batches_after=_batches(runs, after),
        gearing_changed=gearing,
        odometer_stale=bool(gearing) and _odometer_stale(found),
        mass_difference=_change(masses),
        pressure_difference=_change(pressures),
        sheet_differences=_sheet_differences(found),
        tied=tuple(f"{name} with {' and '.join(others)}" for name, others in found.layout.tied.items()),
        left_out_late=late,
        left_out_unsaid=unsaid,
        of_several=found.asked.of_several,
        blind=found.asked.blind,
        left_sealed_order=_left_sealed_order(found),
        same_readings=_same_readings(found),
        published_kind=_published_kind(runs),
        published_differs=_published_differs(runs),
        mixed_arrangements=tuple(
            sorted({r.run.fuel_system.arrangement for r in runs if r is not None and r.run.fuel_system.arrangement})
        ),
    )
    return _with(facts, judged)


def _taken_off(found: Compared) -> str:
    """What was taken off besides the change, in words."""
    taken = ["weather", "way of driving"] if found.basis == "calm day" else []
    if found.basis == "over the control vehicle":
        taken.append("control vehicle")
    taken += [name for name in (DRIFT, TEMPERATURE) if name in found.layout.names]
    return listed(taken)


def _with(facts: Facts, judged: dict[str, object]) -> Facts:
    import msgspec  # noqa: PLC0415

    return msgspec.structs.replace(facts, **judged)


def change_facts(figure: Figure | None, prefix: str = "") -> dict[str, object]:
    """Value and bounds of a change under the names of the facts."""
    if figure is None:
        return {}
    return {f"{prefix}effect": figure.value, f"{prefix}low": figure.low, f"{prefix}high": figure.high}


def _percent(fraction: float | None) -> float | None:
    return None if fraction is None else 100 * fraction


def _mean_of(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known and len(known) == len(values) else None


def _change(pair: tuple[float | None, float | None]) -> float | None:
    before, after = pair
    return None if not before or after is None else 100 * (after / before - 1)


def _speed_kmh(run: WeighedRun) -> float | None:
    time_s = run.path.moving_time_s
    return 3.6 * run.path.distance.metres / time_s if time_s else None


def _wind_mps(run: WeighedRun) -> float | None:
    return run.path.weather.wind_at_mast_mps if run.path.weather.wind_known else None


def _mass_kg(run: WeighedRun) -> float | None:
    mass, payload = run.run.vehicle.test_mass_kg, run.run.payload_kg
    if mass is None:
        return None
    return mass.value + (payload.value if payload is not None else 0.0)


def _pressure(run: WeighedRun) -> float | None:
    pressure = run.run.tyre_pressure_pa or run.run.vehicle.tyre_pressure_pa
    return None if pressure is None else pressure.value


def _loop_penalty(found: Compared) -> float | None:
    known = [run.simulated.penalties["wind"] for run in found.runs if run is not None and run.simulated is not None]
    return float(np.mean([np.mean(penalty) for penalty in known])) if len(known) == len(found.runs) else None


def _days_shared(found: Compared) -> bool | None:
    """Whether any day holds runs of both groups; None where a date is missing."""
    if any(day is None for day in found.days):
        return None
    arms: dict[object, set[bool]] = {}
    for day, entry in zip(found.days, found.entries, strict=True):
        arms.setdefault(day, set()).add(entry.changed)
    return any(len(both) == 2 for both in arms.values())


def _batches(runs: Sequence[WeighedRun | None], which: Sequence[int]) -> tuple[str, ...]:
    named = [batch_of(run) for i in which if (run := runs[i]) is not None]
    return tuple(sorted({name for name in named if name})) if all(named) else ()


def _gearing_changed(found: Compared) -> str:
    """Axle or tyre, in words, where the groups differ in it."""
    differences = _differences(found, _GEARING)
    words = {"final_drive": "axle ratio", "tyre": "tyre", "rolling_circumference_m": "rolling circumference"}
    return " and ".join(words[key] for key in differences).capitalize()


def _differences(found: Compared, keys: Sequence[str]) -> list[str]:
    """Keys of the build sheet in which the groups differ: no value of one group stands in the other."""
    sheets: tuple[list[Vehicle], list[Vehicle]] = ([], [])
    for entry, run in zip(found.entries, found.runs, strict=True):
        if run is not None:
            sheets[entry.changed].append(run.run.vehicle)
    if not sheets[0] or not sheets[1]:
        return []
    return [key for key in keys if not any(getattr(a, key) == getattr(b, key) for a in sheets[0] for b in sheets[1])]


def _odometer_stale(found: Compared) -> bool:
    """Whether a distance rests on an odometer whose factor is not known for each state of the gearing."""
    by_odometer = [run.run for run in found.runs if run is not None and _uses_odometer(run.run)]
    factors: dict[bool, set[float | None]] = {}
    for entry, run in zip(found.entries, found.runs, strict=True):
        if run is not None and run.run in by_odometer and run.run.odometer is not None:
            factor = run.run.odometer.factor
            factors.setdefault(entry.changed, set()).add(None if factor is None else factor.value)
    if not by_odometer:
        return False
    either = set().union(*factors.values())
    return None in either or (len(factors) == 2 and bool(factors[False] & factors[True]))


def _uses_odometer(run: Run) -> bool:
    lapped = run.laps is not None and run.lap_length_m is not None
    return run.track is None and run.distance_m is None and not lapped and run.odometer is not None


def _sheet_differences(found: Compared) -> tuple[str, ...]:
    """What the groups differ in: figures of the build sheet, or the changes it describes, whichever are more."""
    keys = _differences(found, tuple(_SHEET))
    if "tyre" in keys and "rolling_circumference_m" in keys:  # one wheel, said twice
        keys.remove("rolling_circumference_m")
    before, after = ([e.run for e in found.entries if e.changed == side] for side in (False, True))
    described = described_changes(before, after)
    return described if len(described) > len(keys) else tuple(_SHEET[key] for key in keys)


def _left_out(entries: Sequence[Entry]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    late = tuple(f"{e.label} ({e.left_out})" for e in entries if e.left_out and e.known_before is False)
    unsaid = tuple(f"{e.label} ({e.left_out})" for e in entries if e.left_out and e.known_before is None)
    return late, unsaid


def _left_sealed_order(found: Compared) -> tuple[str, str] | None:
    """The order sealed and the one driven, runs left out counted, where they differ; fewer runs alone do not."""
    sealed = found.asked.seal.split(" ")[0] if found.asked.sealed_order else ""
    driven = order_in_letters(found.asked.entries)
    if not sealed or set(sealed) - set("AB-") or not driven or f"{sealed}-".startswith(f"{driven}-"):
        return None
    return sealed, driven


def _same_readings(found: Compared) -> tuple[str, ...]:
    """Pairs of runs with the same weighings."""
    seen: dict[object, str] = {}
    told = []
    for entry, run in zip(found.entries, found.runs, strict=True):
        if run is None or not run.run.weighings:
            continue
        mark = tuple((w.when, w.gross_kg, w.tare_kg) for w in run.run.weighings)
        if mark in seen:
            told.append(f"{seen[mark]} and {entry.label}")
        seen.setdefault(mark, entry.label)
    return tuple(told)


def _published_kind(runs: Sequence[WeighedRun | None]) -> str:
    for run in runs:
        published = run.run.published if run is not None else None
        if published is not None:
            return f"{published.as_entered}, {published.kind or 'kind not given'}"
    return ""


def _published_differs(runs: Sequence[WeighedRun | None]) -> float | None:
    """By what share the published figure and the run beside it differ, whichever is larger."""
    for run in runs:
        published = run.run.published if run is not None else None
        if run is None or published is None or published.value <= 0:
            continue
        own = getattr(run.as_driven, published.unit).value
        return math.exp(abs(math.log(published.value / own))) - 1 if own > 0 else None
    return None
