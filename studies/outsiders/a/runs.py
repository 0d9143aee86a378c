"""Weighed runs: a vehicle, a road, a driver, a day; the files of the tester, and the truth."""
from __future__ import annotations
from dataclasses import dataclass, replace
import datetime as dt
import json
from pathlib import Path
import numpy as np
from . import air
from .driver import Style, draw_style, drive
from .physics import State, Trace, fuel_rate
from .receiver import draw_quality, gpx
from .routes import Route, draw_route
from .vehicles import Vehicle, build_sheet, draw_vehicle
from .wind import Day, Slow, draw_day, draw_slow, metar, road_wind

TERRAINS, TERRAIN_P = ("open", "farmland", "hedged", "suburban"), (.36, .40, .19, .05)
COLD_SHARE = 0.45  # of drives starting cold; tuned with the winds for a raw error of 6.6 % rms


@dataclass(frozen=True)
class Driven:
    trace: Trace
    state: State
    day: Day
    slow: Slow
    cold_start: bool
    truth: dict[str, object]
    fuel_g: float


def calm_state(st: State, n: int) -> State:
    z = np.zeros(n)
    return replace(st, rho=air.RHO_REF, wind_e=z, wind_n=z, t_amb=air.REF_T_C, tyre_start=1.0, cold=0.0)


def total_g(tr: Trace, st: State, veh: Vehicle) -> float:
    return float(fuel_rate(tr, st, veh)[0].sum() * tr.dt)


def penalties(tr: Trace, st: State, veh: Vehicle) -> tuple[float, float, dict[str, float]]:
    """Switch effects on one after another from the calm day, in the order given and in the reverse order, and average: adds up exactly."""
    n = len(tr.t)
    calm = calm_state(st, n)
    groups: dict[str, dict[str, object]] = {
        "air_density": {"rho": st.rho}, "wind": {"wind_e": st.wind_e, "wind_n": st.wind_n},
        "cold_tyres": {"t_amb": st.t_amb, "tyre_start": st.tyre_start}, "cold_engine": {"cold": st.cold}}
    c0 = total_g(tr, calm, veh)
    out = {k: 0.0 for k in groups}
    end = c0
    for order in (list(groups), list(groups)[::-1]):
        s, prev = calm, c0
        for k in order:
            s = replace(s, **groups[k])  # type: ignore[arg-type]
            now = total_g(tr, s, veh)
            out[k] += .5 * (now - prev) / c0 * 100
            prev = now
        end = prev
    return end, c0, {k: out[k] for k in ("wind", "air_density", "cold_engine", "cold_tyres")}


def simulate(rng: np.random.Generator, veh: Vehicle, route: Route, style: Style, day: Day, cold: bool, payload: float, pressure: float,
             roll_factor: float = 1.0, accessory: float = 0.0) -> Driven | None:
    mass = veh.mass + payload
    tr = drive(route, veh, style, day, mass, rng)
    minutes = tr.t[-1] / 60
    if not (tr.s[-1] > .99 * route.lap_length * route.laps - 30):
        return None
    slow = draw_slow(rng, day, tr.t[-1])
    we, wn = road_wind(rng, day, slow, tr.t, tr.v, tr.lap_s, route.lap_length, veh.height, tr.dt)
    if cold:
        start, frac = 0.0, float(np.clip((88 - day.t_c) / 68, .3, 1.4))
    else:
        start = float(rng.uniform(.6, .95))  # tyres lose some warmth while the can is weighed, assumed
        frac = float(rng.uniform(.03, .18))  # engine at 76-86 degC after ten minutes' stand, assumed
    st = State(day.rho, we, wn, day.t_c, start, frac, mass, pressure, roll_factor, accessory)
    burnt, calm, pen = penalties(tr, st, veh)
    dist = float(np.trapezoid(tr.v * np.sqrt(1 + tr.grade ** 2), tr.t))
    we_mean = float(np.mean(np.hypot(we, wn)))
    truth: dict[str, object] = {
        "distance_m": dist, "fuel_g": burnt, "calm_day_fuel_g": calm, "raw_error_percent": 100 * (burnt / calm - 1), "penalties_percent": pen,
        "drag_area_m2": veh.cda, "rolling_resistance": veh.c_roll + veh.drag_neutral / (veh.mass * air.G), "rolling_resistance_tyres_only": veh.c_roll,
        "rolling_resistance_is": "force/(m g) at 80 km/h, 20 degC, warm, usual pressure; first figure with hub, seal and axle drag, second tyres only",
        "mass_kg": mass, "minutes": minutes, "mean_wind_met_mps": we_mean, "wind_10m_mps": day.u10, "wind_from_deg": day.direction,
        "air_density": day.rho, "temperature_c": day.t_c, "route": route.kind, "laps": route.laps, "terrain_z0_m": day.z0,
        "rms_grade": float(np.sqrt(np.mean(route.z * 0 + np.gradient(route.z) ** 2)) / 2)}
    return Driven(tr, st, day, slow, cold, truth, burnt)


