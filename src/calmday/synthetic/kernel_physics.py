"""Forces, losses and fuel of the invented vehicle, one instant at a time.

Written from text books, apart from the model that is judged against it. Import it late: it compiles where
numba is
installed.
"""

from __future__ import annotations

import math

from calmday.synthetic.compiled import compiled
from calmday.synthetic.truth_types import COOLANT, GEARBOX, OIL, TYRE, DayTruth, FloatArray, VehicleTruth

_G = 9.80665
_V80 = 80 / 3.6
_VOGEL_C = 95.0
_WARM_OIL_C = 90.0


@compiled
def air_force(veh: VehicleTruth, speed: float, tail: float, across: float, density: float) -> float:
    """Axial air force [N]: drag along the relative wind, its coefficient growing with yaw and levelling off.

    C(psi) = C0 (1 + k s^2 tanh((psi/s)^2)), s the saturation angle; axial part = D cos(psi).
    """
    ahead = speed - tail
    relative = math.sqrt(ahead * ahead + across * across)
    if relative < 1e-9:
        return 0.0
    yaw = math.atan2(abs(across), ahead)
    limit = veh.yaw_limit_rad
    growth = 1.0 + veh.yaw_growth * limit * limit * math.tanh((yaw / limit) ** 2)
    return 0.5 * density * veh.drag_area_m2 * growth * relative * ahead


@compiled
def rolling_force(veh: VehicleTruth, speed: float, grade: float, tyre_c: float) -> float:
    """Rolling resistance [N]: falls exponentially with tyre temperature, power law in pressure, speed
    squared term.
    """
    warmth = math.exp(-veh.tyre_temperature_slope * (tyre_c - veh.tyre_warm_c))
    growth = (1.0 + veh.rolling_speed2 * speed * speed) / (1.0 + veh.rolling_speed2 * _V80 * _V80)
    pressure = veh.pressure_ratio ** (-veh.pressure_exponent)
    level = 1.0 / math.sqrt(1.0 + grade * grade)
    return veh.mass_kg * _G * veh.rolling * warmth * growth * float(pressure) * level


@compiled
def resistance(
    veh: VehicleTruth,
    day: DayTruth,
    speed: float,
    grade: float,
    height: float,
    tail: float,
    across: float,
    tyre_c: float,
) -> tuple[float, float, float]:
    """Air, rolling and grade force [N] on the moving vehicle."""
    density = day.density * math.exp(-day.lapse * height)
    air = air_force(veh, speed, tail, across, density)
    rolling = rolling_force(veh, speed, grade, tyre_c)
    slope = veh.mass_kg * _G * grade / math.sqrt(1.0 + grade * grade)
    return air, rolling, slope


@compiled
def full_load(veh: VehicleTruth, omega: float) -> float:
    """Full-load torque [N m] by linear interpolation on an even grid; falls to nothing above governed
    speed.
    """
    if omega > veh.governed_speed:
        over = (omega - veh.governed_speed) / (0.06 * veh.governed_speed)
        omega, cut = veh.governed_speed, max(0.0, 1.0 - over)
    else:
        cut = 1.0
    place = omega / veh.full_load_step
    index = min(int(place), veh.full_load_torque.size - 2)
    part = place - index
    return cut * float((1.0 - part) * veh.full_load_torque[index] + part * veh.full_load_torque[index + 1])


@compiled
def spin_loss(veh: VehicleTruth, omega: float, gearbox_c: float) -> float:
    """Churning and seal torque [N m] at the gearbox input: grows with speed, thins out as the oil warms."""
    thick = math.exp(-veh.spin_temperature_slope * (gearbox_c - 55.0))
    return veh.spin_torque * thick * (1.0 + veh.spin_speed_term * omega)


@compiled
def friction_torque(veh: VehicleTruth, omega: float, oil_c: float) -> float:
    """Motored friction of the engine [N m] at oil temperature.

    Diesel, Millington and Hartles: kPa = C1 + 48 (N/1000) + 0.4 Sp^2. Petrol, Barnes-Moss: bar = 0.97 +
    0.15 (N/1000) + 0.05 (N/1000)^2. The hydrodynamic share follows (viscosity / warm viscosity)^m, with
    Vogel's viscosity.
    """
    krpm = omega * 60.0 / (2.0 * math.pi) / 1000.0
    if veh.diesel:
        piston = 2.0 * veh.stroke_m * krpm * 1000.0 / 60.0
        pressure = 1e3 * (veh.friction_constant + 48.0 * krpm + 0.4 * piston * piston)
    else:
        pressure = 1e5 * (0.97 + 0.15 * krpm + 0.05 * krpm * krpm)
    exponent = veh.viscosity_b * (1.0 / (max(oil_c, -30.0) + _VOGEL_C) - 1.0 / (_WARM_OIL_C + _VOGEL_C))
    thick = math.exp(veh.viscosity_power * exponent)
    share = veh.hydrodynamic_share
    return veh.friction_scale * pressure * (1.0 - share + share * thick) * veh.displacement_m3 / (4.0 * math.pi)


