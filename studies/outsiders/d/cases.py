"""Cases: weighed runs, coastdowns, comparison sets. Each writes a folder with inputs and ``truth.json``."""
from __future__ import annotations
from dataclasses import dataclass
from datetime import datetime, timedelta
import json
import math
from pathlib import Path
import numpy as np
from .drive import DT, Style, Trace, gears_of, make_trace
from .physics import Conditions, Effects, penalties, rolling_coefficient, wheel_force
from .receiver import gpx, observe
from .roads import Road, make_road
from .vehicles import Vehicle, build_sheet, draw_vehicle
from .weather import Day, Site, draw_day, draw_site, metars, road_density, road_wind, roadside

Rng = np.random.Generator
WIND_A, WIND_B, WIND_MAX = 1.5, 0.95, 11.0     # regional 10 m wind = WIND_MAX * Beta(A, B): tuned to 6.6 % raw rms
COLD_SHARE = 0.50


@dataclass(frozen=True)
class Weighing:
    """The tester's scale and rig; same for all runs of one tester."""
    resolution_g: float; repeat_g: float; accuracy_percent: float; capacity_kg: float
    system_g: float; arrangement: str; gain: float; tare_g: float


def draw_scale(rng: Rng, expected_g: float) -> Weighing:
    res = float(rng.choice([1, 2, 5]))
    acc = float(rng.choice([0.05, 0.1, 0.2]))
    return Weighing(res, float(rng.choice([1, 2, 3]) if res < 5 else rng.choice([3, 4])), acc, 30.0, float(rng.choice([4, 6, 8, 10])),
                    str(rng.choice(["test can", "drained tank"], p=[.7, .3])), 1 + rng.uniform(-acc, acc) / 100, rng.uniform(700, 1800))


@dataclass(frozen=True)
class Route:
    road: Road; laps: int; site: Site; cruise: float; kind: str


def draw_route(rng: Rng, v: Vehicle) -> Route:
    kind = str(rng.choice(["steady loop", "mixed loop", "out and back", "hilly loop"], p=[.40, .22, .23, .15]))
    slow_v = v.body == "lorry" or v.max_power / v.mass < 27
    cruise = rng.uniform(55, 78) / 3.6 if slow_v else rng.uniform(60, 95) / 3.6
    minutes = rng.uniform(20, 47)
    factor = {"steady loop": .90, "mixed loop": .74, "out and back": .90, "hilly loop": .85}[kind]
    length = float(np.clip(minutes * 60 * cruise * factor, 15e3, 58e3))
    base = float(rng.choice([rng.uniform(20, 150), rng.uniform(100, 450)]))
    g = {"steady loop": rng.uniform(.003, .011), "mixed loop": rng.uniform(.003, .013), "out and back": rng.uniform(.003, .014),
         "hilly loop": rng.uniform(.016, .028)}[kind]
    if kind == "out and back":
        laps = 1 if length < 36e3 else int(rng.choice([1, 2]))
        road = make_road(rng, "out_and_back", length / laps, g, int(rng.integers(0, 4)), int(rng.integers(0, 3)), base)
    else:
        laps = int(np.clip(round(length / rng.uniform(7e3, 16e3)), 1, 5))
        ns, nst = (int(rng.integers(1, 4)), 1) if kind == "steady loop" else (int(rng.integers(3, 8)), int(rng.integers(3, 8)))
        road = make_road(rng, "loop", length / laps, g, ns, nst, base)
    return Route(road, laps, draw_site(rng, float(road.z.mean())), cruise, kind)


def draw_style(rng: Rng, v: Vehicle, cruise: float, mixed: bool) -> Style:
    up = rng.uniform(1350, 1700) if v.fuel == "diesel" else rng.uniform(1600, 2100)
    return Style(cruise, rng.uniform(2.0, 3.0), rng.uniform(0.8, 1.4), rng.uniform(0.9, 1.6), rng.uniform(0.012, 0.030),
                 rng.uniform(.5, .9) if mixed else rng.uniform(.2, .5), up)


@dataclass(frozen=True)
class Driven:
    tr: Trace; gear: np.ndarray; cond: Conditions; mass: float
    fuel_kg: float; calm_kg: float; pen: dict[str, float]; day: Day; pressure_kpa: float; cold: bool