@dataclass(frozen=True)
class Kit:
    """Scale, fuel system and habits of one tester."""
    resolution: float
    repeatability: float
    span: float           # true relative error
    capacity: float
    system_sd: float
    tare: float
    repeats: int
    say_system: bool
    density_told: float | None
    arrangement: str


def draw_kit(rng: np.random.Generator, veh: Vehicle) -> Kit:
    res = float(rng.choice([1, 2, 5, 10], p=[.25, .25, .35, .15]))
    return Kit(res, float(rng.uniform(.5, 1.0) * max(res, 2)), float(rng.uniform(-.001, .001)), 30_000.0, float(rng.choice([6, 8, 10, 12, 15])),
               float(round(rng.uniform(700, 1600), -1)), int(rng.integers(1, 4)), bool(rng.random() < .8),
               float(round(veh.engine.rho15 + rng.normal(0, 1.5))) if rng.random() < .5 else None, str(rng.choice(["drained tank", "test can"])))


def _toml_weighings(rng: np.random.Generator, kit: Kit, burnt: float, rho_air: float, rho_fuel: float) -> list[str]:
    b = air.buoyancy(rho_air, rho_fuel)
    before = burnt * rng.uniform(1.2, 1.6) + rng.uniform(300, 900)
    after = before - burnt - rng.normal(0, kit.system_sd)  # what hid in or came out of lines and air pockets
    out = []
    for when, m in (("before", before), ("after", after)):
        w = (kit.tare + m * b)
        g = []
        for _ in range(kit.repeats):
            r = w * (1 + kit.span) + rng.normal(0, kit.repeatability)
            g.append(round(r / kit.resolution) * kit.resolution)
        tare = round(kit.tare * (1 + kit.span) / kit.resolution) * kit.resolution
        out += ["[[weighing]]", f'when = "{when}"', "gross = [" + ", ".join(f'"{x / 1000:.3f} kg"' for x in g) + "]", f'tare = "{tare / 1000:.3f} kg"']
    return out


