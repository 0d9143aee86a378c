"""Coastdown days: six to ten passes in neutral on one stretch of road, both ways, wind up to 5 m/s, gusts, slope, yaw."""
from __future__ import annotations
import datetime as dt
import json
import math
from pathlib import Path
import numpy as np
from . import air
from .physics import rolling_shape
from .receiver import Quality, draw_quality, gpx
from .runs import draw_start, hidden, weather_lines
from .vehicles import Vehicle, build_sheet, draw_vehicle
from .wind import Day, Slow, draw_day, draw_slow, ou, road_wind

DT = 0.05
ROLL_IS = ("non-aerodynamic resistance in neutral (tyres + hubs, seals, axle) / (m g) at 80 km/h, 20 degC, warm tyres, usual pressure; "
           "see rolling_by_speed for other speeds and rolling_tyres_only for the tyres alone")


def resistance(veh: Vehicle, mass: float, v: float) -> float:
    """Calm reference day: neutral, level, still air, 20 degC, 100 kPa, 50 % RH, warm tyres, N."""
    return .5 * air.RHO_REF * veh.cda * v * v + non_aero(veh, mass, v)


def non_aero(veh: Vehicle, mass: float, v: float) -> float:
    return veh.c_roll * float(rolling_shape(v, veh)) * mass * air.G + veh.drag_neutral


