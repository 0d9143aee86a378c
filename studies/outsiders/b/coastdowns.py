"""Coastdown cases: six to ten passes in neutral, alternating directions, gusts, slope and yaw."""
from __future__ import annotations
import json, math
from dataclasses import asdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
import numpy as np
from . import air, drive, receiver, weather
from .air import G
from .runs import NAMES_A, NAMES_B, draw_day
from .vehicle import Vehicle, build_sheet, draw_vehicle

DT = 0.1   # s


def neutral_force(veh: Vehicle, mass: float, v: np.ndarray, rho: float, along: np.ndarray, across: np.ndarray, t_amb: float, theta: np.ndarray,
                  p_rel: float, grade: np.ndarray) -> np.ndarray:
    """Resisting force coasting with the gearbox in neutral, N."""
    drag = 0.5 * rho * veh.cda * veh.axial(np.asarray(v + along), np.asarray(across))
    c = 1 / np.sqrt(1 + grade ** 2)
    return drag + mass * G * c * veh.crr_at(v, t_amb, theta, p_rel) + veh.spin_n + veh.spin_nv * v + mass * G * grade * c


def reference_curve(veh: Vehicle, kmh: list[float]) -> dict[str, float]:
    """Total resistance on the level calm day (warm tyres, gearbox in neutral), N at each speed."""
    rho = air.air_density(air.REF_T, air.REF_P, air.REF_RH); v = np.array(kmh) / 3.6; z = np.zeros_like(v)
    f = neutral_force(veh, veh.mass, v, rho, z, z, 20.0, z + veh.tyre_rise, 1.0, z)
    return {f"{k:g}": float(x) for k, x in zip(kmh, f)}


