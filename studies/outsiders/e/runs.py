"""Weighed runs: truth, weighing, files."""
from __future__ import annotations

import itertools
import json
import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
from numpy.random import Generator

from . import air, physics, weather
from .driver import Style, drive
from .physics import Conditions, Trace
from .receiver import gpx, record
from .route import Route, draw_route
from .vehicle import Vehicle, draw_vehicle, write_vehicle

EFFECTS = ("wind", "air_density", "cold_engine", "cold_tyres")


@dataclass(frozen=True)
class Setting:
    """What the tester chooses for a run."""
    route: Route
    style: Style
    mast_wind: float
    temperature_c: float
    terrain: str
    z0_m: float
    cold: bool
    payload_kg: float
    start_utc: datetime
    offset_h: int
    roadside: bool
    shelter_seed: int
    elevation: float


@dataclass(frozen=True)
class Outcome:
    trace: Trace
    day: weather.Day
    fuel_g: float
    calm_g: float
    penalties: dict[str, float]
    one_at_a_time: dict[str, float]
    mass_kg: float
    pressure_kpa: float
    wind_vehicle: float
    energy: dict[str, float]


def draw_setting(rng: Generator, veh: Vehicle) -> Setting:
    style_name = str(rng.choice(["loop", "mixed", "hilly", "out_and_back"], p=[.36, .26, .16, .22]))
    cap = {"lorry": 82, "van": 105, "roadster": 105}.get(veh.body, 115) / 3.6
    minutes = rng.uniform(21, 52)
    mean_kmh = {"loop": 74, "mixed": 50, "hilly": 60, "out_and_back": 74}[style_name]
    route = draw_route(rng, style_name, float(np.clip(minutes / 60 * mean_kmh * 1000, 15_500, 59_000)), cap)
    terrain = str(rng.choice(["open", "farmland", "hedged", "suburban"], p=[.22, .48, .22, .08]))
    temp = float(np.clip(rng.normal(15.5, 6.5), -2, 31))
    start = datetime(2026, 1, 1, tzinfo=timezone.utc) + timedelta(days=int(rng.integers(10, 300)), minutes=int(rng.integers(8 * 60, 17 * 60)))
    return Setting(route, Style.draw(rng, veh.fuel), 11 * rng.beta(1.1, 1.45), temp, terrain,
                   air.TERRAIN_Z0_M[terrain] * float(np.exp(rng.normal(0, .35))), bool(rng.random() < .42),
                   float(rng.choice([0, 0, 0, 50, 100])), start, int(rng.choice([0, 1, 2])), bool(rng.random() < .22),
                   int(rng.integers(1 << 31)), float(route.z.mean()))


def simulate(veh: Vehicle, st: Setting, rng: Generator) -> Outcome:
    """Drive the day; then the same trace on the calm day, and each effect switched."""
    day = weather.draw_day(rng, st.start_utc, st.mast_wind, st.elevation, st.terrain, st.z0_m, st.temperature_c)
    mass = veh.mass_kg + st.payload_kg + rng.normal(0, 6)                 # fuel level, clothes, tools on the day
    kpa = veh.tyre_kpa * rng.normal(1, .015)
    accessory = veh.accessory_w * float(np.clip(rng.normal(1, .10), .7, 1.4))
    f_mean = air.profile_factor(veh.aero_height_m, st.z0_m)
    tr = drive(veh, st.route, st.style, mass, .5 * f_mean * st.mast_wind, rng)
    we, wn = weather.wind_at_vehicle(day, tr, st.route, veh.aero_height_m, rng, st.shelter_seed)
    ta = st.temperature_c
    tyre0 = ta + rng.normal(0, 1) if st.cold else ta + rng.uniform(12, 24)
    tyre_day = physics.tyre_temperature(veh, tr, ta, tyre0)
    tyre_calm = physics.tyre_temperature(veh, tr, air.REF_TEMPERATURE_C, None)
    ref = {"wind": (0.0, 0.0), "air_density": air.RHO_REF,
           "cold_engine": (physics.WARM_OIL_C, physics.WARM_COOLANT_C, air.REF_TEMPERATURE_C + physics.WARM_GEAR_RISE_C),
           "cold_tyres": tyre_calm}
    first = fuel_under(veh, tr, mass, kpa, accessory, {**ref, "wind": (we, wn), "air_density": day.rho, "cold_tyres": tyre_day})
    c0, o0, g0 = (ta, ta, ta) if st.cold else (rng.uniform(80, 88), rng.uniform(76, 88), ta + rng.uniform(22, 38))
    tc, to, tg = physics.warm_up(veh, tr.dt, first * (1.12 if st.cold else 1), ta, c0, o0, g0)
    driven = {"wind": (we, wn), "air_density": day.rho, "cold_engine": (to, tc, tg), "cold_tyres": tyre_day}
    total: dict[frozenset, float] = {}
    for r in range(5):
        for on in itertools.combinations(EFFECTS, r):
            mix = {k: driven[k] if k in on else ref[k] for k in EFFECTS}
            total[frozenset(on)] = float(fuel_under(veh, tr, mass, kpa, accessory, mix).sum() * tr.dt)
    calm, full = total[frozenset()], total[frozenset(EFFECTS)]
    shares = {}
    for e in EFFECTS:                        # mean over all orders of switching: adds up exactly
        rest = [x for x in EFFECTS if x != e]
        val = 0.0
        for r in range(4):
            for on in itertools.combinations(rest, r):
                wgt = math.factorial(r) * math.factorial(3 - r) / math.factorial(4)
                val += wgt * (total[frozenset(on) | {e}] - total[frozenset(on)])
        shares[e] = 100 * val / calm
    alone = {e: 100 * (total[frozenset({e})] - calm) / calm for e in EFFECTS}
    forces = physics.wheel_force(veh, tr, conditions(driven), mass, kpa)
    energy = {k: float(np.sum(f * tr.v) * tr.dt) for k, f in forces.items()}
    return Outcome(tr, day, full, calm, shares, alone, mass, kpa, float(np.mean(np.hypot(we, wn))), energy)