def drive_once(rng: Rng, v: Vehicle, r: Route, st: Style, u10: float, start: datetime, cold: bool, payload: float = 0.0,
               t_range: tuple[float, float] = (0.5, 27.5)) -> Driven:
    head = 0.3 * u10
    tr = make_trace(rng, v, r.road, r.laps, st, head)
    day = draw_day(rng, u10, start, float(tr.t[-1]), t_range=t_range)
    we, wn = road_wind(day, r.site, v.height, tr.t, tr.v, tr.shelter, rng)
    rho, _ = road_density(day, r.site)
    pressure = round(v.pressure_kpa * (1 + rng.normal(0, 0.02)) / 5) * 5.0
    cond = Conditions(we, wn, rho, day.t_c, max(0.0, (88 - day.t_c) / 70.0) if cold else 0.0,
                      1.0 if cold else rng.uniform(0.0, 0.15), (pressure + rng.normal(0, 3)) / v.pressure_kpa)
    mass = v.mass + payload
    f = wheel_force(v, tr, cond, Effects(), mass)
    gear = gears_of(v, tr, st, (f["air"] + f["roll"] + f["grade"] + f["inertia"]) * tr.v)
    full, calm, pen = penalties(v, tr, gear, cond, mass)
    return Driven(tr, gear, cond, mass, full, calm, pen, day, pressure, cold)


def write_run(folder: Path, rng: Rng, v: Vehicle, r: Route, d: Driven, w: Weighing, tz: int, vehicle_path: str, label: str,
              flavour: str, use_roadside: bool, rho_known: bool, payload: float = 0.0) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    i = np.arange(0, d.tr.t.size, int(round(1 / DT)))
    tr = d.tr
    ground = tr.v * np.cos(np.arctan(tr.grade))
    fx = observe(rng, tr.t[i], tr.lat[i], tr.lon[i], tr.z[i], tr.heading[i], ground[i])
    (folder / "track.gpx").write_text(gpx(fx, d.day.start_utc, flavour))
    # weighing: conventional weight in air, scale gain, repeatability, resolution; fuel hiding in the system
    rho_f = v.rho15 * (1 - (8.4e-4 if v.fuel == "diesel" else 12.2e-4) * (d.day.t_c - 15))
    buoy = (1 - d.cond.rho / rho_f) / (1 - d.cond.rho / 8000.0)
    burnt = d.fuel_kg * 1000
    taken = burnt + rng.normal(0, w.system_g)
    start_g = max(burnt * rng.uniform(1.3, 2.2), burnt + 800)
    read = lambda g: round((g * w.gain + rng.normal(0, w.repeat_g)) / w.resolution_g) * w.resolution_g
    can = w.tare_g
    tare = read(can) / 1000
    n1, n2 = int(rng.integers(1, 4)), int(rng.integers(1, 4))
    g1 = [read(can + start_g * buoy) / 1000 for _ in range(n1)]
    g2 = [read(can + (start_g - taken) * buoy) / 1000 for _ in range(n2)]
    fmt = lambda xs: "[" + ", ".join(f'"{x:.3f} kg"' for x in xs) + "]"
    local = d.day.start_utc + timedelta(hours=tz)
    L = [f'vehicle = "{vehicle_path}"', f'label = "{label}"', f"date = {local:%Y-%m-%d}", f'timezone = "{tz:+03d}:00"',
         'track = ["track.gpx"]', f'engine_start = "{"cold" if d.cold else "warm"}"', f'payload = "{payload:.0f} kg"',
         f'tyre_pressure = "{d.pressure_kpa:.0f} kPa"', f'terrain = "{r.site.terrain}"', "", "[fuel]", f'kind = "{v.fuel}"']
    if rho_known:
        L += [f'density = "{v.rho15 + rng.normal(0, 1.0):.0f} kg/m^3"', 'density_temperature = "15 degC"']
    L += ["", "[fuel_system]", f'arrangement = "{w.arrangement}"', f'repeatability = "{w.system_g:.0f} g"', "", "[scale]",
          f'resolution = "{w.resolution_g:.0f} g"', f'repeatability = "{w.repeat_g:.0f} g"', f'accuracy = "{w.accuracy_percent} %"',
          f'capacity = "{w.capacity_kg:.0f} kg"', "", "[[weighing]]", 'when = "before"', f"gross = {fmt(g1)}", f'tare = "{tare:.3f} kg"',
          "", "[[weighing]]", 'when = "after"', f"gross = {fmt(g2)}", f'tare = "{tare:.3f} kg"', "", "[weather]"]
    if use_roadside:
        L += [roadside(d.day, r.site, rng, tz)]
    else:
        m = ",\n  ".join(json.dumps(x) for x in metars(d.day, r.site, rng))
        L += [f"metar = [\n  {m},\n]", f'field_elevation = "{r.site.station_elev:.0f} m"']
    (folder / "run.toml").write_text("\n".join(L) + "\n")