def weather_lines(rng: np.random.Generator, day: Day, slow: Slow, start: dt.datetime, seconds: float, tz: dt.timedelta, use: str) -> list[str]:
    """[weather] in TOML: station reports that bracket the drive, and/or roadside readings."""
    out = ["[weather]"]
    if use in ("metar", "both"):
        t0 = start - dt.timedelta(minutes=30)
        t0 = t0.replace(minute=20 if t0.minute < 50 else 50, second=0)
        if t0 > start:
            t0 -= dt.timedelta(minutes=30)
        lines = []
        t = t0
        qnh = day.qnh
        while True:
            sec = (t - start).total_seconds()
            lines.append(metar(rng, day, slow, sec, t.day, t.hour, t.minute, "ZZAB", qnh))
            if sec > seconds:
                break
            t += dt.timedelta(minutes=30)
        out += ["metar = ["] + [f'  "{x}",' for x in lines] + ["]", f'field_elevation = "{day.z_station:.0f} m"']
    if use in ("reading", "both"):
        h = 1.5
        spot = float(np.exp(rng.normal(0, .10)))  # a hand-held instrument, and the spot it was held at (assumed)
        bias = float(rng.normal(0, 6))
        for sec in (-240.0, seconds + 240.0):
            u = day.u10 * day.factor(h) * float(slow.at(slow.road, sec)) * spot * (1 + rng.normal(0, .08))
            d = (day.direction + bias + float(slow.at(slow.road_dir, sec)) + rng.normal(0, 5)) % 360
            loc = start + tz + dt.timedelta(seconds=sec)
            out += ["[[weather.reading]]", f"time = {loc.strftime('%Y-%m-%dT%H:%M:%S')}", f'wind_speed = "{u:.1f} m/s"', f'wind_from = "{round(d / 10) * 10 % 360} deg"',
                    f'gust = "{u * (1 + rng.uniform(.5, .9)):.1f} m/s"', f'height = "{h} m"', f'temperature = "{day.t_c + rng.normal(0, .5):.0f} degC"',
                    f'pressure = "{day.p_road / 100 + rng.normal(0, .5):.0f} hPa"', f'relative_humidity = "{100 * day.rh + rng.normal(0, 4):.0f} %"']
    return out


def write_run(folder: Path, rng: np.random.Generator, veh: Vehicle, d: Driven, kit: Kit, label: str, start: dt.datetime, tz_hours: int, lat0: float, lon0: float,
              payload: float, vehicle_path: str, weather: str) -> None:
    """run.toml, track.gpx, truth.json."""
    folder.mkdir(parents=True, exist_ok=True)
    tr = d.trace
    k = int(round(1 / tr.dt))
    q = draw_quality(rng, tr.t[-1] / 60)
    (folder / "track.gpx").write_text(gpx(rng, q, tr.x[::k], tr.y[::k], tr.z[::k] + d.day.z_road - float(np.mean(tr.z)), tr.v[::k], lat0, lon0, start, label))
    tz = dt.timedelta(hours=tz_hours)
    loc = start + tz
    fuel = veh.engine.fuel
    out = [f'vehicle = "{vehicle_path}"', f'label = "{label}"', f"date = {loc.strftime('%Y-%m-%d')}", f'timezone = "{"+" if tz_hours >= 0 else "-"}{abs(tz_hours):02d}:00"',
           'track = ["track.gpx"]', f'engine_start = "{"cold" if d.cold_start else "warm"}"', f'payload = "{payload:.0f} kg"',
           f'tyre_pressure = "{d.state.pressure / 1e3 + rng.normal(0, 1.5):.0f} kPa"', f'terrain = "{d.day.terrain}"', "[fuel]", f'kind = "{fuel}"']
    if kit.density_told is not None:
        out += [f'density = "{kit.density_told:.0f} kg/m^3"', 'density_temperature = "15 degC"']
    if kit.say_system:
        out += ["[fuel_system]", f'arrangement = "{kit.arrangement}"', f'repeatability = "{kit.system_sd:.0f} g"']
    out += ["[scale]", f'resolution = "{kit.resolution:.0f} g"', f'repeatability = "{kit.repeatability:.1f} g"', 'accuracy = "0.1 %"', f'capacity = "{kit.capacity / 1000:.0f} kg"']
    out += _toml_weighings(rng, kit, d.fuel_g, d.day.rho, veh.engine.rho15)
    out += weather_lines(rng, d.day, d.slow, start, float(tr.t[-1]), tz, weather)
    (folder / "run.toml").write_text("\n".join(out) + "\n")
    truth = dict(d.truth)
    truth["doppler_speed_recorded"] = q.form != "1.1 plain"
    (folder / "truth.json").write_text(json.dumps(truth, indent=1) + "\n")


def draw_wind(rng: np.random.Generator) -> float:
    """0 to 11 m/s at 10 m, most days 3 to 10."""
    return float(11 * rng.beta(1.6, 1.25))


