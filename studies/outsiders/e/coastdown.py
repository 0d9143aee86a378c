"""Coastdowns: six to ten passes in neutral, both ways on one road, with slope, gusts, yaw and warm tyres that cool."""
from __future__ import annotations

import json
import math
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
from numpy.random import Generator

from . import air, physics, weather
from .receiver import gpx, record
from .route import A_M, E2, Route, _heights
from .vehicle import Vehicle, draw_vehicle, write_vehicle

DT_S = 0.1
REFERENCE_SPEED = 50 / 3.6        # m/s, where rolling_coefficient is quoted


def _straight(rng: Generator, heading: float, length: float, undulation: float = .001) -> Route:
    """A straight road: mean slope of a few tenths of a percent and gentle undulation: a tester looks for a road of even slope [R 4.6, A]."""
    s = np.linspace(0, length, int(length / 5) + 1)
    z = _heights(s, length, undulation, rng) + rng.normal(0, .0018) * s + rng.uniform(30, 250)
    lat0 = np.radians(rng.uniform(38, 58))
    w = 1 - E2 * np.sin(lat0) ** 2
    lat = lat0 + s * math.cos(heading) / (A_M * (1 - E2) / w ** 1.5)
    lm = (lat + lat0) / 2
    lon = np.radians(rng.uniform(-5, 20)) + s * math.sin(heading) / (A_M / np.sqrt(1 - E2 * np.sin(lm) ** 2) * np.cos(lm))
    one = np.ones_like(s)
    return Route("loop", s, lat, lon, z, np.gradient(z, s), one * heading, one * 1e5, one * 30, (), 1)