def coast(veh: Vehicle, mass: float, v0: float, v1: float, start: float, sense: int, slope: Any, shelter: Any, heading: float, reg: np.ndarray,
          k_mean: float, su: float, sv: float, rho: float, t_amb: float, theta0: float, p_rel: float, channel: float, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Integrate one pass (midpoint rule); slope(s) and shelter(s) are functions of the place on the stretch."""
    me = mass + veh.wheel_inertia; v, s, th = v0, start, theta0; g = rng.standard_normal(4).tolist(); T, S, V = [], [], []
    h = heading if sense > 0 else heading + math.pi; sc, cc = math.sin(h), math.cos(h); a0 = np.zeros(1)
    Z = rng.standard_normal((6000, 4)).tolist()
    for k in range(6000):
        T.append(k * DT); S.append(s); V.append(v)
        if v <= v1: break
        va = max(v, 2.0)
        for j, L in enumerate((140.0, 30.0, 140.0, 30.0)):
            r = math.exp(-va * DT / L); g[j] = r * g[j] + math.sqrt(1 - r * r) * Z[k][j]
        re, rn = reg[min(k, len(reg) - 1)]; mg = math.hypot(re, rn) + 1e-9; ue, un = re / mg, rn / mg; sh = shelter(s)
        gu, gv = su * .7071 * (g[0] + g[1]) * sh, sv * .7071 * (g[2] + g[3]) * sh
        we, wn = k_mean * sh * re + gu * ue + gv * un, k_mean * sh * rn + gu * un - gv * ue
        al, ac = we * sc + wn * cc, (we * cc - wn * sc) * (1 - channel)
        f = lambda x, y: float(neutral_force(veh, mass, a0 + x, rho, a0 + al, a0 + ac, t_amb, a0 + th, p_rel, a0 + sense * slope(y))[0])
        vm = v - 0.5 * DT * f(v, s) / me; sm = s + sense * 0.5 * DT * v
        s += sense * vm * DT; v -= DT * f(vm, sm) / me
        th += (float(veh.theta_eq(a0 + v)[0]) - th) * DT / veh.tyre_tau
    return {"t": np.array(T), "s": np.array(S), "v": np.array(V), "theta": np.array([th])}


def make(seed: int, out: Path) -> dict[str, Any]:
    """Write one coastdown case; returns its truth."""
    rng = np.random.default_rng([72, seed])
    veh = draw_vehicle(rng); day = draw_day(rng, u10=5.0 * float(rng.uniform()) ** 0.8, terrain=str(rng.choice(["open", "farmland"])))
    n_pass = int(rng.choice([6, 8, 10])); heading = float(rng.uniform(0, 2 * math.pi))
    mean_slope = float(rng.uniform(-0.004, 0.004)); amp = rng.uniform(0.0001, 0.0006, 3); wl = rng.uniform(250, 1200, 3); ph = rng.uniform(0, 2 * math.pi, 3)
    slope = lambda s: mean_slope + sum(a * math.sin(2 * math.pi * s / w + p) for a, w, p in zip(amp, wl, ph))
    sa = rng.uniform(0.05, 0.15, 3); sw = rng.uniform(150, 900, 3); sp = rng.uniform(0, 2 * math.pi, 3)
    shelter = lambda s: math.exp(sum(a * math.sin(2 * math.pi * s / w + p) for a, w, p in zip(sa, sw, sp)))
    height = lambda s: mean_slope * s - sum(a * w / (2 * math.pi) * (np.cos(2 * math.pi * s / w + p) - math.cos(p)) for a, w, p in zip(amp, wl, ph))
    rho = air.air_density(day.temp, day.pressure, day.rh); zeff = max(0.8, 0.65 * veh.height); k_mean = air.transfer(zeff, day.terrain)
    ust = air.friction_velocity(day.u10, day.terrain) * day.gust_scale; su, sv = 2.3 * ust, 1.8 * ust
    mass = veh.mass; p_rel = float(np.clip(rng.normal(1.0, 0.02), 0.94, 1.06))
    each = 300.0; reg = drive.regional_wind(day, int(each * n_pass / 0.5) + 400, 0.5, rng)
    top = 85 if veh.body == "lorry" else float(rng.uniform(92, 112)); low = float(rng.uniform(14, 22)); theta = float(veh.theta_eq(np.array([19.0]))[0]) * rng.uniform(0.85, 1.0)
    case = out / f"{seed:04d}"; case.mkdir(parents=True, exist_ok=True); as_csv = bool(rng.uniform() < 0.4); give_mass = bool(rng.uniform() < 0.35)
    lat0, lon0 = float(rng.uniform(38, 57)), float(rng.uniform(-8, 18)); tz = int(np.clip(round(lon0 / 15) + 1, 0, 2))
    when = datetime(2026, 1, 1) + timedelta(days=int(rng.integers(60, 330)), hours=int(rng.integers(8, 17)), minutes=int(rng.integers(0, 60)))
    name = f"{rng.choice(NAMES_A)} {rng.choice(NAMES_B)}"; sheet, full, know = build_sheet(veh, rng, name, mass_sd=5.0)
    sheet = sheet.replace(f'test_mass = "{know["test_mass_kg"]:.0f} kg"', f'test_mass = {{ value = "{know["test_mass_kg"]:.0f} kg", pm = "10 kg" }}')
    (case / "vehicle.toml").write_text(sheet); (case / "full_load.csv").write_text(full)
    utc = when - timedelta(hours=tz)
    L = ['vehicle = "vehicle.toml"', f"date = {when:%Y-%m-%d}", f'timezone = "+{tz:02d}:00"', f'terrain = "{day.terrain}"',
         f'tyre_pressure = "{veh.pressure * p_rel / 1e3:.0f} kPa"']
    style = str(rng.choice(["1.0", "1.1x"])); rate = int(rng.choice([1, 5, 10])) if as_csv else 1; far = 100.0
    for i in range(n_pass):
        sense = 1 if i % 2 == 0 else -1; start = 100.0 if sense > 0 else far
        k0 = int(i * each / 0.5); rg = np.repeat(reg[k0:k0 + 700], 5, axis=0)
        v0 = (top + rng.uniform(-2, 2)) / 3.6
        p = coast(veh, mass, v0, low / 3.6, start, sense, slope, shelter, heading, rg, k_mean, su, sv, rho, day.temp, theta, p_rel, day.channel, rng)
        theta = 0.5 * float(p["theta"][0]) + 0.5 * float(veh.theta_eq(np.array([19.0]))[0]) * rng.uniform(0.95, 1.0)
        far = float(p["s"][-1]) if sense > 0 else far
        L.append("[[pass]]")
        hd = math.degrees(heading if sense > 0 else heading + math.pi) % 360
        if as_csv:
            st = int(round(1 / (rate * DT))); t, v = p["t"][::st], p["v"][::st]; m = len(t)
            sd = 0.04 * air.ar1(rng, m, 1 / rate, 4.0) + 0.04 * rng.standard_normal(m)
            (case / f"pass{i + 1:02d}.csv").write_text("time_s,speed_kmh\n" + "".join(f"{a:.1f},{max(b, 0) * 3.6:.2f}\n" for a, b in zip(t, v + sd)))
            L += [f'track = "pass{i + 1:02d}.csv"', f'heading = "{round(hd + rng.normal(0, 1)) % 360:.0f} deg"']
        else:
            s = p["s"]; o = receiver.observe(s * math.sin(heading), s * math.cos(heading), height(s) + day.elevation, p["v"], rng, DT, gaps=False)
            (case / f"pass{i + 1:02d}.gpx").write_text(receiver.gpx(o, lat0, lon0, utc + timedelta(seconds=round(i * each)), style))
            L.append(f'track = "pass{i + 1:02d}.gpx"')
        if give_mass: L.append(f'mass = "{know["test_mass_kg"]:.0f} kg"')
    L.append("[weather]"); source = str(rng.choice(["metar", "roadside", "both"], p=[0.35, 0.4, 0.25])); sz = float(max(0, round(day.elevation + rng.normal(0, 20))))
    if source != "roadside":
        ml = weather.metar_lines(day, reg[:int(each * n_pass / 0.5)], 0.5, utc, rng, "ZZ" + "".join(rng.choice(list("ABCDEFGH"), 2)), sz)
        L += ["metar = [" + ", ".join(f'"{m}"' for m in ml) + "]", f'field_elevation = "{sz:.0f} m"']
    if source != "metar": L += weather.readings(day, reg[:int(each * n_pass / 0.5)], 0.5, when, rng, 3)
    (case / "coastdown.toml").write_text("\n".join(L) + "\n")
    f50 = np.array([50 / 3.6]); c50 = float(veh.crr_at(f50, 20.0, np.array([veh.tyre_rise]), 1.0)[0]); sp50 = (veh.spin_n + veh.spin_nv * f50[0]) / (veh.mass * G)
    cur = reference_curve(veh, [20, 30, 40, 50, 60, 70, 80, 90, 100])
    t = {"drag_area_m2": veh.cda, "rolling_coefficient": c50 + sp50, "tyre_rolling_coefficient": c50, "resistance_at_80_kmh_n": cur["80"], "resistance_n_by_kmh": cur,
         "definitions": "drag_area at zero yaw; rolling_coefficient = (tyres + axle, bearing and brake drag that remain in neutral) / (mass g) at 50 km/h, 20 degC, usual pressure, "
                        "tyres warm as after long driving at 80 km/h; tyre_rolling_coefficient the tyres alone; resistances: level road, still air, 20 degC, 100 kPa, 50 % RH, in neutral, N",
         "rolling_coefficient_by_kmh": {k: (cur[k] - 0.5 * air.air_density(20, 1e5, .5) * veh.cda * (float(k) / 3.6) ** 2) / (veh.mass * G) for k in cur},
         "true_mass_kg": mass, "declared": know, "u10_ms": day.u10, "temperature_C": day.temp, "mean_slope": mean_slope, "passes": n_pass, "files": "csv" if as_csv else "gpx",
         "rate_hz": rate, "weather_source": source, "rotating_fraction": veh.wheel_inertia / mass, "vehicle": asdict(veh), "day": asdict(day)}
    (case / "truth.json").write_text(json.dumps(t, indent=1)); return t


def check() -> str:
    """A pass in still air on the level against the closed form (CV-87 type) and an energy balance."""
    from dataclasses import replace
    rng = np.random.default_rng(5); v = replace(draw_vehicle(rng), mass=2000.0, wheel_inertia=60.0, crr=0.012, crr_v1=0.0, crr_v2=0.0, crr_kt=0.0, tyre_kq=0.0, spin_n=0.0, spin_nv=0.0, cd=1.1, area=1.0)
    z = lambda s: 0.0
    p = coast(v, 2000.0, 100 / 3.6, 20 / 3.6, 0.0, 1, z, lambda s: 1.0, 0.0, np.zeros((1, 2)), 0.5, 0.0, 0.0, 1.2, 20.0, 20.0, 1.0, 0.0, rng)
    t = float(np.interp(-20 / 3.6, -p["v"], p["t"])); s = float(np.interp(-20 / 3.6, -p["v"], p["s"]))
    assert abs(t - 113.652) < 0.01 and abs(s - 1667.90) < 0.1, (t, s)
    return f"closed form 113.652 s, 1667.90 m; integrated {t:.3f} s, {s:.2f} m"
