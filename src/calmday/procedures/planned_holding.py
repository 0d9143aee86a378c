"""Will it hold the speed against this wind and on this hill? Asked of every draw of the vehicle."""

from __future__ import annotations

from typing import Final

import numpy as np

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import exact, from_draws
from calmday.model.basis import REFERENCE_DENSITY, ROLLING_SPEED_MPS
from calmday.model.gears import full_load_power_w
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.rolling import speed_factor
from calmday.procedures.plan_result import Holds

OVER_SPEED: Final = 1.02
_STRONGEST_MPS: Final = 40.0


def holds(
    model: VehicleModel,
    values: Values,
    speed_mps: float,
    wind_mps: FloatArray,
    grade: float,
    foretold_mps: FloatArray,
) -> Holds:
    """`wind_mps` (m,) from ahead at the height of the vehicle for each draw; `foretold_mps` draws of the wind to come.

    Level or on a `grade`, warm, in reference air, in whichever gear gives most without over-speeding the engine.
    """
    force = _force_at_wheels_n(model, values, speed_mps)
    needed = _road_load_n(values, speed_mps, wind_mps, grade)
    area = 0.5 * REFERENCE_DENSITY * values["drag_area"]
    spare = force - _road_load_n(values, speed_mps, -speed_mps * np.ones_like(force), grade)
    strongest = np.clip(np.sqrt(np.maximum(spare, 0.0) / area) - speed_mps, -speed_mps, _STRONGEST_MPS)
    extra = area * (np.square(speed_mps + wind_mps) - speed_mps**2)
    return Holds(
        chance=float(np.mean(force >= needed)),
        speed=exact(3.6 * speed_mps, "km/h"),
        head_wind=from_draws(wind_mps, "m/s"),
        grade=exact(100 * grade, "%"),
        strongest_wind=from_draws(strongest, "m/s"),
        same_grade=from_draws(100 * extra / (values["test_mass"] * STANDARD_GRAVITY_MPS2), "%"),
        wind_comes=float(np.mean(foretold_mps >= float(np.mean(wind_mps)) - 1e-9)),
    )


def _road_load_n(values: Values, speed_mps: float, wind_mps: FloatArray, grade: float) -> FloatArray:
    """Force to hold a steady speed: rolling, hill, and air met head on."""
    weight = values["test_mass"] * STANDARD_GRAVITY_MPS2 / np.sqrt(1 + grade**2)
    growth = values["rolling_growth"]
    rolling = values["rolling_resistance"] * speed_factor(speed_mps, growth) / speed_factor(ROLLING_SPEED_MPS, growth)
    air = speed_mps + wind_mps
    return np.asarray(weight * (rolling + grade) + 0.5 * REFERENCE_DENSITY * values["drag_area"] * air * np.abs(air))


def _force_at_wheels_n(model: VehicleModel, values: Values, speed_mps: float) -> FloatArray:
    """Most force at the wheels at a speed over the gears that do not over-speed the engine; 0 where every one does."""
    best = np.zeros_like(values["test_mass"])
    for turns in model.gearing.turns_per_metre:
        rps = turns * values["gearing_scale"] * speed_mps
        power = full_load_power_w(model, rps) * values["full_load_scale"] - values["accessory_power"]
        force = values["driveline_efficiency"] * power / speed_mps - values["driveline_drag"]
        allowed = (rps <= OVER_SPEED * model.governed_rps) & (rps >= model.idle_rps)
        best = np.where(allowed, np.maximum(best, force), best)
    return best
