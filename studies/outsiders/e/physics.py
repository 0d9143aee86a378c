"""Road load, engine, warm-up: the fuel for a given speed trace under given conditions."""
from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .air import G_MPS2, RHO_REF
from .vehicle import Vehicle

WARM_COOLANT_C, WARM_OIL_C = 88.0, 92.0       # [H]
WARM_GEAR_RISE_C = 45.0                       # gearbox oil over ambient when warm [H]
OIL_FRICTION_PER_K = 0.0045                   # fmep(T) = fmep(92) exp(0.0045 (92-T)): x1.4 at 20 degC [H]
TYRE_WARM_RISE_C = 25.0                       # tyre over ambient at 80 km/h [H]
FRICTION_OF_FUEL_TO_COOLANT = 0.27            # heat to coolant and block / fuel power [H]


@dataclass(frozen=True)
class Trace:
    """What is the same on the calm day: speed, route, gears."""
    dt: float
    v: np.ndarray          # m/s along the road
    a: np.ndarray
    s: np.ndarray          # m along the road
    grade: np.ndarray      # sin of the slope
    heading: np.ndarray    # rad from north
    gear: np.ndarray       # index; -1 clutch out / neutral


@dataclass(frozen=True)
class Conditions:
    """What differs: each may be swapped for its calm-day value on its own."""
    wind_east: np.ndarray | float   # m/s, at the vehicle, blowing to
    wind_north: np.ndarray | float
    rho: float
    oil_c: np.ndarray | float
    coolant_c: np.ndarray | float
    gearbox_c: np.ndarray | float
    tyre_c: np.ndarray | float


def aero_force(v: Vehicle, speed, heading, wind_e, wind_n, rho):
    """Axial force, body-axis convention, yaw growth k sin^2 that flattens above about 20 deg [R 4.3, H]."""
    along = wind_e * np.sin(heading) + wind_n * np.cos(heading)
    across = wind_e * np.cos(heading) - wind_n * np.sin(heading)
    u = speed - along
    vr2 = u * u + across * across
    s2 = across * across / np.maximum(vr2, 1e-6)
    growth = v.yaw_k * s2 / (1.0 + (s2 / 0.16) ** 1.5)
    return 0.5 * rho * v.cda * vr2 * (1.0 + growth) * np.tanh(u / 0.5)


def tyre_coefficient(v: Vehicle, speed, tyre_c, pressure_kpa):
    """Rolling coefficient: speed, tyre temperature and pressure."""
    t_ref = 20.0 + TYRE_WARM_RISE_C
    return (v.crr0 * (1 + v.crr_v2 * (speed / 27.78) ** 2) * np.exp(-v.crr_temp * (tyre_c - t_ref))
            * (pressure_kpa / v.tyre_kpa) ** -v.pressure_exponent)


def tyre_temperature(v: Vehicle, trace: Trace, ambient_c: float, start_c: float | None) -> np.ndarray:
    """First order to ambient + rise(speed), time constant of 15..25 min [H].  start None: already run in."""
    rise = 5.0 + (TYRE_WARM_RISE_C - 5.0) * trace.v / 22.2
    target = ambient_c + rise
    k = trace.dt / v.tyre_tau_s
    t = float(target.mean()) if start_c is None else start_c
    out = np.empty_like(target)
    for i, x in enumerate(target.tolist()):
        t += k * (x - t)
        out[i] = t
    return out


def spin_force(v: Vehicle, speed, gearbox_c):
    moving = np.tanh(np.asarray(speed) / 0.3)
    return moving * (v.spin_n0 + v.spin_n1 * speed) * np.exp(0.006 * (20 + WARM_GEAR_RISE_C - gearbox_c))


def wheel_force(v: Vehicle, tr: Trace, c: Conditions, mass_kg: float, pressure_kpa: float) -> dict[str, np.ndarray]:
    moving = np.tanh(tr.v / 0.3)
    roll = mass_kg * G_MPS2 * np.sqrt(1 - tr.grade ** 2) * tyre_coefficient(v, tr.v, c.tyre_c, pressure_kpa) * moving
    return {"air": aero_force(v, tr.v, tr.heading, c.wind_east, c.wind_north, c.rho), "roll": roll,
            "grade": mass_kg * G_MPS2 * tr.grade, "inertia": (mass_kg + v.wheel_inertia_kg) * tr.a,
            "spin": spin_force(v, tr.v, c.gearbox_c)}


