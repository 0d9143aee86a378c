"""Coastdowns: six to ten passes in neutral on a nearly level straight, in pairs, with gusts, slope and yaw."""
from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import numpy as np

from .air import CALM_AIR, G_N, Air
from .drive import sustainable
from .energy import crr_speed, gearbox_equilibrium, tyre_equilibrium, tyre_loss_shape, tyre_reference, viscosity_factor
from .noise import clipped, ou
from .receiver import gpx, observe
from .vehicle import Vehicle, build_sheet, draw_vehicle
from .weather import DT, draw_day, metar_lines, roadside, weather_toml

NEUTRAL_SHARE = 0.75  # of the warm driveline spin loss that still drags in neutral (assumed)


def drag_other(v: Vehicle, speed: float, gear_oil_c: float) -> float:
    """Bearings, brake rub and driveline in neutral, N."""
    f = float(viscosity_factor(gear_oil_c, 0.35)) / float(viscosity_factor(gearbox_equilibrium(20.0, CALM_AIR.temperature_c), 0.35))
    return v.bearing_n + NEUTRAL_SHARE * f * (v.spin0 + v.spin1 * speed)


def coast(v: Vehicle, air: Air, s: float, sp: float, v_end: float, sgn: float, phi: float, g: np.ndarray, slope: np.ndarray,
          shelter: np.ndarray, east: np.ndarray, north: np.ndarray, t_tyre: float, oil: float) -> tuple[list[float], list[float]]:
    """Positions and speeds of one pass at DT (Heun steps); sgn is the direction along the road grid g, phi the heading."""
    m_eff = v.mass + v.wheel_inertia / v.radius**2
    ref, ha, cap = tyre_reference(v)
    hx, hy = float(np.sin(phi)), float(np.cos(phi))
    ss, vv = [s], [sp]
    while sp > v_end and g[0] + 5 < s < g[-1] - 5:
        j = len(vv) - 1

        def acc(speed: float, pos: float) -> float:
            sh = float(np.interp(pos, g, shelter))
            par = (east[j] * hx + north[j] * hy) * sh
            per = (east[j] * hy - north[j] * hx) * sh
            u = speed - par
            aero = 0.5 * air.density * v.cda * float(v.yaw_factor(np.arctan2(per, u))) * (u * u + per * per)
            roll = v.mass * G_N * v.crr80 * float(crr_speed(v, speed)) * np.exp(-v.crr_temp * (t_tyre - ref))
            return -(aero + roll + drag_other(v, speed, oil) + sgn * v.mass * G_N * float(np.interp(pos, g, slope))) / m_eff
        a1 = acc(sp, s)
        a2 = acc(sp + a1 * DT, s + sgn * sp * DT)
        new = sp + 0.5 * (a1 + a2) * DT
        s += sgn * 0.5 * (sp + new) * DT
        heat = v.mass * G_N * v.crr80 * float(crr_speed(v, sp)) * np.exp(-v.crr_temp * (t_tyre - ref)) * sp
        t_tyre += DT * (heat - ha * float(tyre_loss_shape(sp)) * (t_tyre - air.temperature_c)) / cap
        sp = new
        ss.append(s), vv.append(sp)
    return ss, vv