def draw_start(rng: np.random.Generator) -> tuple[dt.datetime, int]:
    day = dt.datetime(2025, 1, 1) + dt.timedelta(days=int(rng.integers(0, 600)))
    return day + dt.timedelta(hours=int(rng.integers(7, 16)), minutes=int(rng.integers(0, 60)), seconds=int(rng.integers(0, 60))), int(rng.choice([0, 1, 2]))


def draw_course(rng: np.random.Generator, pace_km_min: float = 1.0) -> tuple[Route, float]:
    style = str(rng.choice(["country loop", "mixed loop", "out and back"], p=[.42, .26, .32]))
    hilly = float(rng.choice([rng.uniform(.002, .008), rng.uniform(.008, .016), rng.uniform(.016, .028)], p=[.5, .33, .17]))
    minutes = rng.uniform(23, 56)
    km = float(np.clip(minutes * {"country loop": 1.03, "mixed loop": .82, "out and back": .98}[style] * rng.uniform(.92, 1.08), 15.5, 58))
    stops = {"country loop": rng.uniform(0, .25), "mixed loop": rng.uniform(.25, .6), "out and back": rng.uniform(.05, .4)}[style]
    return draw_route(rng, km * 1000, style, hilly), float(stops)


def make_case(seed: int, folder: Path) -> dict[str, object]:
    for attempt in range(30):
        rng = np.random.default_rng([101, seed, attempt])
        veh = draw_vehicle(rng)
        route, stops = draw_course(rng)
        day = draw_day(rng, draw_wind(rng), str(rng.choice(TERRAINS, p=TERRAIN_P)), float(rng.uniform(10, 420)))
        payload = float(rng.choice([0, 0, 0, round(rng.uniform(40, 250), -1)]))
        pressure = veh.pressure * float(rng.choice([1.0, 1.0, rng.uniform(.93, 1.08)]))
        d = simulate(rng, veh, route, draw_style(rng, stops), day, bool(rng.random() < COLD_SHARE), payload, pressure)
        if d is None:
            continue
        km, mn = float(d.truth["distance_m"]) / 1e3, float(d.truth["minutes"])  # type: ignore[arg-type]
        if 15 <= km <= 60 and 20 <= mn <= 60:
            break
    else:
        raise RuntimeError(f"seed {seed}: no drive of 15-60 km in 20-60 min")
    folder.mkdir(parents=True, exist_ok=True)
    sheet, curve, told = build_sheet(veh, rng)
    (folder / "vehicle.toml").write_text(sheet)
    if curve:
        (folder / "full_load.csv").write_text(curve)
    start, tz = draw_start(rng)
    lat, lon = float(rng.uniform(38, 58)), float(rng.uniform(-9, 22))
    write_run(folder, rng, veh, d, draw_kit(rng, veh), f"{route.kind}, {route.laps} lap{'s' if route.laps > 1 else ''}", start, tz, lat, lon, payload, "vehicle.toml",
              str(rng.choice(["metar", "reading", "both"], p=[.7, .1, .2])))
    t = json.loads((folder / "truth.json").read_text())
    t["hidden"] = hidden(veh)
    t["told"] = told
    (folder / "truth.json").write_text(json.dumps(t, indent=1) + "\n")
    return t


def hidden(veh: Vehicle) -> dict[str, object]:
    e = veh.engine
    return {"engine": e.kind, "body": veh.body, "old": veh.old, "yaw_k": veh.yaw_k, "e0": e.e0, "fmep_2000_bar": e.fmep[0] + 2 * e.fmep[1] + 4 * e.fmep[2],
            "pump_bar": e.pump, "lhv": e.lhv, "rho15": e.rho15, "eta": veh.eta, "drag_gearbox_n": veh.drag_gearbox, "drag_neutral_n": veh.drag_neutral,
            "tyre_beta": veh.tyre_beta, "mass": veh.mass, "displacement_l": e.displacement * 1e3, "accessory_w": e.accessory_w}
