"""What the two groups of a comparison are called: as people say, else by the one thing their files differ in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from calmday.procedures.comparison_design import two_groups
from calmday.records.comparison import Comparison, Entry
from calmday.records.run import Run

BEFORE: Final = "before"
AFTER: Final = "after"


def _axle(run: Run) -> str:
    return "" if run.vehicle.final_drive is None else f"axle ratio {run.vehicle.final_drive:g}"


def _tyre(run: Run) -> str:
    return "" if run.vehicle.tyre is None else f"tyre {run.vehicle.tyre.code}"


def _pressure(run: Run) -> str:
    pressure = run.tyre_pressure_pa or run.vehicle.tyre_pressure_pa
    return "" if pressure is None else f"tyre pressure {pressure.value / 1e3:.0f} kPa"


def _mass(run: Run) -> str:
    mass = run.vehicle.test_mass_kg
    loaded = run.payload_kg.value if run.payload_kg is not None else 0.0
    return "" if mass is None else f"{mass.value + loaded:.0f} kg"


def _drag(run: Run) -> str:
    drag = run.vehicle.drag_coefficient
    return "" if drag is None else f"drag coefficient {drag.value:g}"


def _gears(run: Run) -> str:
    return "gear ratios " + " ".join(f"{ratio:g}" for ratio in run.vehicle.gear_ratios)


_SAYS: Final[tuple[Callable[[Run], str], ...]] = (_axle, _tyre, _pressure, _mass, _drag, _gears)


def names_of(asked: Comparison, entries: Sequence[Entry]) -> tuple[str, str]:
    """Names of the runs before and of those after the change; empty where a setting or several changes were tried.

    Where nobody named them: the one thing in which every file of one group differs from every file of the other, such
    as `axle ratio 4.7` and `axle ratio 3.6`; else the change that the build sheet describes; else before and after.
    """
    if not two_groups(asked):
        return "", ""
    if asked.baseline_name or asked.changed_name:
        return asked.baseline_name or BEFORE, asked.changed_name or AFTER
    before = [entry.run for entry in entries if not entry.changed]
    after = [entry.run for entry in entries if entry.changed]
    runs = [run for run in (*before, *after) if run is not None]
    if len(runs) < len(entries) or not before or not after:
        return BEFORE, AFTER
    told = [pair for says in _SAYS if (pair := _apart({says(r) for r in before if r}, {says(r) for r in after if r}))]
    described = described_changes(before, after)
    if len(described) == 1 and len(told) != 1:
        return BEFORE, described[0]
    return told[0] if len(told) == 1 else (BEFORE, AFTER)


def _apart(before: set[str], after: set[str]) -> tuple[str, str] | None:
    """The two words, where each group has one of its own; None where they say the same, vary, or say nothing."""
    if len(before) != 1 or len(after) != 1 or before == after:
        return None
    pair = before.pop(), after.pop()
    return pair if all(pair) else None


def described_changes(before: Sequence[Run | None], after: Sequence[Run | None]) -> tuple[str, ...]:
    """What the build sheet says was done between the two groups; nothing where the states within a group differ."""
    done = {run.vehicle.changes for run in before if run is not None}
    now = {run.vehicle.changes for run in after if run is not None}
    if len(done) != 1 or len(now) != 1:
        return ()
    earlier, later = done.pop(), now.pop()
    return later[len(earlier) :] if later[: len(earlier)] == earlier else ()