def one_pass(rng: np.random.Generator, veh: Vehicle, mass: float, day: Day, slow: Slow, when: float, heading: float, v0: float, v1: float,
             grade_s: np.ndarray, forward: bool, offset: float, excess: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """t, v, s of one pass. grade_s: grade on a 5 m grid in the forward sense; the pass starts at offset from its own end."""
    n = int(240 / DT)
    # wind first, met along a trace that roughly fits (the gust field depends on speed only through its pace)
    t = np.arange(n) * DT
    guess = np.maximum(v0 * np.exp(-t / 90), 4)
    we, wn = road_wind(rng, day, slow, when + t, guess, np.cumsum(guess) * DT, 4000, veh.height, DT)
    length = (len(grade_s) - 1) * 5.0
    me = mass + veh.wheel_mass
    tyre = math.exp(-veh.tyre_beta * (day.t_c + excess - 20 - veh.tyre_rise))
    sh, ch = math.sin(heading), math.cos(heading)
    v, s = v0, offset
    vs, ss = [], []
    k = veh.c_roll * mass * air.G * tyre
    gl = grade_s.tolist()
    wel, wnl = we.tolist(), wn.tolist()
    ysc = .45
    for i in range(n):
        vs.append(v); ss.append(s)
        if v < v1 or s > length - 10:
            break
        x = s if forward else length - s
        g = gl[min(len(gl) - 1, max(0, int(x / 5)))] * (1 if forward else -1)
        par, per = wel[i] * sh + wnl[i] * ch, wel[i] * ch - wnl[i] * sh
        u = v - par
        psi = math.atan2(abs(per), u)
        c = (1 + veh.yaw_k * ysc ** 2 * (1 - math.exp(-(psi / ysc) ** 2))) * math.tanh(3 * math.cos(psi)) / math.tanh(3)
        q = v / 22.2222222
        f = .5 * day.rho * veh.cda * c * (u * u + per * per) + k * (1 + veh.roll_lin * (q - 1) + veh.roll_quad * (q * q - 1)) + veh.drag_neutral + mass * air.G * g
        a = -f / me
        s += v * DT + .5 * a * DT * DT
        v += a * DT
    return np.arange(len(vs)) * DT, np.array(vs), np.array(ss)


def make_case(seed: int, folder: Path) -> dict[str, object]:
    rng = np.random.default_rng([202, seed])
    veh = draw_vehicle(rng)
    terrain = str(rng.choice(["open", "farmland"], p=[.6, .4]))
    day = draw_day(rng, float(rng.uniform(0.3, 5.0)), terrain, float(rng.uniform(5, 300)), (4, 30))
    mass = veh.mass
    length = float(rng.uniform(1500, 2600))
    n = int(length / 5) + 1
    slope = float(rng.normal(0, .0015))          # mean slope, sd 0.15 % (assumed; J1263 wants < 0.5 %)
    wave = ou(rng, n, 5, 150) * .0006            # undulation 0.06 % rms (assumed)
    grade = slope + wave
    top = min(veh.engine.n_max * .92 / 60 * 2 * math.pi * veh.radius / (veh.final * veh.gears[-1]) * 3.6, 105.0)
    v0k, v1k = float(min(top, rng.uniform(85, 105))), float(rng.uniform(15, 28))
    passes = int(rng.choice([6, 8, 8, 10]))
    brg = float(rng.uniform(0, 360))
    slow = draw_slow(rng, day, 4500)
    use_csv = bool(rng.random() < .35)
    start, _ = draw_start(rng)
    lat0, lon0 = float(rng.uniform(38, 58)), float(rng.uniform(-9, 22))
    folder.mkdir(parents=True, exist_ok=True)
    sheet, curve, told = build_sheet(veh, rng, known_mass=True)
    (folder / "vehicle.toml").write_text(sheet)
    if curve:
        (folder / "full_load.csv").write_text(curve)
    q = draw_quality(rng, 2)
    q = Quality(q.wander_m, q.wander_tau, q.white_m, q.speed_slow, q.speed_white, q.height_m, q.height_bias, 0, "1.1 speed" if rng.random() < .5 else "1.0 speed")
    when, lines = 60.0, []
    warm = veh.tyre_rise * float(rng.uniform(.85, 1.0))   # after 20-30 min of warming up, brief turns between passes
    base_h = np.concatenate([[0], np.cumsum(grade[:-1] * 5)])
    told_mass = round(mass * (1 + rng.normal(0, .0015)) / 5) * 5
    rows = []
    for i in range(passes):
        fwd = i % 2 == 0
        hd = math.radians(brg if fwd else brg + 180)
        v0 = (v0k + rng.normal(0, 1.5)) / 3.6
        t, v, s = one_pass(rng, veh, mass, day, slow, when, hd, v0, v1k / 3.6, grade, fwd, float(rng.uniform(10, 60)), warm * float(rng.uniform(.96, 1.02)))
        k = int(round(1 / DT))
        vv, s1 = v[::k], s[::k]
        lines += ["[[pass]]"]
        if use_csv:  # a logger of its own, 1 Hz, speed only
            sp = vv + q.speed_slow * ou(rng, len(vv), 1, 3) + q.speed_white * rng.standard_normal(len(vv))
            (folder / f"pass_{i + 1}.csv").write_text("time_s,speed_kmh\n" + "".join(f"{j},{x * 3.6:.2f}\n" for j, x in enumerate(sp)))
            lines += [f'track = "pass_{i + 1}.csv"', f'heading = "{(brg if fwd else brg + 180) % 360:.0f} deg"']
        else:
            x = s1 if fwd else length - s1
            px, py = x * math.sin(math.radians(brg)), x * math.cos(math.radians(brg))
            pz = np.interp(x, np.arange(n) * 5.0, base_h) + day.z_road
            (folder / f"pass_{i + 1}.gpx").write_text(gpx(rng, q, px, py, pz, vv, lat0, lon0, start + dt.timedelta(seconds=round(when)), f"pass {i + 1}"))
            lines += [f'track = "pass_{i + 1}.gpx"']
        lines += [f'mass = "{told_mass:.0f} kg"']
        rows.append({"seconds": float(t[-1]), "from_kmh": float(v[0] * 3.6), "to_kmh": float(v[-1] * 3.6)})
        when += float(t[-1]) + float(rng.uniform(60, 120))
    # the times of the day carry their own offset, so that nothing else need be said
    w = weather_lines(rng, day, slow, start, when, dt.timedelta(0), "reading" if use_csv else str(rng.choice(["metar", "both", "reading"], p=[.25, .4, .35])))
    w = [x + "Z" if x.startswith("time = ") else x for x in w]
    (folder / "coastdown.toml").write_text("\n".join(['vehicle = "vehicle.toml"'] + lines + w) + "\n")
    truth: dict[str, object] = {
        "drag_area_m2": veh.cda, "rolling_coefficient": non_aero(veh, mass, 80 / 3.6) / (mass * air.G), "rolling_coefficient_is": ROLL_IS,
        "rolling_by_speed": {str(k): non_aero(veh, mass, k / 3.6) / (mass * air.G) for k in (20, 40, 60, 80, 100)}, "rolling_tyres_only": veh.c_roll,
        "resistance_at_80_kmh_n": resistance(veh, mass, 80 / 3.6), "mass_kg": mass, "effective_mass_kg": mass + veh.wheel_mass,
        "reference": "level, still air, 20 degC, 100 kPa, 50 % RH, warm tyres, neutral", "slope": slope, "wind_10m_mps": day.u10,
        "wind_at_vehicle_mps": day.u10 * day.factor(.55 * veh.height + .1), "wind_from_deg": day.direction, "road_deg": brg, "temperature_c": day.t_c,
        "air_density": day.rho, "passes": rows, "hidden": hidden(veh), "told": told, "speed_only_csv": use_csv}
    (folder / "truth.json").write_text(json.dumps(truth, indent=1) + "\n")
    return truth