def one_coastdown(seed: int, out: Path) -> dict[str, float]:
    """Make one case."""
    rng = np.random.default_rng([20262, seed])
    v = draw_vehicle(rng)
    terrain = str(rng.choice(["open", "farmland"], p=[0.55, 0.45]))
    u10 = rng.uniform(0.2, 5.0)
    day = draw_day(rng, terrain, float(rng.uniform(15, 250)), u10, float(np.clip(rng.normal(16, 6), 4, 30)))
    length = 3200.0
    g = np.arange(0, length + 1, 5.0)
    wave = sum(rng.normal() * np.sin(2 * np.pi * g / w + rng.uniform(0, 6.28)) for w in (400, 700, 1300))
    slope = rng.uniform(-0.003, 0.003) + 0.0009 * wave  # sin(theta); mean within 0.3 %, waves 0.15 % rms (assumed)
    z = np.concatenate([[0], np.cumsum(0.5 * (slope[1:] + slope[:-1]) * 5.0)]) + day.road_elevation
    head = rng.uniform(0, 2 * np.pi)
    shelter = np.clip(np.exp(0.2 * ou(rng, len(g), 5.0, 220.0)), 0.5, 1.5)
    v0 = min(sustainable(v), rng.uniform(88, 112) / 3.6)
    v_end = rng.uniform(26, 38) / 3.6
    pairs = int(rng.integers(3, 6))
    use_csv = rng.random() < 0.35
    form = "1.0" if rng.random() < 0.5 else "1.1x"
    lat0, lon0 = float(rng.uniform(44, 58)), float(rng.uniform(-4, 20))
    case = out / str(seed)
    case.mkdir(parents=True, exist_ok=True)
    m_eff = v.mass + v.wheel_inertia / v.radius**2
    passes, clock = [], 0.0
    n_all = int((2 * pairs) * 260 / DT) + 2000
    e_all, n_wind = day.at_vehicle(v.height, n_all, np.ones(n_all))
    for k in range(2 * pairs):
        back = k % 2 == 1
        sgn = -1.0 if back else 1.0
        s = (length - rng.uniform(300, 380)) if back else rng.uniform(300, 380)
        sp = v0 * (1 + clipped(rng, 0, 0.01))
        t_tyre = tyre_equilibrium(v, 19.0, day.air.temperature_c) + clipped(rng, 0, 0.7)
        oil = gearbox_equilibrium(19.0, day.air.temperature_c)
        phi = head + (np.pi if back else 0)
        i0 = int(clock / DT)
        ss, vv = coast(v, day.air, s, sp, v_end, sgn, phi, g, slope, shelter, e_all[i0:], n_wind[i0:], t_tyre, oil)
        nodes = np.arange(0, len(vv), 5)
        st, vt = np.array(ss)[nodes], np.array(vv)[nodes]
        name = f"pass_{k + 1:02d}"
        toml = ["[[pass]]"]
        if use_csv:
            noise = rng.uniform(0.03, 0.08) * ou(rng, len(vt), 1, 2.5) + 0.02 * rng.standard_normal(len(vt))
            (case / f"{name}.csv").write_text("time_s,speed_kmh\n" + "".join(
                f"{i:.1f},{x:.2f}\n" for i, x in enumerate((vt + noise) * 3.6)))
            toml += [f'track = "{name}.csv"', f'heading = "{(np.degrees(phi) + clipped(rng, 0, 2)) % 360:.0f} deg"']
        else:
            fixes = observe(st * np.sin(head), st * np.cos(head), np.interp(st, g, z), vt, lat0, lon0,
                            day.start + timedelta(seconds=clock), rng, 0)
            (case / f"{name}.gpx").write_text(gpx(fixes, name, form))
            toml.append(f'track = "{name}.gpx"')
        passes.append("\n".join(toml))
        clock += len(vv) * DT + rng.uniform(90, 150)
    road = rng.random() < 0.6
    met = [] if road else metar_lines(day, rng, clock, "ZZCD")
    rd = roadside(day, rng, clock, 2.0 if rng.random() < 0.6 else 1.5, int(rng.integers(3, 5))) if road else []
    sheet, csv = build_sheet(v, rng, measured=True)
    sheet = "".join(x for x in sheet.splitlines(True) if not x.startswith(("drag_coefficient", "rolling_resistance")))
    (case / "vehicle.toml").write_text(sheet)
    if csv:
        (case / "full_load.csv").write_text(csv)
    (case / "coastdown.toml").write_text("\n".join([
        'vehicle = "vehicle.toml"', f"date = {day.start:%Y-%m-%d}", f'timezone = "+{day.utc_offset_h:02d}:00"',
        f'terrain = "{terrain}"']) + "\n" + weather_toml(met, day.field_elevation, rd) + "\n".join(passes) + "\n")
    mg = v.mass * G_N
    oil20 = gearbox_equilibrium(20.0, 20.0)

    def rolling(kmh: float) -> float:
        return v.crr80 * float(crr_speed(v, kmh / 3.6)) + drag_other(v, kmh / 3.6, oil20) / mg
    f80 = rolling(80) * mg + 0.5 * CALM_AIR.density * v.cda * (80 / 3.6) ** 2
    truth = {
        "seed": seed, "drag_area_m2": v.cda, "rolling_coefficient": rolling(80), "rolling_coefficient_at_50_kmh": rolling(50),
        "rolling_coefficient_at_20_kmh": rolling(20), "rolling_coefficient_tyres_only_80": v.crr80, "resistance_at_80_kmh_n": f80,
        "definitions": "rolling_coefficient = all resistance that is not air drag (tyres, bearings, brake rub, driveline in neutral) over m g, "
                       "at 80 km/h, tyres at the temperature they hold at 80 km/h in 20 degC air, usual pressure; drag area at zero yaw; "
                       "resistance on the calm day (20 degC, 100 kPa, 50 % RH), level",
        "about": {"body": v.body, "mass_kg": v.mass, "m_eff_over_m": m_eff / v.mass, "mean_wind_10m": float(np.mean(np.interp(np.arange(0, clock / 60), day.minutes, day.speed10))),
                  "wind_factor": day.height_factor(0.65 * v.height), "mean_slope": float(slope.mean()), "temperature_c": day.air.temperature_c,
                  "air_density": day.air.density, "passes": 2 * pairs, "csv": use_csv, "roadside": road, "start_kmh": v0 * 3.6},
    }
    (case / "truth.json").write_text(json.dumps(truth, indent=1) + "\n")
    return {"cda": v.cda, "roll": rolling(80), "f80": f80, "passes": 2 * pairs, "seconds": float(len(vv) * DT), "wind": u10}