def coast(v: Vehicle, mass: float, road: Route, start: float, sign: float, heading: float, v0: float, v_end: float, wind: np.ndarray,
          z0: float, rho: float, ambient: float, tyre_c: float, kpa: float, rng: Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """One pass: m_eff dv/dt = -(air + rolling + slope + driveline in neutral), midpoint rule."""
    f = air.profile_factor(v.aero_height_m, z0)
    u10 = float(np.hypot(*wind))
    ustar = 0.4 * u10 / math.log(10 / z0)
    frm = math.atan2(wind[0], wind[1])
    t, s, speed = [0.0], [start], [v0]
    gu = rng.normal(0, 1) * 2.0 * ustar
    gv = rng.normal(0, 1) * 1.6 * ustar
    m_eff = mass + v.wheel_inertia_kg
    grade_s, grade = road.s, road.grade
    pos, vel, clock = start, v0, 0.0

    def decel(q: float, p: float) -> float:
        we = f * wind[0] + gu * math.sin(frm) + gv * math.cos(frm)
        wn = f * wind[1] + gu * math.cos(frm) - gv * math.sin(frm)
        g = float(np.interp(p, grade_s, grade)) * sign
        force = (float(physics.aero_force(v, q, heading, we, wn, rho)) + mass * air.G_MPS2 * (float(physics.tyre_coefficient(v, q, tyre_c, kpa)) + g)
                 + v.neutral_share * float(physics.spin_force(v, q, ambient + physics.WARM_GEAR_RISE_C)))
        return -force / m_eff
    while vel > v_end and clock < 400 and 0 < pos < road.length:
        phi = math.exp(-DT_S * max(vel, 1 + f * u10) / 25.0)
        k = math.sqrt(1 - phi * phi)
        gu, gv = phi * gu + k * 2.0 * ustar * rng.normal(), phi * gv + k * 1.6 * ustar * rng.normal()
        half = vel + .5 * DT_S * decel(vel, pos)
        a = decel(half, pos + sign * half * DT_S / 2)
        pos += sign * (vel + .5 * a * DT_S) * DT_S
        vel += a * DT_S
        clock += DT_S
        rise = ambient + 5 + (physics.TYRE_WARM_RISE_C - 5) * vel / 22.2
        tyre_c += DT_S / v.tyre_tau_s * (rise - tyre_c)
        t.append(clock), s.append(pos), speed.append(vel)
    return np.array(t), np.array(s), np.array(speed), tyre_c


def make_coastdown(seed: int, out: Path) -> None:
    rng = np.random.default_rng([202, seed])
    v = draw_vehicle(rng)
    folder = out / f"{seed:03d}"
    folder.mkdir(parents=True, exist_ok=True)
    write_vehicle(v, folder, f"coastdown {v.body} {seed}", rng)
    heading = rng.uniform(0, 2 * math.pi)
    use_gpx = rng.random() < .6
    road = _straight(rng, heading, 4200, rng.uniform(.0006, .0018) if use_gpx else rng.uniform(.0003, .0009))
    ambient = float(np.clip(rng.normal(17, 6), 5, 32))
    start = datetime(2026, 3, 1, tzinfo=timezone.utc) + timedelta(days=int(rng.integers(0, 220)), minutes=int(rng.integers(6 * 60, 17 * 60)))
    z0 = 0.03 * float(np.exp(rng.normal(.3, .4)))
    elevation = float(road.z.mean())
    day = weather.draw_day(rng, start, rng.uniform(0, 5), elevation, "open", z0, ambient)
    wind = day.mast_wind                              # read at the roadside: no station error
    mass_true = v.mass_kg + rng.normal(0, 3)
    mass_read = round(mass_true + rng.normal(0, 7))
    kpa = v.tyre_kpa * rng.normal(1, .01)
    top = {"lorry": 85, "van": 95}.get(v.body, 105) / 3.6
    passes = int(rng.choice([6, 8, 8, 10]))
    hz = 1 if use_gpx else int(rng.choice([1, 5, 10]))
    L = ['vehicle = "vehicle.toml"']
    body: list[str] = []
    tyre_c = ambient + rng.uniform(21, 27)
    minute = 0.0
    far = road.length - 700.0
    truth_passes = []
    for i in range(passes):
        sign = 1.0 if i % 2 == 0 else -1.0
        s0 = 700.0 + rng.uniform(0, 60) if sign > 0 else far + rng.uniform(-60, 60)   # the same stretch both ways
        v0 = top * rng.normal(1, .015)
        j = 60 + int(minute)
        h = heading + (0 if sign > 0 else math.pi)
        t, s, sp, tyre_end = coast(v, mass_true, road, s0, sign, h, v0, rng.uniform(15, 22) / 3.6, wind[j], z0, day.rho, ambient, tyre_c, kpa, rng)
        if i == 0:
            far = float(s[-1])
        tyre_c = tyre_end + .25 * (ambient + 24 - tyre_end)             # driven back up to speed
        when = start + timedelta(minutes=minute)
        body += ["", "[[pass]]"]
        if use_gpx:
            fix = record(t, s, sp, np.interp(s, road.s, road.grade), road, rng)
            (folder / f"pass{i + 1}.gpx").write_text(gpx(fix, when.replace(second=0), "1.0"))
            body += [f'track = "pass{i + 1}.gpx"']
        else:
            ts = np.arange(0, t[-1], 1 / hz)
            noise = rng.normal(0, .06, len(ts)) + weather._ou(rng, len(ts), 1 / hz, 6, .04)
            kmh = 3.6 * np.abs(np.interp(ts, t, sp) + noise)
            (folder / f"pass{i + 1}.csv").write_text("time_s,speed_kmh\n" + "".join(f"{a:.1f},{b:.2f}\n" for a, b in zip(ts, kmh)))
            body += [f'track = "pass{i + 1}.csv"', f'heading = "{round(math.degrees(h)) % 360} deg"']
        body += [f'mass = "{mass_read} kg"']
        truth_passes.append({"seconds": float(t[-1]), "metres": float(abs(s[-1] - s[0])), "v_end_mps": float(sp[-1])})
        minute += t[-1] / 60 + rng.uniform(2.0, 3.5)
    height = float(rng.choice([2.0, 2.0, 3.0, 10.0]))
    k = air.profile_factor(height, z0)
    W = ["", "[weather]"]
    for m in (0, int(minute / 2), int(minute)):
        e, n = k * wind[60 + max(0, m - 3):60 + m + 4].mean(0)
        speed = max(0.0, math.hypot(e, n) * rng.normal(1, .08))
        frm = 10 * round((math.degrees(math.atan2(-e, -n)) + rng.normal(0, 6)) % 360 / 10) % 360
        W += ["", "[[weather.reading]]", f"time = {start + timedelta(minutes=m):%Y-%m-%dT%H:%M:00}Z", f'wind_speed = "{speed:.1f} m/s"',
              f'wind_from = "{frm} deg"', f'height = "{height:.0f} m"', f'temperature = "{ambient + rng.normal(0, .5):.1f} degC"',
              f'pressure = "{day.road_pressure_pa / 100 + rng.normal(0, .7):.1f} hPa"', f'relative_humidity = "{100 * day.rh + rng.normal(0, 4):.0f} %"']
    (folder / "coastdown.toml").write_text("\n".join(L + body + W) + "\n")
    kmh = [20, 30, 40, 50, 60, 80, 100]
    warm = 20.0 + physics.TYRE_WARM_RISE_C

    def tyres(q: float) -> float:
        return float(physics.tyre_coefficient(v, q, warm, v.tyre_kpa))

    def line(q: float) -> float:
        return v.neutral_share * float(physics.spin_force(v, q, 20 + physics.WARM_GEAR_RISE_C)) / (mass_true * air.G_MPS2)
    truth = {"drag_area_m2": v.cda, "rolling_coefficient": tyres(REFERENCE_SPEED) + line(REFERENCE_SPEED),
             "rolling_definition": "all that is not air drag, per weight, at 50 km/h: warm tyres and bearings plus what turns in the driveline in neutral; 20 degC, usual pressure; see rolling_by_speed for other speeds and tyres alone",
             "rolling_by_speed": {"speed_kmh": kmh, "tyres": [tyres(q / 3.6) for q in kmh], "with_driveline": [tyres(q / 3.6) + line(q / 3.6) for q in kmh]},
             "resistance_at_80_kmh_n": .5 * air.RHO_REF * v.cda * (80 / 3.6) ** 2 + mass_true * air.G_MPS2 * (tyres(80 / 3.6) + line(80 / 3.6)),
             "mass_kg": mass_true, "mass_declared_kg": mass_read, "rotating_equivalent_kg": v.wheel_inertia_kg, "wind_10m_mps": float(np.hypot(*wind[60:60 + int(minute) + 1].mean(0))),
             "temperature_c": ambient, "yaw_growth_per_rad2": v.yaw_k, "mean_slope_percent": 100 * float((road.z[-1] - road.z[0]) / road.length), "z0_m": z0, "z": [float(x) for x in road.z[::40]],
             "passes": truth_passes, "with_position": bool(use_gpx), "hz": hz}
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))
