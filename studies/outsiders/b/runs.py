"""Weighed runs: one folder per case."""
from __future__ import annotations
import json, math
from dataclasses import asdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
import numpy as np
from . import air, drive, receiver, weather
from .drive import Conditions, Day, Driver, Trace
from .road import Road, draw_road
from .vehicle import Vehicle, build_sheet, draw_vehicle

NAMES_A = ["Fen", "Moss", "Tarn", "Alder", "Quill", "Brock", "Sorrel", "Heron", "Larch", "Ember", "Pike", "Wold", "Cairn", "Dune"]
NAMES_B = ["Hauler", "Runner", "Special", "Carrier", "Drifter", "Wagon", "Pony", "Barrow", "Lark", "Mule"]
WIND_EXPONENT = 1.08     # u10 = 11 * U^x; tuned so that the raw reading is off by about 6.6 % rms over 200 cases


def draw_day(rng: np.random.Generator, u10: float | None = None, terrain: str | None = None, elevation: float | None = None) -> Day:
    """Temperate climate, all seasons (assumed)."""
    u = 11.0 * float(rng.uniform()) ** WIND_EXPONENT if u10 is None else u10
    t = terrain or str(rng.choice(["open", "farmland", "hedged", "suburban"], p=[0.22, 0.48, 0.22, 0.08]))
    el = float(rng.choice([rng.uniform(5, 120), rng.uniform(120, 600)], p=[0.7, 0.3])) if elevation is None else elevation
    return Day(u10=u, wind_from=float(rng.uniform(0, 360)), temp=float(np.clip(rng.normal(12.5, 7.5), -2, 31)), qnh=float(rng.normal(1014, 8)) * 100,
               rh=float(rng.uniform(0.4, 0.92)), elevation=el, terrain=t,
               channel=float(rng.uniform(0, 0.08) if t in ("open", "farmland") else rng.uniform(0.05, 0.25)), gust_scale=float(rng.uniform(0.8, 1.15)))


def draw_driver(rng: np.random.Generator, body: str) -> Driver:
    kmh = rng.uniform(60, 76) if body == "lorry" else rng.uniform(62, 94)
    mixed = rng.uniform() < 0.35
    return Driver(cruise=kmh / 3.6, lateral=rng.uniform(1.6, 3.0), accel=rng.uniform(0.9, 1.7), decel=rng.uniform(0.9, 1.5), wander=rng.uniform(0.3, 0.9),
                  stops_per_10km=rng.uniform(2, 7) if mixed else rng.uniform(0, 1.0), idle_start=float(round(rng.uniform(8, 60))), idle_end=float(round(rng.uniform(4, 25))))


def conditions(veh: Vehicle, day: Day, start: str, rng: np.random.Generator, p_rel: float) -> Conditions:
    """cold: soaked at air temperature; warm: within 8 K of warm and tyres 75-100 % of their rise."""
    cold = start == "cold"
    return Conditions(wind=True, rho=air.air_density(day.temp, day.pressure, day.rh), p_amb=day.pressure, cold_engine=True, cold_tyres=True, t_amb=day.temp,
                      engine_deficit=(veh.t_warm - day.temp) if cold else float(rng.uniform(0, 8)), theta0_rel=0.0 if cold else float(rng.uniform(0.75, 1.0)),
                      pressure_rel=p_rel, roll_day=1.0 + 0.012 * float(rng.standard_normal()), acc_day=float(rng.normal(0, 50)))


def observe(tr: Trace, day: Day, rng: np.random.Generator) -> dict[str, np.ndarray]:
    cosg = 1 / np.sqrt(1 + tr.grade ** 2)
    return receiver.observe(tr.east, tr.north, tr.height + day.elevation, tr.v * cosg, rng, drive.DT)