def engine_fuel_gps(v: Vehicle, n_rpm, torque_nm, oil_c, coolant_c, rho) -> np.ndarray:
    """Fuel rate.  Gross-indicated model with own curvature, throttle pumping for petrol."""
    krpm = n_rpm / 1000.0
    vd = v.displacement_l * 1e-3
    bmep = torque_nm * 4 * math.pi / vd / 1e5
    fmep = (v.f0 + v.f1 * krpm + v.f2 * krpm ** 2) * np.exp(OIL_FRICTION_PER_K * (WARM_OIL_C - oil_c))
    imep_max = (v.peak_bmep + 2.0) * (rho / RHO_REF if v.fuel == "petrol" else 1.0)
    if v.fuel == "petrol":
        load = np.clip((bmep + fmep + 0.4) / imep_max, 0.0, 1.1)
        pmep = 0.80 * (1 - np.clip(0.12 + 0.88 * load, 0, 1)) + 0.015 * krpm ** 2      # bar, throttle [H]
    else:
        pmep = 0.10 + 0.030 * krpm ** 2 + (0.05 * krpm if v.induction == "turbocharged" else 0.0)
    imep = bmep + fmep + pmep
    x = np.clip(imep / imep_max, 0.0, 1.15)
    eta = v.eta * (1 - v.eta_curve * (x - 0.45) ** 2 - 0.018 * (1.5 / np.maximum(krpm, 0.6) - 1))
    eta = eta * (1 - 0.0008 * np.clip(WARM_COOLANT_C - coolant_c, 0, None))            # cold walls [H]
    rich = 1.0 + v.enrich_cold * np.clip((65.0 - coolant_c) / 50.0, 0, 1.3)
    if v.fuel == "petrol":
        rich = rich + (0.12 if v.injection == "carburettor" else 0.08) * np.clip((x - 0.82) / 0.15, 0, 1)
    rate = np.clip(imep, 0, None) * 1e5 * vd * n_rpm / 120.0 / eta / v.lhv_j_per_g * rich
    floor = 0.0
    if not v.overrun_cut:      # closed throttle still draws mixture: about the idle charge per cycle [H]
        floor = (0.55 * (v.f0 + v.f1 * .85) + .5) * 1e5 * vd * n_rpm / 120.0 / v.eta / v.lhv_j_per_g
    cut_ok = n_rpm > 1.35 * v.idle_rpm
    return np.where((bmep < -0.3 * fmep) & cut_ok & v.overrun_cut, np.where(imep > 0, rate, 0.0), np.maximum(rate, floor))


def fuel(v: Vehicle, tr: Trace, c: Conditions, mass_kg: float, pressure_kpa: float, accessory_w: float) -> np.ndarray:
    """Fuel rate g/s along the trace."""
    f = wheel_force(v, tr, c, mass_kg, pressure_kpa)
    total = f["air"] + f["roll"] + f["grade"] + f["inertia"] + f["spin"]
    radius = v.circumference_m / (2 * math.pi)
    ratio = np.array(v.gears)[np.clip(tr.gear, 0, None)] * v.final_drive
    n_gear = tr.v / radius * ratio * 30 / math.pi
    drive = total > 0
    torque = np.where(drive, total / v.mesh_efficiency, total * v.mesh_efficiency) * radius / ratio
    n = n_gear.copy()
    slip = n_gear < 1.15 * v.idle_rpm
    engaged = (tr.gear >= 0) & ~(slip & ~drive)
    n = np.where(slip & drive, np.maximum(n_gear, 1.5 * v.idle_rpm), n)
    torque = torque + np.where(slip, 0.0, v.engine_inertia * tr.a / radius * ratio)
    n = np.where(engaged, n, v.idle_rpm)
    torque = np.where(engaged, torque, 0.0) + accessory_w / (n * math.pi / 30)
    return engine_fuel_gps(v, n, torque, c.oil_c, c.coolant_c, c.rho)


def warm_up(v: Vehicle, dt: float, rate_gps: np.ndarray, ambient_c: float, coolant0: float, oil0: float, gear0: float):
    """Coolant, engine oil and gearbox oil temperatures under the heat of the fuel burnt."""
    kc = dt * FRICTION_OF_FUEL_TO_COOLANT * v.lhv_j_per_g / v.heat_capacity_j_per_k
    loss = dt * 25.0 / v.heat_capacity_j_per_k           # W/K to ambient with thermostat shut [H]
    ko, kg = dt / 150.0, dt / 1000.0                     # s [H]
    tc, to, tg = coolant0, oil0, gear0
    oil_target = WARM_OIL_C - WARM_COOLANT_C - 0.10 * (20.0 - ambient_c)
    gear_target = ambient_c + WARM_GEAR_RISE_C
    out = np.empty((3, len(rate_gps)))
    for i, q in enumerate(rate_gps.tolist()):
        tc = min(WARM_COOLANT_C, tc + kc * q - loss * (tc - ambient_c))
        to += ko * (tc + oil_target - to)
        tg += kg * (gear_target - tg)
        out[0, i], out[1, i], out[2, i] = tc, to, tg
    return out
