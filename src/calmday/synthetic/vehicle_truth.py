"""A random one-off vehicle as it truly is."""

from __future__ import annotations

import math
from typing import Literal

import msgspec
import numpy as np

from calmday.records.vehicle import Body
from calmday.synthetic.streams import chance, lognormal, normal, stream, uniform
from calmday.synthetic.truth_types import DriverTruth, FloatArray, VehicleTruth

Fuel = Literal["diesel", "petrol"]
InjectionTruth = Literal["direct", "indirect", "port", "carburettor"]
InductionTruth = Literal["natural", "turbocharged"]

_RADS = 2 * math.pi / 60


class BodyClass(msgspec.Struct, frozen=True):
    """What bodies of one kind are like: ranges of mass, area, size of engine; centre and spread of drag."""

    share: float
    mass_kg: tuple[float, float]
    area_m2: tuple[float, float]
    drag: tuple[float, float]
    yaw_growth: float
    height_m: float
    litres: tuple[float, float]


BODY_CLASSES: dict[Body, BodyClass] = {
    "saloon": BodyClass(0.16, (850, 1700), (1.85, 2.25), (0.36, 0.045), 3.3, 1.42, (1.1, 2.8)),
    "estate": BodyClass(0.10, (950, 1800), (1.9, 2.35), (0.38, 0.045), 3.6, 1.47, (1.2, 2.8)),
    "hatchback": BodyClass(0.12, (700, 1350), (1.7, 2.15), (0.37, 0.045), 3.5, 1.42, (0.8, 2.0)),
    "coupe": BodyClass(0.06, (800, 1500), (1.7, 2.0), (0.35, 0.04), 3.0, 1.30, (1.2, 3.0)),
    "roadster": BodyClass(0.10, (600, 1100), (1.3, 1.75), (0.50, 0.08), 2.6, 1.20, (0.7, 2.5)),
    "pickup": BodyClass(0.14, (1000, 2200), (2.0, 2.9), (0.47, 0.05), 4.0, 1.65, (1.5, 3.2)),
    "van": BodyClass(0.16, (1000, 2800), (2.4, 4.2), (0.43, 0.06), 4.5, 2.00, (1.3, 3.2)),
    "lorry": BodyClass(0.06, (2200, 3500), (3.8, 5.5), (0.68, 0.08), 4.6, 2.50, (2.2, 3.5)),
    "other": BodyClass(0.10, (600, 2500), (1.5, 3.5), (0.52, 0.10), 3.8, 1.60, (0.7, 3.2)),
}

_TYRES = {
    "small": ("155/80 R13", "165/70 R14", "175/65 R14", "185/60 R14", "5.60-15"),
    "middle": ("185/65 R15", "195/65 R15", "205/55 R16", "195/75 R16", "6.00-16"),
    "large": ("205/75 R16", "215/75 R16", "225/70 R15", "235/75 R15", "7.00-16"),
}


class Chosen(msgspec.Struct, frozen=True, kw_only=True):
    """What the builder chose, before the truth is drawn from it."""

    body: Body
    fuel: Fuel
    injection: InjectionTruth
    induction: InductionTruth
    litres: float
    mass_kg: float


class VehicleFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The true vehicle with what only the build sheet needs beside it. Lengths m, masses kg, speeds rad/s."""

    chosen: Chosen
    truth: VehicleTruth
    driver: DriverTruth
    area_m2: float
    drag_coefficient: float
    height_m: float
    width_m: float
    gear_ratios: tuple[float, ...]
    final_drive: float
    driveline_efficiency: float
    tyre: str
    circumference_m: float
    usual_pressure_kpa: float
    cylinders: int
    density_15: float
    top_speed_mps: float


def tyre_diameter(code: str) -> float:
    """Outer diameter [m] of a tyre size; sizes without aspect ratio are taken as 92 % high."""
    width, rim = (
        code.replace("-", " ").replace("R", " ").split()[0],
        code.replace("-", " ").replace("R", " ").split()[-1],
    )
    if "/" in width:
        section, aspect = width.split("/")
        return float(rim) * 0.0254 + 2 * float(section) / 1000 * float(aspect) / 100
    return (float(rim) + 2 * 0.92 * float(width)) * 0.0254


def _full_load(g: np.random.Generator, chosen: Chosen, governed: float) -> tuple[float, FloatArray]:
    diesel, turbo = chosen.fuel == "diesel", chosen.induction == "turbocharged"
    if diesel:
        low, high = (9.0, 10.5) if chosen.injection == "indirect" and turbo else (6.5, 7.6)
        if chosen.injection == "direct":
            low, high = (11.0, 14.5) if turbo else (7.0, 8.0)
    else:
        low, high = (8.2, 9.4) if chosen.injection == "carburettor" else (9.0, 10.6)
    peak = uniform(g, low, high) * 1e5 * chosen.litres * 1e-3 / (4 * math.pi)
    best = uniform(g, 0.48, 0.6) * governed
    omega = np.linspace(0.0, governed, 60)
    steep = uniform(g, 0.35, 0.6) * (1.5 if turbo else 1.0)
    below = 1 - steep * ((best - omega) / best) ** 2
    above = 1 - uniform(g, 0.16, 0.26) * ((omega - best) / (governed - best)) ** 2
    return governed / 59, peak * np.where(omega < best, below, above)


def _gears(g: np.random.Generator, chosen: Chosen, governed: float, circumference: float) -> tuple[list[float], float]:
    count = int(g.choice([3, 4, 5, 6], p=[0.08, 0.40, 0.40, 0.12]))
    share = uniform(g, 0.48, 0.66) if chosen.fuel == "diesel" else uniform(g, 0.40, 0.55)
    per_80 = share * governed * (1.06 if count < 5 else 0.94)
    overall = per_80 / (80 / 3.6 / circumference * 2 * math.pi)
    top = 1.0 if count <= 4 else round(uniform(g, 0.74, 0.88), 3)
    spread = uniform(g, *{3: (1.60, 1.85), 4: (1.45, 1.65), 5: (1.38, 1.52), 6: (1.28, 1.40)}[count])
    ratios = [top]
    for step in range(1, count):
        ratios.append(ratios[-1] * spread * (1 + 0.07 * (step - 1)))
    if count == 5:
        ratios[1] = 1.0 if ratios[1] > 0.95 else ratios[1]
    return [round(r, 3) for r in reversed(ratios)], round(overall / top, 3)


def _thermal_and_tyre(g: np.random.Generator, chosen: Chosen, rolling: float) -> dict[str, float]:
    warm_rise = uniform(g, 18, 30)
    cooling = chosen.mass_kg * 9.80665 * rolling * (80 / 3.6) / warm_rise
    litres = chosen.litres
    return {
        "tyre_temperature_slope": uniform(g, 0.008, 0.0115),
        "tyre_warm_c": 20 + warm_rise,
        "tyre_cooling": cooling,
        "tyre_capacity": cooling * uniform(g, 600, 1200),
        "coolant_capacity": (28 + 22 * litres) * 1e3 * uniform(g, 0.85, 1.15),
        "coolant_heat_share": uniform(g, 0.21, 0.27),
        "thermostat_c": uniform(g, 80, 90),
        "oil_capacity": (5 + 5.5 * litres) * 1e3,
        "gearbox_capacity": (8 + 0.009 * chosen.mass_kg) * 1e3,
        "gearbox_cooling": uniform(g, 5, 8),
    }


def _engine(g: np.random.Generator, chosen: Chosen, cylinders: int) -> dict[str, float | bool]:
    diesel, direct = chosen.fuel == "diesel", chosen.injection == "direct"
    carburettor = chosen.injection == "carburettor"
    turbo = chosen.induction == "turbocharged"
    best = {
        "direct": (0.456, 0.014),
        "indirect": (0.412, 0.014),
        "port": (0.388, 0.012),
        "carburettor": (0.356, 0.013),
    }
    efficiency, spread = best[chosen.injection]
    bore = (4 * chosen.litres * 1e-3 / cylinders / math.pi / uniform(g, 0.92, 1.12)) ** (1 / 3)
    stroke = chosen.litres * 1e-3 / cylinders * 4 / (math.pi * bore**2)
    constant = 75.0 if direct else uniform(g, 100, 135)
    return {
        "displacement_m3": chosen.litres * 1e-3,
        "stroke_m": stroke,
        "diesel": diesel,
        "friction_constant": constant,
        "friction_scale": lognormal(g, 0.85 if diesel else 0.92, 0.10),
        "hydrodynamic_share": uniform(g, 0.45, 0.65),
        "viscosity_power": uniform(g, 0.15, 0.23),
        "viscosity_b": uniform(g, 820, 940),
        "indicated_efficiency": normal(g, efficiency + (0.006 if turbo else 0.0), spread),
        "efficiency_speed_term": uniform(g, 0.05, 0.25),
        "high_load_loss": uniform(g, 0.03, 0.08) if diesel else 0.0,
        "light_load_loss": uniform(g, 0.0, 0.05),
        "pumping_pa": uniform(g, 0.30, 0.60) * 1e5 if not diesel else 0.0,
        "enrichment": uniform(g, 0.08, 0.18) if not diesel else 0.0,
        "cold_enrichment": uniform(g, 0.18, 0.4) if carburettor else (uniform(g, 0.08, 0.2) if not diesel else 0.0),
        "cold_efficiency_loss": uniform(g, 0.015, 0.045),
        "overrun_cut": not carburettor and (diesel or chance(g, 0.7)),
        "heating_value": normal(g, 42.8e6, 0.25e6) if diesel else normal(g, 43.2e6, 0.35e6),
        "density_exponent": 0.15 if turbo else (0.7 if diesel else 1.0),
        "accessory_w": uniform(g, 200, 550),
        "engine_inertia": 0.09 * chosen.litres**1.1 * (1.4 if diesel else 1.0),
    }


def random_vehicle(seed: int, chosen: Chosen, pressure_ratio: float, payload_kg: float) -> VehicleFacts:
    """Draw the whole truth of a vehicle from what its builder chose."""
    g = stream(seed, "vehicle")
    kind = BODY_CLASSES[chosen.body]
    diesel, litres = chosen.fuel == "diesel", chosen.litres
    cylinders = int(g.choice([2, 3]) if litres < 1.0 else (4 if litres > 1.5 or chance(g, 0.7) else 3))
    rated_rpm = uniform(g, 3000, 4600) if diesel else uniform(g, 4400, 6400)
    if diesel and litres > 2.4 and chance(g, 0.5):
        rated_rpm = uniform(g, 2500, 3200)
    governed = round(rated_rpm / 50) * 50 * _RADS
    size = "small" if chosen.mass_kg < 1000 else ("middle" if chosen.mass_kg < 1700 else "large")
    tyre = str(g.choice(_TYRES[size]))
    factor = 3.05 if "R" in tyre else 2.99
    circumference = factor * tyre_diameter(tyre) * normal(g, 1.0, 0.006)
    fullness = 0.25 + 0.75 * (chosen.mass_kg - kind.mass_kg[0]) / (kind.mass_kg[1] - kind.mass_kg[0])
    area = kind.area_m2[0] + (kind.area_m2[1] - kind.area_m2[0]) * min(max(uniform(g, -0.3, 0.3) + fullness, 0), 1)
    drag = max(normal(g, *kind.drag), 0.24)
    rolling = float(np.clip(lognormal(g, 0.0105 if "R" in tyre else 0.0140, 0.15), 0.0075, 0.019))
    ratios, final = _gears(g, chosen, governed, circumference)
    hypoid = (
        uniform(g, 0.935, 0.965) if chosen.body in ("pickup", "van", "lorry", "roadster") else uniform(g, 0.955, 0.98)
    )
    mesh = np.array([hypoid * (0.995 if r == 1.0 else 0.98) for r in ratios])
    step, torque = _full_load(g, chosen, governed)
    radius = circumference / (2 * math.pi)
    engine = _engine(g, chosen, cylinders)
    spin = uniform(g, 0.010, 0.022) * float(torque.max())
    idle = (uniform(g, 750, 950) if diesel else uniform(g, 800, 1000)) * _RADS
    closed = 1.1e-4 * litres * uniform(g, 0.8, 1.2)
    truth = VehicleTruth(
        mass_kg=chosen.mass_kg + payload_kg,
        drag_area_m2=area * drag,
        yaw_growth=lognormal(g, kind.yaw_growth, 0.25),
        yaw_limit_rad=math.radians(uniform(g, 20, 30)),
        rolling=rolling,
        rolling_speed2=uniform(g, 1.0e-4, 2.6e-4),
        pressure_ratio=pressure_ratio,
        pressure_exponent=uniform(g, 0.38, 0.5),
        wheel_radius_m=radius,
        wheel_inertia=4 * uniform(g, 0.8, 1.2) * (chosen.mass_kg / 1200) ** 0.8 * (radius / 0.3) ** 2,
        gear_ratio=np.array(ratios) * final,
        gear_efficiency=mesh,
        spin_torque=spin,
        spin_speed_term=uniform(g, 0.001, 0.003),
        spin_temperature_slope=uniform(g, 0.007, 0.015),
        best_speed=uniform(g, 0.42, 0.58) * governed,
        closed_throttle_kgps=0.0 if engine["overrun_cut"] else closed,
        idle_speed=idle,
        governed_speed=governed,
        full_load_step=step,
        full_load_torque=torque,
        fan_coefficient=uniform(g, 0.0, 3.0e-5) * litres,
        **_thermal_and_tyre(g, chosen, rolling),  # type: ignore[arg-type]
        **engine,  # type: ignore[arg-type]
    )
    driver = DriverTruth(
        lag_s=uniform(g, 2.0, 4.5),
        acceleration=uniform(g, 0.9, 1.6),
        braking=uniform(g, 0.8, 1.5),
        shift_time_s=uniform(g, 0.5, 1.1),
        upshift_easy=uniform(g, 0.50, 0.62) * governed,
        upshift_hard=uniform(g, 0.78, 0.92) * governed,
        downshift=max(uniform(g, 0.30, 0.38) * governed, 1.25 * idle),
        launch_speed=uniform(g, 1.5, 2.0) * idle,
    )
    height = kind.height_m * lognormal(g, 1.0, 0.05)
    return VehicleFacts(
        chosen=chosen,
        truth=truth,
        driver=driver,
        area_m2=area,
        drag_coefficient=drag,
        height_m=height,
        width_m=area / height / (0.84 if chosen.body not in ("van", "lorry") else 0.95),
        gear_ratios=tuple(ratios),
        final_drive=final,
        driveline_efficiency=float(mesh[-1]) - 0.025,
        tyre=tyre,
        circumference_m=circumference,
        usual_pressure_kpa=round(uniform(g, 200, 300) if size != "large" else uniform(g, 260, 420), -1),
        cylinders=cylinders,
        density_15=normal(g, 836, 6) if diesel else normal(g, 745, 8),
        top_speed_mps=top_speed(truth),
    )


def top_speed(truth: VehicleTruth) -> float:
    """Speed [m/s] the vehicle holds on the level in still air, in its best gear, all warm."""
    omega = np.arange(truth.full_load_torque.size) * truth.full_load_step
    best = 0.0
    for ratio, mesh in zip(truth.gear_ratio, truth.gear_efficiency, strict=True):
        speed = omega / ratio * truth.wheel_radius_m
        pull = (truth.full_load_torque - 1.5 * truth.spin_torque) * ratio * mesh / truth.wheel_radius_m
        growth = (1 + truth.rolling_speed2 * speed**2) / (1 + truth.rolling_speed2 * (80 / 3.6) ** 2)
        need = truth.mass_kg * 9.80665 * truth.rolling * growth + 0.6 * truth.drag_area_m2 * speed**2
        holds = speed[(pull > need) & (omega > truth.idle_speed)]
        best = max(best, float(holds.max(initial=0.0)))
    return best
