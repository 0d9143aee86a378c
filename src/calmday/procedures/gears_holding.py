"""What each gear holds: the speed where thrust meets resistance, and what is left in hand at a speed.

Per draw, the speed a gear holds is the highest one below governed speed at which thrust is still not less than the
resistance. What stops it going faster:
  governor  the engine is at its governed speed with thrust to spare: a taller gear would go faster
  power     thrust meets resistance, and no lower gear holds more: the engine has no more to give
  gearing   thrust meets resistance, yet a lower gear holds more: the gear is too tall for this wind, grade or load
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.procedures.gears_forces import (
    Conditions,
    Sweep,
    drag_n,
    mass_kg,
    resistance_n,
    rolling_coefficient,
    thrust_n,
)
from calmday.procedures.gears_vehicle import GearVehicle

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

GOVERNOR, POWER, GEARING = 0, 1, 2
LIMITS: Final = ("governor", "power", "gearing")
_STEEPEST: Final = 0.99


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """Per draw (m,): the speed a gear holds (NaN: none), engine speed there, whether the governor stops it."""

    speed_mps: FloatArray
    engine_rps: FloatArray
    at_governor: BoolArray


class InHand(msgspec.Struct, frozen=True, kw_only=True):
    """Per draw (m,) at one road speed: reserve (N), grade it could climb on top (rise over run, what is there
    included), head wind (m/s) at which nothing is left. `possible` whether the engine can turn at that speed."""

    engine_rps: FloatArray
    reserve_n: FloatArray
    grade: FloatArray
    head_wind_mps: FloatArray
    possible: BoolArray


def crossing(
    function: Callable[[FloatArray], FloatArray],
    low: FloatArray,
    high: FloatArray,
    at_low: FloatArray,
    at_high: FloatArray,
    passes: int = 5,
) -> FloatArray:
    """Where a function (m,) -> (m,) passes zero between `low` and `high`, per element: regula falsi, Illinois rule."""
    low, high, at_low, at_high = low.copy(), high.copy(), at_low.copy(), at_high.copy()
    middle = low
    for _ in range(passes):
        span = at_low - at_high
        share = np.divide(at_low, span, out=np.full_like(span, 0.5), where=np.abs(span) > 0)
        middle = low + np.clip(share, 0.0, 1.0) * (high - low)
        value = function(middle)
        upper = np.sign(value) == np.sign(at_high)
        at_low = np.where(upper, 0.5 * at_low, value)
        low = np.where(upper, low, middle)
        at_high = np.where(upper, value, 0.5 * at_high)
        high = np.where(upper, middle, high)
    return middle


def last_not_negative(values: FloatArray) -> IntArray:
    """Index of the last column that is not negative, per row; -1 where all are."""
    fine = values >= 0
    last = values.shape[1] - 1 - np.argmax(fine[:, ::-1], axis=1)
    return np.where(fine.any(axis=1), last, -1)


def reserve_at(vehicle: GearVehicle, on: Conditions, gear: int, speed_mps: FloatArray) -> FloatArray:
    """Thrust less resistance in a gear at one speed per draw, (m,)."""
    speed = speed_mps[:, None]
    engine = speed * vehicle.turns_per_metre(gear)[:, None]
    return np.asarray((thrust_n(vehicle, on, speed, engine) - resistance_n(vehicle, on, speed))[:, 0])


def held_speed(vehicle: GearVehicle, on: Conditions, swept: Sweep) -> Held:
    """The speed a gear holds, per draw."""
    reserve, speed = swept.reserve_n, swept.speed_mps
    last = last_not_negative(reserve)
    top = swept.engine_rps.size - 1
    rows = np.arange(last.size)
    j = np.clip(last, 0, top - 1)
    found = crossing(
        lambda v: reserve_at(vehicle, on, swept.gear, v),
        speed[rows, j],
        speed[rows, j + 1],
        np.maximum(reserve[rows, j], 0.0),
        reserve[rows, j + 1],
    )
    held = np.where(last == top, speed[:, -1], np.where(last < 0, np.nan, found))
    return Held(speed_mps=held, engine_rps=held * vehicle.turns_per_metre(swept.gear), at_governor=last == top)


def limit_of(held: Sequence[Held], gear: int) -> IntArray:
    """Index into LIMITS per draw, given what every gear holds."""
    lower = [np.nan_to_num(h.speed_mps, nan=-1.0) for h in held[:gear]]
    best_below = np.max(lower, axis=0) if lower else np.full(held[gear].speed_mps.shape, -1.0)
    own = np.nan_to_num(held[gear].speed_mps, nan=-0.5)
    stuck = np.where(best_below > own * (1 + 1e-6) + 1e-6, GEARING, POWER)
    return np.where(held[gear].at_governor, GOVERNOR, stuck)


def steepest_grade(vehicle: GearVehicle, on: Conditions, swept: Sweep) -> tuple[FloatArray, FloatArray]:
    """Steepest grade a gear climbs in this wind and air, rise over run, and the speed (m/s) it does so at, each (m,).

    sin + c cos = k with k = (thrust - drag) / weight gives theta = asin(k / sqrt(1 + c^2)) - atan c, at every engine
    speed; the largest counts.
    """
    weight = (mass_kg(vehicle, on) * STANDARD_GRAVITY_MPS2)[:, None]
    c = rolling_coefficient(vehicle, on, swept.speed_mps)
    k = (swept.thrust_n - drag_n(vehicle, on, swept.speed_mps)) / weight
    angle = np.arcsin(np.clip(k / np.sqrt(1 + c**2), -_STEEPEST, _STEEPEST)) - np.arctan(c)
    best = np.argmax(angle, axis=1)
    rows = np.arange(best.size)
    return np.tan(angle[rows, best]), swept.speed_mps[rows, best]


def in_hand(vehicle: GearVehicle, on: Conditions, gear: int, speed_mps: float) -> InHand:
    """What a gear has in hand at a road speed; see `InHand`.

    Head wind: w = sqrt([thrust - m g (C cos + sin)] / (1/2 rho CdA)) - v; negative where it takes a wind from behind.
    """
    speed = np.full((vehicle.draws, 1), speed_mps)
    engine = speed * vehicle.turns_per_metre(gear)[:, None]
    thrust = thrust_n(vehicle, on, speed, engine)
    road = resistance_n(vehicle, on, speed) - drag_n(vehicle, on, speed)
    reserve = thrust - road - drag_n(vehicle, on, speed)
    weight = mass_kg(vehicle, on) * STANDARD_GRAVITY_MPS2
    c = rolling_coefficient(vehicle, on, speed)[:, 0]
    k = (thrust - drag_n(vehicle, on, speed))[:, 0] / weight
    angle = np.arcsin(np.clip(k / np.sqrt(1 + c**2), -_STEEPEST, _STEEPEST)) - np.arctan(c)
    square = (thrust - road)[:, 0] / (0.5 * on.air_density_kgpm3 * vehicle.values["drag_area"])
    turning = engine[:, 0]
    return InHand(
        engine_rps=turning,
        reserve_n=reserve[:, 0],
        grade=np.tan(angle),
        head_wind_mps=np.sign(square) * np.sqrt(np.abs(square)) - speed_mps,
        possible=(turning >= vehicle.lowest_rps * (1 - 1e-9)) & (turning <= vehicle.governed_rps * (1 + 1e-9)),
    )
