"""Weighed runs: hidden truth, records and self-check."""
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
import math
from pathlib import Path
import numpy as np
from . import files, physics, receiver, road, vehicle, weather
from .physics import CALM, Conditions, Start
from .randoms import normal, stream

AIR_BUOY = 8000.0  # kg/m^3, conventional weights [R 1.4]


@dataclass(frozen=True)
class Setting:
    """Everything true about one drive."""
    v: vehicle.Vehicle; payload_kg: float; pressure_kpa: float; tr: road.Trace; day: weather.Day
    wind: weather.RoadWind; start: Start; gear: np.ndarray


def burn(x: Setting, on: Conditions, v: vehicle.Vehicle | None = None) -> float:
    """Fuel, g, for this trace and these gears under these conditions."""
    v = v or x.v
    f = physics.road_force(v, x.tr, v.mass_kg + x.payload_kg, x.wind, x.day, x.pressure_kpa, x.start, on)
    return float(np.sum(physics.fuel_rate(v, x.tr, f, x.gear, x.day, x.start, on)) * road.DT * 1e3)


def setting(v: vehicle.Vehicle, route: road.Route, plan: road.Plan, drv: road.Driver, day: weather.Day, start: Start,
            payload: float, pressure: float, rng: np.random.Generator) -> Setting:
    p2m = 0.7 * float(np.max(v.full_torque(np.array([v.n_max * .9])) * v.n_max * .9 * math.pi / 30)) / (v.mass_kg + payload)
    tr = road.drive(rng, route, plan, drv, p2m)
    wind = weather.road_wind(rng, day, tr.t, tr.s, v.height_m)
    f = physics.road_force(v, tr, v.mass_kg + payload, wind, day, pressure, start, Conditions())
    force = f["aero"] + f["roll"] + f["grade"] + f["inertia"]
    return Setting(v, payload, pressure, tr, day, wind, start, physics.gears(v, tr, force, drv.n_low))


ORDER = ["wind", "air", "engine", "tyres"]
KEYS = {"wind": "wind", "air": "air_density", "engine": "cold_engine", "tyres": "cold_tyres"}


def penalties(x: Setting, v: vehicle.Vehicle | None = None) -> tuple[float, float, dict]:
    """As driven, calm day (g) and penalties, percent of calm: mean of switching on in order and in reverse."""
    calm, full = burn(x, CALM, v), burn(x, Conditions(), v)
    got = dict.fromkeys(ORDER, 0.0)
    for order in (ORDER, ORDER[::-1]):
        on = CALM; prev = calm
        for name in order:
            on = replace(on, **{name: True}); now = burn(x, on, v)
            got[name] += 0.5 * (now - prev) / calm * 100; prev = now
    return full, calm, {KEYS[k]: val for k, val in got.items()}


def weigh(rng: np.random.Generator, fuel_g: float, day: weather.Day, v: vehicle.Vehicle, rep_g: float) -> tuple[list[str], float]:
    """[fuel_system], [scale], [[weighing]] sections: span error, repeatability, resolution, hidden fuel,
    air buoyancy; also the net mass, g, that a careful reader gets from them."""
    res, rep, acc = float(rng.choice([1.0, 2.0, 5.0])), float(rng.uniform(1.0, 3.0)), float(rng.choice([.05, .1]))
    cap = 20.0 if fuel_g < 9000 else 30.0
    rho_a, rho_f = float(weather.density(day.t_c, 1e5, day.rh)), v.rho15
    span = 1 + rng.uniform(-acc, acc) / 100
    taken = fuel_g + normal(rng, 0, rep_g)          # what left the can
    tare = rng.uniform(900, 1600)
    first = fuel_g * rng.uniform(1.3, 1.8) + 1000
    show = lambda mass: round((mass * span + normal(rng, 0, rep)) / res) * res / 1000
    buoy = (1 - rho_a / rho_f) / (1 - rho_a / AIR_BUOY); net = 0.0
    tw = round(tare / res) * res / 1000
    arrangement = str(rng.choice(["drained tank", "test can"], p=[.35, .65]))
    L = ["[fuel_system]", f'arrangement = "{arrangement}"', f'repeatability = "{rep_g:.0f} g"', "[scale]", f'resolution = "{res:.0f} g"',
         f'repeatability = "{rep:.1f} g"', f'accuracy = "{acc} %"', f'capacity = "{cap:.0f} kg"']
    for when, fuel in (("before", first), ("after", first - taken)):
        gross = [show(tare + fuel * buoy) for _ in range(int(rng.integers(2, 4)))]
        net += (1 if when == "before" else -1) * float(np.mean(gross)) * 1e3 / buoy
        L += ["[[weighing]]", f'when = "{when}"', "gross = [" + ", ".join(f'"{g:.3f} kg"' for g in gross) + "]", f'tare = "{tw:.3f} kg"']
    return L, net


