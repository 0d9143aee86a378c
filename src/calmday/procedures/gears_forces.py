"""Thrust in each gear against the resistance of the road, for any wind, grade, load and air, draw by draw.

Thrust at the tyre F = eta (2 pi n T(n) k (rho/rho_c)^a - P_acc - D v (1 + v/v_D)) / v: flywheel power in the air of the
day, less accessories and oil churning, through the driveline. Resistance as in the forward model (`model.basis`):
m g (C_rr R cos + sin) + 1/2 rho CdA u|u| with u = speed + head wind. Gusts and side wind are left out.
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.air_density import moist_air_density
from calmday.metrology.constants import (
    REFERENCE_PRESSURE_PA,
    REFERENCE_RELATIVE_HUMIDITY,
    REFERENCE_TEMPERATURE_K,
    STANDARD_GRAVITY_MPS2,
)
from calmday.model.basis import (
    CHURNING_SPEED_MPS,
    PRESSURE_EXPONENT,
    REFERENCE_DENSITY,
    ROLLING_SPEED_MPS,
    high_load_w,
    oil_drag_n,
    pumping_mep_pa,
)
from calmday.model.gears import full_load_power_w
from calmday.physics.engine import friction_mean_pressure_pa, power_w, swept_rate_m3ps
from calmday.physics.rolling import speed_factor, temperature_factor
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.reduction.pressure import standard_pressure, standard_temperature

FloatArray = NDArray[np.float64]

GRID_POINTS = 25


class Conditions(msgspec.Struct, frozen=True, kw_only=True):
    """What the vehicle meets. Head wind at vehicle height (m/s), grade rise over run, load on top of the test mass
    (kg), air density (kg/m3), temperature (K) and pressure (Pa). Without arguments: the calm standard day on the level.
    """

    head_wind_mps: float = 0.0
    grade: float = 0.0
    payload_kg: float = 0.0
    air_density_kgpm3: float = REFERENCE_DENSITY
    temperature_k: float = REFERENCE_TEMPERATURE_K
    pressure_pa: float = REFERENCE_PRESSURE_PA


def conditions(
    *,
    head_wind_mps: float = 0.0,
    grade: float = 0.0,
    payload_kg: float = 0.0,
    temperature_k: float | None = None,
    pressure_pa: float | None = None,
    altitude_m: float | None = None,
    relative_humidity: float = REFERENCE_RELATIVE_HUMIDITY,
) -> Conditions:
    """Conditions from what a person states. A height gives pressure and, if none is stated, temperature of the standard
    atmosphere; a stated pressure goes before a height."""
    warmth, pressure = REFERENCE_TEMPERATURE_K, REFERENCE_PRESSURE_PA
    if altitude_m is not None:
        warmth, pressure = float(standard_temperature(altitude_m)), float(standard_pressure(altitude_m))
    warmth = temperature_k if temperature_k is not None else warmth
    pressure = pressure_pa if pressure_pa is not None else pressure
    return Conditions(
        head_wind_mps=head_wind_mps,
        grade=grade,
        payload_kg=payload_kg,
        air_density_kgpm3=float(moist_air_density(warmth, pressure, relative_humidity)),
        temperature_k=warmth,
        pressure_pa=pressure,
    )


class Sweep(msgspec.Struct, frozen=True, kw_only=True):
    """One gear over engine speed: `engine_rps` (n,); `speed_mps`, `thrust_n`, `resistance_n`, each (m, n)."""

    gear: int
    engine_rps: FloatArray
    speed_mps: FloatArray
    thrust_n: FloatArray
    resistance_n: FloatArray

    @property
    def reserve_n(self) -> FloatArray:
        return self.thrust_n - self.resistance_n


def mass_kg(vehicle: GearVehicle, on: Conditions) -> FloatArray:
    """Test mass with the load, (m,)."""
    return np.asarray(vehicle.values["test_mass"] + on.payload_kg)


def rolling_coefficient(vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray) -> FloatArray:
    """Rolling force over weight at a speed, warm tyres; shape of speed (m, n)."""
    p = vehicle.values
    at_rest = p["rolling_resistance"] / speed_factor(ROLLING_SPEED_MPS, p["rolling_growth"])
    at_rest = at_rest * temperature_factor(on.temperature_k, p["rolling_temperature"])
    at_rest = at_rest * vehicle.model.pressure_ratio**-PRESSURE_EXPONENT
    return np.asarray(at_rest[:, None] * speed_factor(speed_mps, p["rolling_growth"][:, None]))


def drag_n(vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray) -> FloatArray:
    """Air drag straight into the head wind, (m, n)."""
    axial = speed_mps + on.head_wind_mps
    return np.asarray(0.5 * on.air_density_kgpm3 * vehicle.values["drag_area"][:, None] * axial * np.abs(axial))


def resistance_n(vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray) -> FloatArray:
    """Force that holds the vehicle back at steady speed, (m, n)."""
    weight = (mass_kg(vehicle, on) * STANDARD_GRAVITY_MPS2)[:, None]
    cosine = 1 / np.sqrt(1 + on.grade**2)
    road = weight * cosine * (rolling_coefficient(vehicle, on, speed_mps) + on.grade)
    return np.asarray(road + drag_n(vehicle, on, speed_mps))


def churning_n(vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray) -> FloatArray:
    """Drag of oil and seals, independent of torque, (m, n); more in cold air, which keeps the oil thick."""
    return np.asarray(oil_drag_n(vehicle.values, on.temperature_k)[:, None] * (1 + speed_mps / CHURNING_SPEED_MPS))


def efficiency(vehicle: GearVehicle) -> FloatArray:
    """Driveline efficiency, (m, 1)."""
    return np.minimum(vehicle.values["driveline_efficiency"], 0.995)[:, None]


def full_load_factor(vehicle: GearVehicle, on: Conditions) -> FloatArray:
    """Full-load torque of the day over that of the curve, (m, 1): the curve's own doubt and the air."""
    air = (on.air_density_kgpm3 / vehicle.chart_air_kgpm3) ** vehicle.thinning
    return np.asarray((vehicle.values["full_load_scale"] * air)[:, None])