def conditions(mix: dict) -> Conditions:
    return Conditions(*mix["wind"], mix["air_density"], *mix["cold_engine"], mix["cold_tyres"])


def fuel_under(veh: Vehicle, tr: Trace, mass: float, kpa: float, accessory: float, mix: dict) -> np.ndarray:
    return physics.fuel(veh, tr, conditions(mix), mass, kpa, accessory)


def weighings(rng: Generator, fuel_g: float, density15: float, rho_air: float) -> tuple[dict, list[dict], float]:
    """Scale and fuel system as the tester declares them, and readings with their errors."""
    resolution = float(rng.choice([1, 2, 5, 5, 10]))
    repeat = max(1.0, round(resolution * rng.uniform(.5, 1.0)))
    accuracy = float(rng.choice([.05, .1, .1, .2]))
    system = float(rng.choice([4, 6, 8, 12]))
    span = 1 + rng.uniform(-accuracy, accuracy) / 100
    tare = rng.uniform(800, 2200)
    start = fuel_g * rng.uniform(1.25, 1.9) + 600
    end = start - fuel_g - rng.normal(0, system)          # hides in or drains from the lines
    buoy = (1 - rho_air / density15) / (1 - rho_air / 8000.0)

    def read(g: float) -> float:
        return resolution * round((g * span + rng.normal(0, repeat)) / resolution)
    out = []
    for when, g in (("before", start), ("after", end)):
        out.append({"when": when, "gross": [read(g * buoy + tare) for _ in range(int(rng.integers(1, 4)))], "tare": read(tare)})
    return {"resolution": resolution, "repeatability": repeat, "accuracy": accuracy, "system": system}, out, start + tare