@compiled
def own_torque(veh: VehicleTruth, torque: float, omega: float, oil_c: float) -> tuple[float, float]:
    """Torque the engine needs for itself [N m] (friction, accessories, throttling) and its load, 0 to 1 or
    a bit over.
    """
    friction = friction_torque(veh, omega, oil_c)
    accessories = veh.accessory_w / max(omega, 40.0) + veh.fan_coefficient * omega * omega
    load = (torque + friction) / (full_load(veh, min(omega, veh.governed_speed)) + friction)
    load = min(max(load, 0.0), 1.15)
    pumping = veh.pumping_pa * max(0.0, 1.0 - load) * veh.displacement_m3 / (4.0 * math.pi)
    return friction + accessories + pumping, load


@compiled
def fuel_rate(veh: VehicleTruth, indicated: float, load: float, omega: float, coolant_c: float) -> float:
    """Fuel flow [kg/s] for an indicated torque [N m]; indicated efficiency bends with speed, high and
    light load.
    """
    overspeed = (omega - veh.best_speed) / veh.governed_speed
    heavy = max(0.0, load - 0.7) / 0.3
    light = 1.0 - min(load, 1.0)
    cold = max(0.0, (veh.thermostat_c - coolant_c) / 70.0)
    efficiency = veh.indicated_efficiency * (1.0 - veh.efficiency_speed_term * overspeed * overspeed)
    efficiency *= (1.0 - veh.high_load_loss * heavy * heavy) * (1.0 - veh.light_load_loss * light * light)
    efficiency *= 1.0 - veh.cold_efficiency_loss * cold
    rich = max(0.0, min(load, 1.0) - 0.8) / 0.2
    choke = max(0.0, (60.0 - coolant_c) / 60.0)
    mixture = (1.0 + veh.enrichment * rich * rich) * (1.0 + veh.cold_enrichment * choke * math.sqrt(choke))
    rate = max(indicated, 0.0) * omega * mixture / (efficiency * veh.heating_value)
    if veh.overrun_cut:
        return rate
    return max(rate, veh.closed_throttle_kgps * math.sqrt(omega / veh.idle_speed))


@compiled
def idle_speed(veh: VehicleTruth, coolant_c: float) -> float:
    """Idle [rad/s], up to a quarter faster when cold."""
    return veh.idle_speed * (1.0 + 0.25 * min(1.0, max(0.0, (60.0 - coolant_c) / 60.0)))


@compiled
def warm_up(
    veh: VehicleTruth,
    state: FloatArray,
    day: DayTruth,
    speed: float,
    step_s: float,
    rolling_w: float,
    gear_loss_w: float,
    fuel_w: float,
    friction_w: float,
) -> None:
    """Move the temperatures of tyres, coolant, oil and gearbox on by one step (lumped heat capacities)."""
    ambient_c = day.temperature_c
    tyre = rolling_w - veh.tyre_cooling * (1.0 + speed / 12.0) / (1.0 + _V80 / 12.0) * (state[TYRE] - day.tyre_air_c)
    state[TYRE] += tyre * step_s / veh.tyre_capacity
    litres = veh.displacement_m3 * 1e3
    between = 70.0 * litres**0.7 * (state[COOLANT] - state[OIL])
    coolant = veh.coolant_heat_share * fuel_w - between - (8.0 + 0.25 * speed) * (state[COOLANT] - ambient_c)
    state[COOLANT] = min(state[COOLANT] + coolant * step_s / veh.coolant_capacity, veh.thermostat_c)
    oil = 0.36 * friction_w + between - (10.0 + 1.6 * speed) * (state[OIL] - ambient_c)
    state[OIL] += oil * step_s / veh.oil_capacity
    box = 0.85 * gear_loss_w + 8.0 * (state[OIL] - state[GEARBOX])
    box -= veh.gearbox_cooling * (1.0 + speed / 15.0) * (state[GEARBOX] - ambient_c)
    state[GEARBOX] += box * step_s / veh.gearbox_capacity