def thrust_n(vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray, engine_rps: FloatArray) -> FloatArray:
    """Force at the tyre at full load, (m, n). `engine_rps` (n,) or (m, n)."""
    full = power_w(vehicle.drawn_torque_nm(engine_rps), engine_rps) * full_load_factor(vehicle, on)
    left = full - vehicle.values["accessory_power"][:, None] - churning_n(vehicle, on, speed_mps) * speed_mps
    return np.asarray(efficiency(vehicle) * left / np.maximum(speed_mps, 0.1))


def power_needed_w(
    vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray, extra_n: FloatArray | float = 0.0
) -> FloatArray:
    """Flywheel power, accessories and churning included, that holds a steady speed, (m, n). `extra_n` resistance on
    top of that of the conditions, (m, n)."""
    wheel = (resistance_n(vehicle, on, speed_mps) + extra_n) * speed_mps
    pulled = np.maximum(wheel / efficiency(vehicle), wheel * efficiency(vehicle))
    own = vehicle.values["accessory_power"][:, None] + churning_n(vehicle, on, speed_mps) * speed_mps
    return np.asarray(pulled + own)


def load_at(vehicle: GearVehicle, on: Conditions, speed_mps: FloatArray, engine_rps: FloatArray) -> FloatArray:
    """Flywheel power needed over full-load power, (m, n)."""
    full = power_w(vehicle.drawn_torque_nm(engine_rps), engine_rps) * full_load_factor(vehicle, on)
    return np.asarray(power_needed_w(vehicle, on, speed_mps) / np.maximum(full, 1.0))


def fuel_power_w(
    vehicle: GearVehicle,
    on: Conditions,
    speed_mps: FloatArray,
    engine_rps: FloatArray,
    extra_n: FloatArray | float = 0.0,
) -> FloatArray:
    """Power of the fuel at steady speed on the Willans line of the model, warm, (m, n), watt. `extra_n` as above.

    (g (P_shaft + what high load takes on top) + P_friction + P_pumping + own losses) / e, as `model.kernel`.
    """
    p, model = {key: value[:, None] for key, value in vehicle.values.items()}, vehicle.model
    pumping = pumping_mep_pa(model, p, on.pressure_pa)
    gain = 1 - pumping_mep_pa(model, p, REFERENCE_PRESSURE_PA) / model.engine_class.best_mep_pa
    own = p["accessory_power"] + churning_n(vehicle, on, speed_mps) * speed_mps
    shaft = power_needed_w(vehicle, on, speed_mps, extra_n) - own
    full = p["full_load_scale"] * full_load_power_w(model, engine_rps / p["gearing_scale"])
    shaft, extra = high_load_w(shaft, full)
    friction = friction_mean_pressure_pa(
        engine_rps, p["friction_mep"], p["friction_slope"], model.friction_reference_rps
    )
    rubbing = swept_rate_m3ps(model.displacement_m3, engine_rps, model.strokes) * (friction + pumping)
    return np.asarray(np.maximum(gain * (shaft + extra) + rubbing + own, 0.0) / p["indicated_efficiency"])


def equivalent_mass_kg(vehicle: GearVehicle, on: Conditions, gear: int) -> FloatArray:
    """Mass that a force at the tyre accelerates in a gear, (m, 1): vehicle, wheels, and the engine's own inertia, which
    stands before the driveline's losses: eta J (2 pi z)^2."""
    engine = efficiency(vehicle)[:, 0] * vehicle.engine_side_kg(gear)
    return np.asarray((mass_kg(vehicle, on) + vehicle.wheels_kg + engine)[:, None])


def engine_grid(vehicle: GearVehicle, points: int = GRID_POINTS) -> FloatArray:
    """Engine speeds from where the curve begins to governed speed, the knots of the curve among them, 1/s."""
    low, high = vehicle.lowest_rps, vehicle.governed_rps
    knots = vehicle.curve_rps[(vehicle.curve_rps > low) & (vehicle.curve_rps < high)]
    grid = np.concatenate([np.linspace(low, high, points), knots if knots.size <= points else knots[:0]])
    return np.unique(grid)


def sweep(vehicle: GearVehicle, on: Conditions, gear: int, grid: FloatArray) -> Sweep:
    """Thrust and resistance of one gear over engine speed."""
    speed = grid / vehicle.turns_per_metre(gear)[:, None]
    return Sweep(
        gear=gear,
        engine_rps=grid,
        speed_mps=speed,
        thrust_n=thrust_n(vehicle, on, speed, grid),
        resistance_n=resistance_n(vehicle, on, speed),
    )