def write_run(folder: Path, name: str, track: str, x: Setting, rng: np.random.Generator, t0: datetime, offset_h: int, label: str,
              fuel_g: float, doppler: bool, version: str, vehicle_ref: str, rep_g: float, readings: bool, dens_known: bool = True) -> tuple[list[weather.Report], float]:
    """run.toml and its track; returns the weather reports and the net fuel as the tester has them."""
    v, tr, day = x.v, x.tr, x.day
    fx = receiver.observe(rng, tr.t, tr.lat, tr.lon, tr.ele, tr.v, tr.grade, doppler)
    files.gpx(folder / track, fx, t0, version)
    local = t0 + timedelta(hours=offset_h)
    start = "cold" if x.start.engine > 0.5 else "warm"
    L = [f'vehicle = "{vehicle_ref}"', f'label = "{label}"', f"date = {local.strftime('%Y-%m-%d')}", f'timezone = "+{offset_h:02d}:00"',
         f'track = ["{track}"]', f'engine_start = "{start}"', f'payload = "{x.payload_kg:.0f} kg"',
         f'tyre_pressure = "{x.pressure_kpa + normal(rng, 0, 2.5):.0f} kPa"', f'terrain = "{day.terrain}"', "[fuel]", f'kind = "{v.fuel}"']
    if dens_known:
        rho = v.rho15 + normal(rng, 0, 1.0)
        L += ['density = ' + (f'{{ value = "{rho:.0f} kg/m^3", pm = "3 kg/m^3" }}' if rng.random() < .4 else f'"{rho:.0f} kg/m^3"'), 'density_temperature = "15 degC"']
    w, net = weigh(rng, fuel_g, day, v, rep_g); L += w
    L.append("[weather]"); reports = []
    z_road = float(np.mean(tr.ele))
    if not readings:
        first = t0 - timedelta(minutes=t0.minute % 30 + 10, seconds=t0.second)      # reports at hh:20 and hh:50
        when, lines = first, []
        while (when - t0).total_seconds() < tr.t[-1] + 300:
            r = weather.station_report(rng, day, (when - t0).total_seconds(), tr.t, x.wind)
            reports.append(r); lines.append(files.metar(r, when, "ZZ" + "ABCDEFGH"[int(t0.day) % 8] + "A")); when += timedelta(minutes=30)
        L += ["metar = [" + ", ".join(f'"{m}"' for m in lines) + "]", f'field_elevation = "{day.station_z:.0f} m"']
    else:  # a mast of 2-3 m in an open field gateway beside the road, start, middle and end, several minutes each
        h = float(rng.choice([2.0, 2.5, 3.0])); local_factor = 1 + normal(rng, 0, .09)
        at_h = math.log(weather.BLEND_M / .03) / math.log(10 / .03) * math.log(h / day.z0) / math.log(weather.BLEND_M / day.z0)
        for sec in (-300.0, tr.t[-1] / 2, tr.t[-1] + 240):
            r = weather.station_report(rng, replace(day, station_factor=at_h * local_factor, station_dir=day.station_dir * .6), sec, tr.t, x.wind)
            r = replace(r, gust=r.speed * normal(rng, 1.6, .1), pressure_pa=float(weather.isa_pressure(r.pressure_pa, z_road))); reports.append(r)
            L += ["[[weather.reading]]", f"time = {(local.replace(tzinfo=None) + timedelta(seconds=round(sec))).strftime('%Y-%m-%dT%H:%M:%S')}",
                  f'wind_speed = "{r.speed:.1f} m/s"', f'wind_from = "{round(r.from_deg / 5) * 5 % 360:.0f} deg"', f'gust = "{r.gust:.1f} m/s"', f'height = "{h} m"',
                  f'temperature = "{r.t_c:.1f} degC"', f'pressure = "{r.pressure_pa / 100:.0f} hPa"', f'relative_humidity = "{round(r.rh * 100)} %"']
    if rng.random() < 0.3:
        odo = rng.uniform(20000, 180000); k = normal(rng, 1.015, .015)
        L += ["[odometer]", f'start = "{odo:.1f} km"', f'end = "{odo + tr.s[-1] / 1000 * k:.1f} km"']
    (folder / name).write_text("\n".join(L) + "\n")
    return reports, net


def expert(x: Setting, k: vehicle.Knowledge, reports: list[weather.Report], fuel_g: float, readings: bool) -> tuple[float, dict]:
    """Self-check only: this simulator's own model with owner's figures, class centres and reported weather."""
    v = vehicle.as_owner_thinks(x.v, k)
    u, t = np.mean([r.speed for r in reports]), np.mean([r.t_c for r in reports])
    d = np.radians([r.from_deg for r in reports]); th = math.degrees(math.atan2(np.mean(np.sin(d)), np.mean(np.cos(d))))
    q = np.mean([r.pressure_pa for r in reports]) if not readings else x.day.qnh_pa
    nominal = replace(x.day, u10=u, from_deg=th, t_c=float(t), qnh_pa=float(q), z0=weather.Z0[x.day.terrain], intensity=.25)
    if readings:
        at_h = math.log(weather.BLEND_M / .03) / math.log(10 / .03) * math.log(2.5 / nominal.z0) / math.log(weather.BLEND_M / nominal.z0)
        nominal = replace(nominal, u10=u / at_h)
    wind = weather.road_wind(stream("expert", u, th), nominal, x.tr.t, x.tr.s, v.height_m, steady=True)
    y = replace(x, v=v, day=nominal, wind=wind, start=Start(1.0, 0.0) if x.start.engine > .5 else Start(0.0, .9))
    full, calm, pen = penalties(y)
    return fuel_g * calm / full, pen


