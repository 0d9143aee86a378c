"""The invented truth in the shapes the compiled loops read: plain numbers and arrays, SI units."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
RouteKind = Literal["smooth loop", "polygon loop", "out and back"]

ENGAGED, SLIPPING, SHIFTING, DECLUTCHED = 0, 1, 2, 3
TYRE, COOLANT, OIL, GEARBOX, OWED = 0, 1, 2, 3, 4
(
    FUEL_ENERGY,
    AERO,
    ROLLING,
    GRADE,
    KINETIC,
    BRAKES,
    DRIVELINE,
    CLUTCH,
    ENGINE_LOSS,
    INDICATED,
    SHAFT,
    CARRIED,
) = range(12)
LEDGER_NAMES = (
    "fuel",
    "aero",
    "rolling",
    "grade",
    "kinetic",
    "brakes",
    "driveline",
    "clutch",
    "engine_friction",
    "indicated",
    "shaft",
    "carried",
)


class VehicleTruth(NamedTuple):
    """Everything the simulated vehicle really is. Temperatures in degC, the rest SI.

    `rolling` is the coefficient at 80 km/h with the tyre at `tyre_warm_c` (its steady temperature at 80 km/h
    and 20 degC) at the usual pressure; `pressure_ratio` is today's pressure over the usual one.
    """

    mass_kg: float
    drag_area_m2: float
    yaw_growth: float
    yaw_limit_rad: float
    rolling: float
    rolling_speed2: float
    tyre_temperature_slope: float
    tyre_warm_c: float
    tyre_capacity: float
    tyre_cooling: float
    pressure_ratio: float
    pressure_exponent: float
    wheel_radius_m: float
    wheel_inertia: float
    engine_inertia: float
    gear_ratio: FloatArray
    gear_efficiency: FloatArray
    spin_torque: float
    spin_speed_term: float
    spin_temperature_slope: float
    gearbox_capacity: float
    gearbox_cooling: float
    displacement_m3: float
    stroke_m: float
    diesel: bool
    friction_constant: float
    friction_scale: float
    hydrodynamic_share: float
    viscosity_power: float
    viscosity_b: float
    indicated_efficiency: float
    efficiency_speed_term: float
    best_speed: float
    high_load_loss: float
    light_load_loss: float
    pumping_pa: float
    enrichment: float
    cold_enrichment: float
    cold_efficiency_loss: float
    overrun_cut: bool
    closed_throttle_kgps: float
    heating_value: float
    idle_speed: float
    governed_speed: float
    full_load_step: float
    full_load_torque: FloatArray
    density_exponent: float
    accessory_w: float
    fan_coefficient: float
    coolant_capacity: float
    coolant_heat_share: float
    thermostat_c: float
    oil_capacity: float


class DriverTruth(NamedTuple):
    """How the driver drives. Engine speeds in rad/s."""

    lag_s: float
    acceleration: float
    braking: float
    shift_time_s: float
    upshift_easy: float
    upshift_hard: float
    downshift: float
    launch_speed: float


class RoadTruth(NamedTuple):
    """The road of one lap on an even grid of `step_m` along the ground; heading as a unit vector (east,
    north).
    """

    step_m: float
    east_m: FloatArray
    north_m: FloatArray
    heading_east: FloatArray
    heading_north: FloatArray
    grade: FloatArray
    height_m: FloatArray
    shelter: FloatArray
    limit_mps: FloatArray


class DayTruth(NamedTuple):
    """Conditions of a drive. `wind_scale` 0 turns the wind off; `lapse` 0 keeps the density whatever the
    height.

    `temperature_c` is the air about the engine, `tyre_air_c` about the tyres: the same, unless one asks what
    each costs.
    """

    density: float
    temperature_c: float
    tyre_air_c: float
    wind_scale: float
    lapse: float


class AirTruth(NamedTuple):
    """Wind at vehicle height over time, in steps of the integration, the way the air moves TO; and
    traffic.
    """

    east_mps: FloatArray
    north_mps: FloatArray
    traffic: FloatArray


class Trace(NamedTuple):
    """What the vehicle did, step by step: mid-step speed, acceleration, gear, clutch, place on the lap."""

    speed: FloatArray
    acceleration: FloatArray
    gear: IntArray
    mode: IntArray
    place: IntArray
