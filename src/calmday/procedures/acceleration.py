"""From rest to a speed, and over a quarter mile, predicted from the thrust of every gear.

Time is the integral of dv / a over speed, distance that of v dv / a, in whichever gear accelerates hardest. In first
gear the clutch slips until road speed has caught up with the engine, whose inertia is not accelerated meanwhile; the
driven wheels carry no more than their grip; each change costs a moment without thrust, and the speed lost in it must be
gained again.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import METRE_PER_MILE, STANDARD_GRAVITY_MPS2
from calmday.metrology.draws import standard_normal
from calmday.procedures.gears_forces import (
    Conditions,
    equivalent_mass_kg,
    mass_kg,
    resistance_n,
    thrust_n,
)
from calmday.procedures.gears_holding import Held
from calmday.procedures.gears_vehicle import GearVehicle

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

QUARTER_MILE_M: Final = METRE_PER_MILE / 4

# Centre and standard deviation; assumed.
SHIFT_S: Final = (0.7, 0.2)
"""A change of gear by hand, thrust gone."""
LAUNCH_SHARE: Final = (0.50, 0.08)
"""Engine speed the clutch is let in at, as a share of governed speed."""
GRIP: Final = (0.85, 0.08)
"""Friction of dry asphalt."""
DRIVEN_SHARE: Final = (0.52, 0.06)
"""Weight on the driven wheels, moved back or forward by accelerating included."""

SPEED_STEP_MPS: Final = 0.4
FASTEST_MPS: Final = 75.0
_STALLED_MPS2: Final = 0.02


class Sprint(msgspec.Struct, frozen=True, kw_only=True):
    """A run from rest at full load per draw: at each speed `speed_mps` (n,) the time (s) and distance (m), (m, n).

    Infinite beyond the speed that a draw can reach.
    """

    speed_mps: FloatArray
    time_s: FloatArray
    distance_m: FloatArray

    def time_to(self, speed_mps: float) -> FloatArray:
        """Time from rest to a speed, (m,); infinite where it is never reached."""
        return at_speed(self.speed_mps, self.time_s, speed_mps)

    def over(self, distance_m: float) -> tuple[FloatArray, FloatArray]:
        """Time to cover a distance from rest and speed at its end, each (m,)."""
        return over_distance(self, distance_m)


def at_speed(speeds: FloatArray, values: FloatArray, speed_mps: float) -> FloatArray:
    """Value at one speed by linear interpolation in each row."""
    j = int(np.clip(np.searchsorted(speeds, speed_mps) - 1, 0, speeds.size - 2))
    part = (speed_mps - speeds[j]) / (speeds[j + 1] - speeds[j])
    with np.errstate(invalid="ignore"):
        between = values[:, j] + part * (values[:, j + 1] - values[:, j])
    return np.asarray(np.where(np.isfinite(values[:, j + 1]), between, np.inf))


def over_distance(sprint: Sprint, distance_m: float) -> tuple[FloatArray, FloatArray]:
    """See `Sprint.over`. Where top speed comes first, the rest is driven at it."""
    finite = np.isfinite(sprint.distance_m)
    last = finite.sum(axis=1) - 1
    rows = np.arange(last.size)
    short = sprint.distance_m[rows, last] < distance_m
    after = np.minimum(np.sum(finite & (sprint.distance_m < distance_m), axis=1), last)
    before = np.maximum(after - 1, 0)
    d0, d1 = sprint.distance_m[rows, before], sprint.distance_m[rows, after]
    t0, t1 = sprint.time_s[rows, before], sprint.time_s[rows, after]
    part = np.clip(np.divide(distance_m - d0, d1 - d0, out=np.zeros_like(d0), where=d1 > d0), 0.0, 1.0)
    v0, v1 = sprint.speed_mps[before], sprint.speed_mps[after]
    time, speed = t0 + part * (t1 - t0), v0 + part * (v1 - v0)
    top = np.maximum(sprint.speed_mps[last], 0.1)
    rest = sprint.time_s[rows, last] + (distance_m - sprint.distance_m[rows, last]) / top
    return np.where(short, rest, time), np.where(short, top, speed)


def integrate(speed_mps: FloatArray, acceleration_mps2: FloatArray, lost_s: FloatArray) -> Sprint:
    """Time and distance from acceleration (m, n) on a grid of speeds (n,); `lost_s` (m, n) added at each speed.

    Within a step 1/a is taken as linear: t = sum (1/a0 + 1/a1) dv / 2, s = sum (v0/a0 + v1/a1) dv / 2.
    """
    stuck = np.maximum.accumulate(acceleration_mps2 < _STALLED_MPS2, axis=1)
    slowness = np.where(stuck, np.inf, 1 / np.maximum(acceleration_mps2, _STALLED_MPS2))
    step = np.diff(speed_mps)
    zero = np.zeros((len(slowness), 1))
    time = np.concatenate([zero, np.cumsum((slowness[:, :-1] + slowness[:, 1:]) / 2 * step, axis=1)], axis=1)
    way = speed_mps * np.where(np.isinf(slowness), 0.0, slowness)
    distance = np.concatenate([zero, np.cumsum((way[:, :-1] + way[:, 1:]) / 2 * step, axis=1)], axis=1)
    lost = np.cumsum(lost_s, axis=1)
    distance = distance + np.cumsum(lost_s * speed_mps, axis=1)
    return Sprint(
        speed_mps=speed_mps,
        time_s=time + lost,
        distance_m=np.where(np.isfinite(time), distance, np.inf),
    )


def sprint(vehicle: GearVehicle, on: Conditions, seed: int) -> Sprint:
    """A full-load run from rest through the gears, per draw."""
    shift, launch, grip, driven = _driver(vehicle.draws, seed)
    speeds = np.arange(0.0, FASTEST_MPS + SPEED_STEP_MPS, SPEED_STEP_MPS)
    grid = np.broadcast_to(speeds, (vehicle.draws, speeds.size))
    # air and road at rest are those of a crawl: a head wind does not push a standing vehicle backwards
    road = resistance_n(vehicle, on, np.maximum(grid, 0.1))
    limit = (grip * driven * mass_kg(vehicle, on) * STANDARD_GRAVITY_MPS2)[:, None]
    slipped = (mass_kg(vehicle, on) + vehicle.wheels_kg)[:, None]
    best = np.full(grid.shape, -np.inf)
    chosen = np.zeros(grid.shape, dtype=np.int64)
    for gear in vehicle.gears:
        turns = vehicle.turns_per_metre(gear)[:, None]
        engine = grid * turns
        slipping = np.maximum(engine, launch[:, None] * vehicle.governed_rps) if gear == 0 else engine
        thrust = thrust_n(vehicle, on, np.maximum(slipping / turns, 0.5), slipping)
        usable = (engine <= vehicle.governed_rps) & ((engine >= vehicle.lowest_rps) | (gear == 0))
        # while the clutch slips the engine keeps its speed: only what is behind the clutch is accelerated
        heavy = np.where(slipping > engine, slipped, equivalent_mass_kg(vehicle, on, gear))
        pull = (np.minimum(thrust, limit) - road) / heavy
        better = usable & (pull > best)
        best = np.where(better, pull, best)
        chosen = np.where(better, gear, chosen)
    chosen = np.maximum.accumulate(chosen, axis=1)
    changes = np.diff(chosen, axis=1, prepend=0)
    slowing = road / mass_kg(vehicle, on)[:, None]
    regained = 1 + slowing / np.maximum(best, _STALLED_MPS2)
    lost = np.where(changes > 0, shift[:, None] * np.minimum(regained, 10.0), 0.0)
    return integrate(speeds, best, lost)


def _driver(draws: int, seed: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    scores = standard_normal(draws, 4, seed + 1)
    spreads = (SHIFT_S, LAUNCH_SHARE, GRIP, DRIVEN_SHARE)
    shift, launch, grip, driven = (np.maximum(m + s * scores[:, i], 0.1) for i, (m, s) in enumerate(spreads))
    return shift, launch, grip, driven


def fastest(held: list[Held]) -> FloatArray:
    """The highest speed any gear holds, per draw (0 where none holds any), m/s."""
    return np.asarray(np.max([np.nan_to_num(h.speed_mps) for h in held], axis=0))