def write_run(folder: Path, veh: Vehicle, st: Setting, o: Outcome, rng: Generator, vehicle_path: str, label: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    t = np.arange(len(o.trace.v)) * o.trace.dt
    fix = record(t, o.trace.s, o.trace.v, o.trace.grade, st.route, rng)
    form = str(rng.choice(["1.0", "1.1+speed", "1.1"], p=[.45, .37, .18]))
    (folder / "track.gpx").write_text(gpx(fix, st.start_utc, form))
    scale, weigh, heavy = weighings(rng, o.fuel_g, veh.fuel_density15, o.day.rho)
    local = st.start_utc + timedelta(hours=st.offset_h)
    density = veh.fuel_density15 + rng.normal(0, 1.5)
    L = [f'vehicle = "{vehicle_path}"', f'label = "{label}"', f"date = {local:%Y-%m-%d}", f'timezone = "+{st.offset_h:02d}:00"',
         'track = ["track.gpx"]', f'engine_start = "{"cold" if st.cold else "warm"}"', f'payload = "{st.payload_kg:.0f} kg"',
         f'tyre_pressure = "{5 * round(o.pressure_kpa / 5):.0f} kPa"', f'terrain = "{st.terrain}"', "", "[fuel]", f'kind = "{veh.fuel}"']
    if rng.random() < .6:
        L += [f'density = "{density:.0f} kg/m^3"', 'density_temperature = "15 degC"']
    L += ["", "[fuel_system]", f'arrangement = "{rng.choice(["test can", "drained tank"])}"', f'repeatability = "{scale["system"]:.0f} g"',
          "", "[scale]", f'resolution = "{scale["resolution"]:.0f} g"', f'repeatability = "{scale["repeatability"]:.0f} g"',
          f'accuracy = "{scale["accuracy"]} %"', f'capacity = "{15 if heavy < 14_000 else 30} kg"']
    for w in weigh:
        L += ["", "[[weighing]]", f'when = "{w["when"]}"', "gross = [" + ", ".join(f'"{g / 1000:.3f} kg"' for g in w["gross"]) + "]",
              f'tare = "{w["tare"] / 1000:.3f} kg"']
    reports = weather.metars(o.day, t[-1], rng)
    L += ["", "[weather]"]
    only_roadside = st.roadside and rng.random() < .5
    if not only_roadside:
        L += ["metar = [" + ", ".join(f'"{m}"' for m in reports) + "]", f'field_elevation = "{o.day.station_elevation_m:.0f} m"']
    if st.roadside:
        w = weather.road_wind_10m(o.day)
        h = float(rng.choice([2.0, 2.0, 3.0]))
        k = air.profile_factor(h, st.z0_m)
        for minute in sorted({-3, int(t[-1] / 120), int(t[-1] / 60) + 2}):
            e, n = k * w[60 + minute]
            speed = math.hypot(e, n) * rng.normal(1, .12)
            frm = 10 * round((math.degrees(math.atan2(-e, -n)) + rng.normal(0, 8)) % 360 / 10) % 360
            L += ["", "[[weather.reading]]", f"time = {local + timedelta(minutes=minute):%Y-%m-%dT%H:%M:00}",
                  f'wind_speed = "{max(speed, 0):.1f} m/s"', f'wind_from = "{frm} deg"', f'height = "{h:.0f} m"',
                  f'temperature = "{st.temperature_c + rng.normal(0, .7):.1f} degC"',
                  f'pressure = "{o.day.road_pressure_pa / 100 + rng.normal(0, 1):.0f} hPa"',
                  f'relative_humidity = "{100 * o.day.rh + rng.normal(0, 4):.0f} %"']
    (folder / "run.toml").write_text("\n".join(L) + "\n")
    truth = {"distance_m": float(o.trace.s[-1]), "fuel_g": o.fuel_g, "calm_day_fuel_g": o.calm_g,
             "raw_error_percent": 100 * (o.fuel_g / o.calm_g - 1), "penalties_percent": o.penalties,
             "penalties_definition": "mean over all orders of switching the four effects; adds up to raw_error_percent; gearbox oil with cold_engine, ambient effect on tyres with cold_tyres, density effect on throttling with air_density",
             "penalties_one_at_a_time_percent": o.one_at_a_time, "drag_area_m2": veh.cda, "yaw_growth_per_rad2": veh.yaw_k,
             "rolling_coefficient_tyres_at_80_kmh": float(physics.tyre_coefficient(veh, 22.22, 45.0, veh.tyre_kpa)),
             "rolling_coefficient_tyres_at_0_kmh": veh.crr0, "mass_kg": o.mass_kg, "tyre_pressure_kpa": o.pressure_kpa,
             "wind_mast_mps": st.mast_wind, "wind_vehicle_mps": o.wind_vehicle, "temperature_c": st.temperature_c,
             "air_density": o.day.rho, "engine": veh.engine_sort, "route": st.route.kind, "laps": st.route.repeats, "gpx": form,
             "duration_s": float(t[-1]), "energy_j": o.energy, "fuel_energy_j": o.fuel_g * veh.lhv_j_per_g,
             "road_factor": o.day.road_scale, "z0_m": st.z0_m}
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))


def make_run(seed: int, out: Path) -> None:
    rng = np.random.default_rng([101, seed])
    while True:                                # only drives of 15 to 60 km and 20 to 60 minutes
        veh = draw_vehicle(rng)
        st = draw_setting(rng, veh)
        tr = drive(veh, st.route, st.style, veh.mass_kg, 0.0, rng)
        if 15e3 <= tr.s[-1] <= 60e3 and 20.5 * 60 <= len(tr.v) * tr.dt <= 59 * 60:
            break
    o = simulate(veh, st, rng)
    folder = out / f"{seed:03d}"
    folder.mkdir(parents=True, exist_ok=True)
    write_vehicle(veh, folder, f"{veh.body} {seed}", rng)
    write_run(folder, veh, st, o, rng, "vehicle.toml", f"{st.route.kind.replace('_', ' ')}, run {seed}")