def make(seed: int, folder: Path) -> dict:
    """One case; returns its self-check line."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = stream("run", seed)
    v = vehicle.draw(rng); k = vehicle.knowledge(v, rng)
    kind = str(rng.choice(["loops", "mixed", "out-and-back"], p=[.45, .3, .25]))
    cruise = {"loops": 22.0, "mixed": 19.0, "out-and-back": 21.5}[kind] * normal(rng, 1, .08) * (.92 if v.body == "lorry" else 1)
    minutes = rng.uniform(21, 55)
    total = float(np.clip(minutes * 60 * cruise * (.80 if kind != "mixed" else .64), 15500, 60000))
    route = road.make_route(rng, kind, total)
    plan = road.make_plan(rng, route.lap_m, cruise, kind == "mixed")
    drv = road.make_driver(rng, v.n_idle, v.fuel == "diesel", cruise)
    terrain = str(rng.choice(["open", "farmland", "hedged", "suburban"], p=[.3, .5, .15, .05]))
    day = weather.make_day(rng, terrain, float(np.mean(route.ele)))
    cold = rng.random() < .36
    start = Start(1.0, 0.0) if cold else Start(0.0, rng.uniform(.80, 1.0))
    payload = float(rng.choice([0, 0, 0, 75]))
    pressure = v.pressure_kpa + float(rng.choice([0, 0, -10, 10]))
    x = setting(v, route, plan, drv, day, start, payload, pressure, rng)
    full, calm, pen = penalties(x)
    offset = int(rng.choice([0, 1, 2])); t0 = datetime(2026, int(rng.integers(3, 11)), int(rng.integers(1, 28)), int(rng.integers(7, 17)), int(rng.integers(0, 60)), int(rng.integers(0, 60)), tzinfo=timezone.utc)
    rep = round(rng.uniform(3, 6.5)); readings = terrain in ('open', 'farmland') and rng.random() < .18; doppler = rng.random() < .88
    files.vehicle_toml(v, k, folder)
    reports, net = write_run(folder, "run.toml", "drive.gpx", x, rng, t0, offset, f"{kind}, {terrain}", full, doppler, "1.0" if rng.random() < .4 else "1.1",
                        "vehicle.toml", rep, readings, bool(rng.random() < .6))
    raw = (full / calm - 1) * 100
    files.truth(folder, {"distance_m": x.tr.s[-1], "fuel_g": full, "calm_day_fuel_g": calm, "penalties_percent": pen, "raw_error_percent": raw,
        "drag_area_m2": v.cda, "rolling_resistance": v.crr, "rolling_definition": "tyres alone, warm, 20 degC air, 80 km/h, usual pressure",
        "mass_kg": v.mass_kg + payload, "yaw_k_per_rad2": v.yaw_k, "driveline_efficiency": v.drive_eff, "indicated_efficiency": v.e,
        "friction_mep_bar_at_2000rpm": v.fmep[0] + 2 * v.fmep[1] + 4 * v.fmep[2], "cold_start_g_at_20C": v.cold_g20, "lhv_MJ_per_kg": v.lhv / 1e6,
        "wind_10m_mps": day.u10, "wind_from_deg": day.from_deg, "wind_transfer_to_vehicle": weather.transfer(day.z0, v.height_m),
        "station_factor": day.station_factor, "station_direction_error_deg": day.station_dir, "temperature_C": day.t_c, "kind": kind, "duration_s": x.tr.t[-1],
        "definition": "penalties: mean of switching on wind, air, engine, tyres in this order and in reverse; tyres include the air's effect on tyre temperature; turbulence counts as wind"})
    est, epen = expert(x, k, reports, net, readings)
    return {"seed": seed, "body": v.body, "kind": kind, "km": x.tr.s[-1] / 1e3, "min": x.tr.t[-1] / 60, "kg": full / 1e3, "l100": full / v.rho15 / (x.tr.s[-1] / 1e5),
            "u10": day.u10, "cold": cold, "raw": raw, **pen, "expert_error": (est / calm - 1) * 100, "ew": epen["wind"] - pen["wind"], "ee": epen["cold_engine"] - pen["cold_engine"],
            "ef": (net / full - 1) * 100, "et": epen["cold_tyres"] - pen["cold_tyres"], "ea": epen["air_density"] - pen["air_density"], "terrain": terrain, "readings": readings, "fuel": v.fuel, "V": v.displacement_m3 * 1e3}
