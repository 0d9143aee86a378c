"""Vehicles and drives made by hand, and the physics of one sample written straight down, for tests of the model."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import msgspec
import numpy as np

from calmday.model.drive import Drive
from calmday.model.gears import GearTrace
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.drag import axial_drag_n, levelled_growth, wind_in_vehicle_axes, yaw_angle_rad
from calmday.physics.engine import (
    friction_mean_pressure_pa,
    power_w,
    swept_rate_m3ps,
    willans_fuel_rate_kgps,
)
from calmday.physics.rolling import pressure_factor, rolling_force_n, speed_factor, temperature_factor
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, FullLoadCurve, TyreSize, Vehicle

RPM = 1 / 60

CURVE = FullLoadCurve(
    tuple(rpm * RPM for rpm in (800, 1200, 2000, 3000, 4000, 4600)), (105.0, 121.0, 139.0, 134.0, 112.0, 90.0)
)

DIESEL_VAN = Vehicle(
    name="Fen Hauler",
    body="van",
    test_mass_kg=Declared(1480.0),
    frontal_area_m2=Declared(2.9),
    drag_coefficient=Declared(0.44),
    rolling_resistance=Declared(0.0125),
    tyre=TyreSize("195/75 R16", 0.195, 0.75, 16 * 0.0254, True),
    tyre_pressure_pa=Declared(300e3),
    gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
    final_drive=4.1,
    driveline_efficiency=Declared(0.93),
    engine=Engine(
        displacement_m3=Declared(2.1e-3),
        cylinders=4,
        fuel="diesel",
        induction="natural",
        injection="indirect",
        idle_speed_rps=Declared(800 * RPM),
        governed_speed_rps=Declared(4600 * RPM),
        full_load=CURVE,
        overrun_fuel_cut=True,
    ),
)

PETROL_ROADSTER = Vehicle(
    name="Reed Cutter",
    body="roadster",
    test_mass_kg=Declared(780.0),
    drag_coefficient=Declared(0.55),
    gear_ratios=(3.5, 2.1, 1.4, 1.0),
    final_drive=3.9,
    rolling_circumference_m=Declared(1.82),
    engine=Engine(displacement_m3=Declared(1.3e-3), fuel="petrol", injection="carburettor"),
)

BARE = Vehicle(name="Nobody Knows")


def changed(vehicle: Vehicle, **fields: Any) -> Vehicle:
    return msgspec.structs.replace(vehicle, **fields)


def random_drive(
    seed: int,
    count: int = 400,
    wind_mps: float = 6.0,
    slowest_mps: float = 0.0,
    temperature_k: float = 280.0,
    **fields: Any,
) -> Drive:
    """A drive with stops (unless `slowest_mps` keeps it rolling), hills, bends and gusts."""
    g = np.random.default_rng(seed)
    grid = np.arange(count)
    wave = 16 + 9 * np.sin(2 * np.pi * grid / g.uniform(60, 150)) + 6 * np.sin(2 * np.pi * grid / g.uniform(20, 50))
    speed = np.maximum(wave - g.uniform(0, 12), 0.0) if slowest_mps == 0 else np.maximum(wave, slowest_mps)
    heading = np.cumsum(g.normal(0, 0.03, count)) + g.uniform(0, 2 * np.pi)
    to = g.uniform(0, 2 * np.pi) + 0.1 * np.sin(grid / 70)
    given = {
        "step_s": np.ones(count),
        "elapsed_s": grid.astype(float),
        "speed_mps": speed,
        "acceleration_mps2": np.gradient(speed) if count > 1 else np.zeros(1),
        "grade": 0.03 * np.sin(2 * np.pi * grid / g.uniform(90, 200)),
        "heading_rad": heading,
        "wind_east_mps": wind_mps * np.sin(to),
        "wind_north_mps": wind_mps * np.cos(to),
        "turbulence_along_mps2": np.full(count, (0.2 * wind_mps) ** 2),
        "turbulence_across_mps2": np.full(count, (0.15 * wind_mps) ** 2),
        "air_density_kgpm3": 1.2 + 0.02 * np.sin(grid / 100),
        "temperature_k": np.full(count, temperature_k),
        "pressure_pa": 99e3 + 400 * np.sin(grid / 100),
        "running": np.ones(count),
        "wind_factor_log_sd": 0.25,
        "wind_offset_sd_mps": 0.4,
        "direction_sd_rad": 0.2,
        "density_relative_sd": 0.006,
    }
    return Drive(**(given | fields))


def joined(one: Drive, other: Drive) -> Drive:
    """One drive after the other."""
    both = {
        name: np.concatenate([getattr(one, name), getattr(other, name)])
        for name in one.__struct_fields__
        if isinstance(getattr(one, name), np.ndarray)
    }
    return msgspec.structs.replace(one, **both)


def some_gears(model: VehicleModel, drive: Drive, seed: int) -> tuple[GearTrace, GearTrace]:
    """An early and a late trace of gears picked by lot: not what a driver would do, but known."""
    g = np.random.default_rng(seed)
    traces = []
    for _ in range(2):
        gear = np.repeat(g.integers(0, len(model.gearing.turns_per_metre), len(drive) // 10 + 1), 10)[: len(drive)]
        turns = np.array(model.gearing.turns_per_metre)[gear] * drive.speed_mps
        standing = drive.speed_mps < 0.5
        traces.append(GearTrace(np.where(standing, -1, gear), np.maximum(turns, model.idle_rps)))
    return traces[0], traces[1]


def one_row(values: Mapping[str, np.ndarray], row: int) -> dict[str, float]:
    return {key: float(value[row]) for key, value in values.items()}


def indicated_power_w(
    model: VehicleModel,
    drive: Drive,
    p: Mapping[str, float],
    gears: tuple[GearTrace, GearTrace],
    i: int,
) -> float:
    """Indicated power of one sample as driven, from the functions of physics and nothing else, watt."""
    v, t = float(drive.speed_mps[i]), float(drive.elapsed_s[i])

    # wind: a factor, a clockwise turn, an offset
    east, north = float(drive.wind_east_mps[i]), float(drive.wind_north_mps[i])
    cos, sin = math.cos(p["wind_direction"]), math.sin(p["wind_direction"])
    real_east = p["wind_factor"] * (east * cos + north * sin) + p["wind_offset_east"]
    real_north = p["wind_factor"] * (north * cos - east * sin) + p["wind_offset_north"]
    heading = np.array(drive.heading_rad[i])
    head, cross = (float(x) for x in wind_in_vehicle_axes(np.array(real_east), np.array(real_north), heading))
    near = wind_in_vehicle_axes(np.array(east), np.array(north), heading)
    growth = p["yaw_growth"] * float(levelled_growth(yaw_angle_rad(np.array(v), *near)))
    density = float(drive.air_density_kgpm3[i]) * p["air_density"]
    drag = float(axial_drag_n(density, p["drag_area"], growth, v, head, cross))

    # gusts: their variance adds to the squares of the components
    speed_of_wind = math.hypot(east, north)
    share = float(near[0]) ** 2 / speed_of_wind**2 if speed_of_wind > 1e-6 else 0.5
    along, across = float(drive.turbulence_along_mps2[i]), float(drive.turbulence_across_mps2[i])
    sideways = across * share + along * (1 - share)
    drag += 0.5 * density * p["drag_area"] * p["turbulence"] * (along + across + (growth - 0.5) * sideways)

    grade = float(drive.grade[i])
    rolling = float(rolling_force_n(p["test_mass"], p["rolling_resistance"], grade))
    rolling *= float(temperature_factor(float(drive.temperature_k[i]), p["rolling_temperature"]))
    rolling *= float(pressure_factor(model.pressure_ratio, 1.0, 0.45)) * float(
        speed_factor(np.array(v), p["rolling_growth"])
    )
    rolling /= float(speed_factor(np.array(70 / 3.6), p["rolling_growth"]))  # the coefficient is meant for 70 km/h
    rolling *= 1 + p["tyre_warmup"] * math.exp(-t / p["tyre_time"])

    slope = p["test_mass"] * 9.80665 * math.sin(math.atan(grade))
    heavy = 0.12e3 * model.displacement_m3  # kg m2 per litre
    eta, mass = model.parameters["driveline_efficiency"].centre, model.parameters["test_mass"].centre
    turns = [(*model.gearing.turns_per_metre, 0.0)[trace.gear[i]] for trace in gears]
    turning = 1.04 + sum(eta * heavy * (2 * math.pi * z) ** 2 / mass for z in turns) / 2
    inertia = p["test_mass"] * turning * float(drive.acceleration_mps2[i])
    wheel = v * (drag + rolling + slope + inertia)

    running = float(drive.running[i])
    thick = 1 + p["cold_friction"] * math.exp(-t / p["cold_time"])
    pumping = p["pumping_mep"] if model.engine_class.pumping_mep_pa > 0 else 0.0
    thin = pumping * (1 + 0.7 * float(np.mean(drive.pressure_pa) - 1e5) / model.parameters["pumping_mep"].centre)
    cold_oil = math.exp(p["driveline_thickening"] * (293.15 - float(np.mean(drive.temperature_k))))
    losses = v * (1 + v / 25) * p["driveline_drag"] * cold_oil * thick + p["accessory_power"] * running
    for trace, weight in zip(gears, (1 - p["gear_habit"], p["gear_habit"]), strict=True):
        turns = float(trace.engine_rps[i]) * p["gearing_scale"]
        friction = friction_mean_pressure_pa(
            np.array(turns), p["friction_mep"], p["friction_slope"], model.friction_reference_rps
        )
        swept = float(swept_rate_m3ps(model.displacement_m3, turns, model.strokes))
        losses += weight * running * swept * (float(friction) * thick + thin)

    efficiency = min(p["driveline_efficiency"], 0.995)
    shaft = wheel / efficiency if wheel > 0 else wheel * efficiency
    full = p["full_load_scale"] * max(_full_load_w(model, float(t.engine_rps[i])) for t in gears)
    shaft = min(shaft, 1.3 * full) + 0.3 * max(min(shaft, 1.3 * full) - 0.8 * full, 0)
    floor = 0.0
    if not model.overrun_cut:
        friction = friction_mean_pressure_pa(
            np.array(model.idle_rps), p["friction_mep"], p["friction_slope"], model.friction_reference_rps
        )
        swept = float(swept_rate_m3ps(model.displacement_m3, model.idle_rps, model.strokes))
        floor = running * (swept * (float(friction) + thin) + p["accessory_power"])
    relief = 1 - pumping / model.engine_class.best_mep_pa
    return max(relief * shaft + losses, floor)


def _full_load_w(model: VehicleModel, engine_rps: float) -> float:
    curve = model.full_load
    if curve is None:
        return float(model.engine_class.best_mep_pa * swept_rate_m3ps(model.displacement_m3, engine_rps, model.strokes))
    return float(power_w(np.interp(engine_rps, curve.speed_rps, curve.torque_nm), engine_rps))


def fuel_energy_j(
    model: VehicleModel, drive: Drive, p: Mapping[str, float], gears: tuple[GearTrace, GearTrace], cold_time_s: float
) -> float:
    """Fuel energy times indicated efficiency of a whole drive, sample by sample, joule."""
    total = 0.0
    for i in range(len(drive)):
        rich = 1 + p["cold_enrichment"] * math.exp(-float(drive.elapsed_s[i]) / cold_time_s)
        power = indicated_power_w(model, drive, p, gears, i)
        total += float(willans_fuel_rate_kgps(power, 0.0, 1.0, 1.0)) * rich * float(drive.step_s[i])
    return total