def weighings(fuel: float, veh: Vehicle, day: Day, rng: np.random.Generator, kit: np.random.Generator | None = None
              ) -> tuple[list[str], float]:
    """TOML lines of [fuel_system], [scale], [[weighing]]; and the start load. True mass -> buoyancy -> span error -> noise -> division.
    kit: draws the scale and the container (the same seed for every run of a set)."""
    kit = kit or rng
    res = float(kit.choice([1, 2, 5])) * 1e-3; rep = float(kit.choice([2, 3, 4, 5])) * 1e-3; acc = float(kit.choice([0.05, 0.1, 0.1, 0.2]))
    hide = float(kit.choice([5, 8, 10, 12])) * 1e-3
    span = kit.uniform(-acc, acc) / 100
    rho_a = air.air_density(day.temp, day.pressure, day.rh)
    tare = float(kit.uniform(0.7, 1.6)); load = fuel + float(rng.uniform(0.8, 3.0)); cap = 10 if load + tare < 9.5 else 20 if load + tare < 19 else 40
    rf = veh.rho15 - 0.85 * (day.temp - 15)

    def read(fuel_mass: float) -> str:
        m = fuel_mass * (1 - rho_a / rf) / (1 - rho_a / 8000) + tare * (1 - rho_a / 2700) / (1 - rho_a / 8000)
        x = m * (1 + span) + rep * rng.standard_normal()
        return f"{round(x / res) * res:.3f} kg"
    left = load - fuel + hide * float(rng.standard_normal())
    k1, k2 = int(rng.integers(1, 4)), int(rng.integers(1, 4))
    q = lambda xs: "[" + ", ".join(f'"{x}"' for x in xs) + "]"
    L = ["[fuel_system]", f'arrangement = "{kit.choice(["drained tank", "test can"])}"', f'repeatability = "{hide * 1e3:.0f} g"', "[scale]",
         f'resolution = "{res * 1e3:.0f} g"', f'repeatability = "{rep * 1e3:.0f} g"', f'accuracy = "{acc:g} %"', f'capacity = "{cap} kg"']
    tr_ = read(0.0)
    for when, amount, k in (("before", load, k1), ("after", left, k2)):
        L += ["[[weighing]]", f'when = "{when}"', f"gross = {q([read(amount) for _ in range(k)])}", f'tare = "{tr_}"']
    return L, load


def run_toml(veh: Vehicle, day: Day, tr: Trace, start: str, payload: float, p_rel: float, fuel: float, label: str, when: datetime, tz: int,
             rng: np.random.Generator, vehicle_path: str, source: str, station_z: float, icao: str,
             kit: np.random.Generator | None = None) -> str:
    """run.toml. `when` is local start time of the track."""
    utc = when - timedelta(hours=tz)
    L = [f'vehicle = "{vehicle_path}"', f'label = "{label}"', f"date = {when:%Y-%m-%d}", f'timezone = "{"+" if tz >= 0 else "-"}{abs(tz):02d}:00"',
         'track = ["track.gpx"]', f'engine_start = "{start}"', f'payload = "{payload:.0f} kg"', f'tyre_pressure = "{veh.pressure * p_rel / 1e3:.0f} kPa"',
         f'terrain = "{day.terrain}"', "[fuel]", f'kind = "{veh.fuel}"']
    kit = kit or rng
    if kit.uniform() < 0.5: L += [f'density = "{veh.rho15 + kit.normal(0, 1.5):.0f} kg/m^3"', 'density_temperature = "15 degC"']
    w, _ = weighings(fuel, veh, day, rng, kit); L += w
    L += ["[weather]"]
    if source in ("metar", "both"):
        ml = weather.metar_lines(day, tr.regional, drive.DT, utc, rng, icao, station_z)
        L += ["metar = [" + ", ".join(f'"{m}"' for m in ml) + "]", f'field_elevation = "{station_z:.0f} m"']
    if source in ("roadside", "both"): L += weather.readings(day, tr.regional, drive.DT, when, rng, int(rng.integers(2, 4)))
    return "\n".join(L) + "\n"


