"""When to change gear: for best acceleration, for least fuel, and where an engine begins to labour.

Best acceleration: stay in the lower gear as long as it accelerates harder, (F - R)/m_eff with the rotating parts of
each gear; where it still does at governed speed, change there (SAE and textbook rule; reference section 7).
Least fuel: change up as soon as the next gear keeps the engine at its lowest smooth speed and needs no more than
LOAD_SHARE of its full load, so that a reserve is left. On a Willans line the taller gear then always uses less: the
same power at less friction. What it saves is worked out, not assumed.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.procedures.gears_forces import (
    Conditions,
    engine_grid,
    equivalent_mass_kg,
    fuel_power_w,
    load_at,
    resistance_n,
    thrust_n,
)
from calmday.procedures.gears_holding import crossing, last_not_negative
from calmday.procedures.gears_vehicle import GearVehicle

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LOAD_SHARE: Final = 0.82
"""Largest share of full load that the next gear may need: between the 80 and 85 % of the trade."""

_NEVER_IN_NEXT: Final = 1e9


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """Per draw (m,): road speed of a change from `gear` to the next, NaN where it is better not to.

    `at_governor` the engine is at governed speed; `at_smooth` the next gear's lowest smooth speed decides.
    """

    gear: int
    speed_mps: FloatArray
    at_governor: BoolArray
    at_smooth: BoolArray


def acceleration_mps2(vehicle: GearVehicle, on: Conditions, gear: int, speed_mps: FloatArray) -> FloatArray:
    """Full-load acceleration in a gear, (m, n), m/s2. Meaningless outside the engine's speeds."""
    engine = speed_mps * vehicle.turns_per_metre(gear)[:, None]
    force = thrust_n(vehicle, on, speed_mps, engine) - resistance_n(vehicle, on, speed_mps)
    return np.asarray(force / equivalent_mass_kg(vehicle, on, gear))


def for_acceleration(vehicle: GearVehicle, on: Conditions, gear: int) -> Change:
    """The change from `gear` to the next that accelerates best, per draw."""
    turns, next_turns = vehicle.model.gearing.turns_per_metre[gear : gear + 2]
    grid = engine_grid(vehicle)
    speed = grid / vehicle.turns_per_metre(gear)[:, None]

    def better(v: FloatArray) -> FloatArray:
        return acceleration_mps2(vehicle, on, gear, v) - acceleration_mps2(vehicle, on, gear + 1, v)

    gain = better(speed)
    labouring = grid * next_turns / turns < vehicle.lowest_rps
    gain = np.where(labouring, _NEVER_IN_NEXT, gain)
    last = last_not_negative(gain)
    top = grid.size - 1
    rows, j = np.arange(last.size), np.clip(last, 0, top - 1)
    edge = gain[rows, j] >= _NEVER_IN_NEXT
    found = crossing(
        lambda v: better(v[:, None])[:, 0],
        speed[rows, j],
        speed[rows, j + 1],
        np.where(edge, 0.0, gain[rows, j]),
        gain[rows, j + 1],
    )
    found = np.where(edge, vehicle.lowest_rps / vehicle.turns_per_metre(gear + 1), found)
    speeds = np.where(last == top, speed[:, -1], np.where(last < 0, speed[:, 0], found))
    return Change(gear=gear, speed_mps=speeds, at_governor=last == top, at_smooth=np.zeros(last.size, dtype=bool))


def for_least_fuel(vehicle: GearVehicle, on: Conditions, gear: int, share: float = LOAD_SHARE) -> Change:
    """The earliest change from `gear` to the next that leaves the engine smooth and in reserve, per draw."""
    turns = vehicle.turns_per_metre(gear + 1)
    grid = engine_grid(vehicle)
    speed = grid / turns[:, None]
    governed = vehicle.governed_rps / vehicle.turns_per_metre(gear)
    spare = share - load_at(vehicle, on, speed, grid)
    smooth = grid >= vehicle.smooth_rps[:, None]
    fine = (spare >= 0) & smooth
    first = np.argmax(fine, axis=1)
    rows, before = np.arange(first.size), np.maximum(first - 1, 0)
    below, above = spare[rows, before], spare[rows, first]
    part = np.divide(below, below - above, out=np.zeros_like(below), where=below < above)
    by_load = speed[rows, before] + np.clip(part, 0, 1) * (speed[rows, first] - speed[rows, before])
    at_smooth = vehicle.smooth_rps / turns
    waits = (first > 0) & (below < 0)
    found = np.maximum(np.where(waits, by_load, at_smooth), at_smooth)
    usable = fine.any(axis=1)
    late = usable & (found >= governed)
    # beyond governed speed of this gear there is nothing to wait for, if the next one pulls there at all
    pulls = load_at(vehicle, on, governed[:, None], (governed * turns)[:, None])[:, 0] <= 1.0
    change_at_top = (late | ~usable) & pulls & (governed * turns >= vehicle.smooth_rps)
    speeds = np.where(change_at_top, governed, np.where(usable & ~late, found, np.nan))
    return Change(
        gear=gear, speed_mps=speeds, at_governor=change_at_top, at_smooth=usable & ~late & (found <= at_smooth)
    )


def fuel_saving(vehicle: GearVehicle, on: Conditions, change: Change) -> FloatArray:
    """Fuel saved by the change at its speed, as a share of what the lower gear uses, per draw (NaN: no change)."""
    speed = change.speed_mps[:, None]
    used = [
        fuel_power_w(vehicle, on, speed, speed * vehicle.turns_per_metre(gear)[:, None])[:, 0]
        for gear in (change.gear, change.gear + 1)
    ]
    # downhill neither gear may need any fuel: then nothing is saved
    return np.asarray(1 - np.divide(used[1], used[0], out=np.ones_like(used[0]), where=used[0] > 0))


def labouring_speed_mps(vehicle: GearVehicle, gear: int) -> FloatArray:
    """Road speed below which a gear lets the engine fall under its lowest smooth speed, (m,)."""
    return np.asarray(vehicle.smooth_rps / vehicle.turns_per_metre(gear))