def run_truth(v: Vehicle, r: Route, d: Driven) -> dict[str, object]:
    t = d.tr
    return {
        "distance_m": float(t.s[-1]), "fuel_g": d.fuel_kg * 1e3, "calm_day_fuel_g": d.calm_kg * 1e3,
        "penalties_percent": d.pen, "raw_error_percent": 100 * (d.fuel_kg / d.calm_kg - 1),
        "drag_area_m2": v.cda, "rolling_coefficient": v.crr,
        "rolling_definition": "20 degC, warm, usual pressure, speed towards zero; C(V) = this * (1 + rolling_speed*(V/100 km/h)^2); tyres only",
        "rolling_speed": v.crr_speed, "rolling_coefficient_at_80_kmh": float(rolling_coefficient(v, 80 / 3.6, 20.0)),
        "yaw_k_per_rad2": v.yaw_k, "mass_kg": d.mass, "driveline_efficiency": v.eta, "driveline_drag_n": v.spin_n,
        "indicated_efficiency": v.e_i, "lhv_MJ_per_kg": v.lhv / 1e6, "fuel_density_15": v.rho15,
        "wind_road_10m_mps": d.day.u10, "wind_road_from_deg": math.degrees(d.day.direction) % 360,
        "wind_station_10m_mps": d.day.st_u10, "wind_at_vehicle_mean_mps": float(np.mean(np.hypot(d.cond.wind_e, d.cond.wind_n))),
        "air_density": d.cond.rho, "temperature_C": d.day.t_c, "cold_start": d.cold, "route": r.kind, "laps": r.laps,
        "minutes": float(t.t[-1] / 60), "mean_speed_kmh": float(t.s[-1] / t.t[-1] * 3.6), "terrain": r.site.terrain,
        "method": "calm day = same trace, gears, route, pressure and mass in still air 20 degC 100 kPa 50 % RH, engine and tyres warm",
    }


def _start(rng: Rng, day_offset: int = 0, base: datetime | None = None) -> tuple[datetime, int]:
    tz = int(rng.choice([1, 2]))
    b = base or datetime(2026, 3, 1) + timedelta(days=int(rng.integers(0, 240)))
    return b + timedelta(days=day_offset, hours=int(rng.integers(7, 16)), minutes=int(rng.integers(0, 60)), seconds=int(rng.integers(0, 60))), tz


def _flavour(rng: Rng) -> str:
    return str(rng.choice(["1.1", "1.0", "1.1-plain"], p=[.48, .37, .15]))


def make_run(seed: int, out: Path | None) -> dict[str, object]:
    rng = np.random.default_rng([4101, seed])
    v = draw_vehicle(rng)
    r = draw_route(rng, v)
    st = draw_style(rng, v, r.cruise, r.kind == "mixed loop")
    u10 = WIND_MAX * rng.beta(WIND_A, WIND_B)
    start, tz = _start(rng)
    cold = bool(rng.random() < COLD_SHARE)
    payload = float(rng.choice([0, 0, 0, 80, 150]))
    d = drive_once(rng, v, r, st, u10, start, cold, payload)
    truth = run_truth(v, r, d)
    if out is not None:
        folder = out / f"{seed}"
        folder.mkdir(parents=True, exist_ok=True)
        sh = build_sheet(v, rng)
        (folder / "vehicle.toml").write_text(sh.toml)
        (folder / "full_load.csv").write_text(sh.full_load_csv)
        write_run(folder, rng, v, r, d, draw_scale(rng, d.fuel_kg * 1e3), tz, "vehicle.toml", f"{v.name}, {r.kind}, {r.laps} x",
                  _flavour(rng), bool(rng.random() < 0.15), bool(rng.random() < 0.5), payload)
        (folder / "truth.json").write_text(json.dumps(truth, indent=1))
    return truth