def truth_dict(veh: Vehicle, day: Day, drv: Driver, road: Road, tr: Trace, red: dict[str, Any], c: Conditions, start: str) -> dict[str, Any]:
    v = np.array([50 / 3.6])
    c50 = float(veh.crr_at(v, 20.0, np.array([veh.tyre_rise]), 1.0)[0])
    return {"distance_m": tr.distance, "fuel_g": red["fuel"] * 1e3, "calm_day_fuel_g": red["calm"] * 1e3, "penalties_percent": red["penalties"],
            "raw_error_percent": red["raw"], "drag_area_m2": veh.cda, "rolling_resistance": c50,
            "definitions": "drag_area at zero yaw; rolling_resistance: tyres only, at 50 km/h, warm (as at 80 km/h), 20 degC, usual pressure; distance along the road (3-D); "
                           "penalties: mean of switching off in the order wind, air_density, cold_engine, cold_tyres and in the reverse order, percent of the calm-day fuel; "
                           "cold_tyres includes the effect of air temperature on rolling; cold_engine includes cold driveline oil",
            "u10_ms": day.u10, "wind_from_deg": day.wind_from, "temperature_C": day.temp, "engine_start": start, "duration_s": len(tr.v) * drive.DT,
            "moving_time_s": float((tr.v > 0).sum() * drive.DT), "road": road.kind, "laps": road.laps, "terrain": day.terrain,
            "ledger": red["ledger"], "vehicle": asdict(veh), "day": asdict(day), "driver": asdict(drv), "conditions": asdict(c)}


def make(seed: int, out: Path) -> dict[str, Any]:
    """Write one weighed run; returns its truth."""
    rng = np.random.default_rng([71, seed])
    veh = draw_vehicle(rng); day = draw_day(rng); drv = draw_driver(rng, veh.body)
    payload = float(rng.choice([0, 0, 0, 60, 80, 150])); start = "cold" if rng.uniform() < 0.35 else "warm"
    p_rel = float(np.clip(rng.normal(0.99, 0.03), 0.9, 1.08))
    kind = "loop" if rng.uniform() < 0.62 else "out-and-back"
    hill = float(rng.choice([rng.uniform(.003, .009), rng.uniform(.009, .018), rng.uniform(.018, .03)], p=[.45, .37, .18]))
    for _ in range(30):
        total = rng.uniform(17e3, 56e3)
        if not 22 * 60 < total / (0.84 * drv.cruise) + drv.stops_per_10km * total / 1e4 * 22 < 56 * 60: continue
        road = draw_road(rng, kind, total, hill)
        if not 15.3e3 < road.length < 59.5e3: continue
        tr = drive.simulate(veh, road, day, drv, payload, rng)
        if 1200 <= len(tr.v) * drive.DT <= 3600: break
    else:
        raise RuntimeError(f"seed {seed}: no fitting drive")
    true_payload = payload + (rng.normal(0, 2) if payload else 0.0)
    c = conditions(veh, day, start, rng, p_rel)
    red = drive.reduce_truth(veh, tr, veh.mass + true_payload, day, c)
    case = out / f"{seed:04d}"; case.mkdir(parents=True, exist_ok=True)
    name = f"{rng.choice(NAMES_A)} {rng.choice(NAMES_B)}"
    sheet, full, know = build_sheet(veh, rng, name)
    (case / "vehicle.toml").write_text(sheet); (case / "full_load.csv").write_text(full)
    lat0, lon0 = float(rng.uniform(38, 57)), float(rng.uniform(-8, 18)); tz = int(np.clip(round(lon0 / 15) + rng.integers(0, 2), 0, 2))
    when = datetime(2026, 1, 1) + timedelta(days=int(rng.integers(0, 330)), hours=int(rng.integers(9, 17)), minutes=int(rng.integers(0, 60)), seconds=int(rng.integers(0, 60)))
    style = str(rng.choice(["1.0", "1.1x", "1.1"], p=[0.45, 0.43, 0.12]))
    (case / "track.gpx").write_text(receiver.gpx(observe(tr, day, rng), lat0, lon0, when - timedelta(hours=tz), style))
    source = str(rng.choice(["metar", "roadside", "both"], p=[0.72, 0.16, 0.12]))
    label = f"{'Loop, %d laps' % road.laps if kind == 'loop' else 'Out and back'}"
    (case / "run.toml").write_text(run_toml(veh, day, tr, start, payload, p_rel, red["fuel"], label, when, tz, rng, "vehicle.toml", source,
                                            float(max(0, round(day.elevation + rng.normal(0, 30)))), "ZZ" + "".join(rng.choice(list("ABCDEFGH"), 2))))
    t = truth_dict(veh, day, drv, road, tr, red, c, start); t["declared"] = know; t["true_test_mass_kg"] = veh.mass; t["gpx_style"] = style; t["weather_source"] = source
    (case / "truth.json").write_text(json.dumps(t, indent=1))
    return t
