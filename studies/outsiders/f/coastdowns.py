"""Coastdown passes on a straight, slightly sloping public road, in gusts, both ways."""
from datetime import datetime, timedelta, timezone
import math
from pathlib import Path
import numpy as np
from . import files, physics, receiver, road, vehicle, weather
from .randoms import Array, normal, ornstein_uhlenbeck, stream
from .vehicle import G

DT = road.DT
MEAN_SIGMA = 0.06   # the mast beside the road against the wind on the road; assumed
SLOW_SD, SLOW_TAU = 0.14, 45.0   # wind changes of a minute; assumed


def _coast(v: vehicle.Vehicle, mass: float, v0: float, rho: float, wp: list, wc: list, slope, c_roll: float) -> tuple[Array, Array]:
    """Speed and distance until 4 m/s: midpoint rule on the equation of motion."""
    me = mass + v.wheel_inertia_kg; speed, dist = v0, 0.0; out_v, out_s = [v0], [0.0]; i = 0

    def acc(u: float, s: float) -> float:
        a = u - wp[i]; b = wc[i]; vr2 = a * a + b * b; psi = math.atan2(abs(b), abs(a))
        kd = 1 + v.yaw_k * physics.YAW_SAT**2 * (1 - math.exp(-(psi / physics.YAW_SAT) ** 2))
        aero = 0.5 * rho * v.cda * kd * vr2
        roll = c_roll * mass * G * (1 + v.crr_v * ((u / 22.2) ** 2 - 1) * 0.5)
        return -(aero + roll + v.spin_n * (1 + v.spin_v * u) + mass * G * math.sin(math.atan(slope(s)))) / me

    while speed > 4.0 and i < len(wp) - 1:
        mid = speed + 0.5 * DT * acc(speed, dist)
        nxt = speed + DT * acc(mid, dist + 0.5 * DT * mid)
        dist += 0.5 * DT * (speed + nxt); speed = nxt; i += 1
        out_v.append(speed); out_s.append(dist)
    return np.array(out_v), np.array(out_s)


def make(seed: int, folder: Path) -> dict:
    """One case; returns its self-check line."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = stream("coastdown", seed)
    v = vehicle.draw(rng); k = vehicle.knowledge(v, rng)
    mass = v.mass_kg; said = round((mass + normal(rng, 0, 6)) / 5) * 5
    k = vehicle.Knowledge(k.name, said, k.area_m2, k.as_width_height, k.cd, k.crr, k.eff, k.declare_cut, {"mass": 15})
    files.vehicle_toml(v, k, folder)
    n = int(rng.integers(6, 11)); heading0 = rng.uniform(0, 360)
    t_c, rh, z = rng.uniform(7, 29), rng.uniform(.4, .9), rng.uniform(5, 300)
    p = float(weather.isa_pressure(normal(rng, 1014, 7) * 100, z)); rho = float(weather.density(t_c, p, rh))
    u10, wdir, z0 = rng.uniform(0, 5), rng.uniform(0, 360), float(np.exp(normal(rng, math.log(.04), .3)))
    local = 1 + normal(rng, 0, MEAN_SIGMA)
    u_veh = u10 * weather.transfer(z0, v.height_m) * local
    length = 4200.0; xs = np.arange(0, length, 5.0)
    use_gpx = rng.random() < .65   # who records no position picks a flat road
    mean_slope = normal(rng, 0, .0015 if use_gpx else .0008)
    und = sum(rng.standard_normal() / h * np.cos(2 * math.pi * (h * xs / length + rng.random())) for h in range(2, 14))
    und *= (0.0010 if use_gpx else 0.0002) / np.std(und); grade = mean_slope + und; ele = z + np.concatenate([[0], np.cumsum(grade[:-1] * 5.0)])
    lat0, lon0 = rng.uniform(46, 57), rng.uniform(2, 20); my, mx = road._metric(np.array(lat0))
    top = (rng.uniform(24, 27) if v.body in ("lorry",) else rng.uniform(27, 31))
    version = "1.0" if rng.random() < .4 else "1.1"
    offset = int(rng.choice([0, 1, 2])); tz = timezone(timedelta(hours=offset))
    start = datetime(2026, int(rng.integers(4, 10)), int(rng.integers(1, 28)), int(rng.integers(6, 11)), int(rng.integers(0, 60)), 0, tzinfo=timezone.utc)
    slow_dir = normal(rng, 0, 4); clock = 0.0; lines = ['vehicle = "vehicle.toml"']; weather_lines: list[str] = []; checks = []; h = float(rng.choice([1.5, 2.0, 2.5, 3.0]))
    up = math.log(weather.BLEND_M / .03) / math.log(10 / .03); at_h = up * math.log(h / z0) / math.log(weather.BLEND_M / z0)
    hour_u, hour_d = ornstein_uhlenbeck(rng, n, 300, 1500), ornstein_uhlenbeck(rng, n, 300, 1500)
    said_u, said_d = [], []
    c_ref = v.crr
    for i in range(n):
        sign = 1 if i % 2 == 0 else -1
        head = math.radians(heading0 + (0 if sign > 0 else 180)); m = 1500
        level = max(0, 1 + .08 * hour_u[i]); th = wdir + 6 * hour_d[i]
        along = u_veh * level * (1 + SLOW_SD * ornstein_uhlenbeck(rng, m, DT, SLOW_TAU)) + .24 * u_veh * level * ornstein_uhlenbeck(rng, m, DT, 3.0)
        cross = .19 * u_veh * level * ornstein_uhlenbeck(rng, m, DT, 2.0)
        r = math.radians(th); north, east = -along * math.cos(r) + cross * math.sin(r), -along * math.sin(r) - cross * math.cos(r)
        wp = north * math.cos(head) + east * math.sin(head); wc = -north * math.sin(head) + east * math.cos(head)
        begin = rng.uniform(50, 150)
        slope = (lambda s: float(np.interp(begin + s, xs, grade))) if sign > 0 else (lambda s: -float(np.interp(length - begin - s, xs, grade)))
        warm = normal(rng, .97, .03)                                   # tyres warmed up by 20 min of driving
        c = float(physics.rolling_coefficient(v, np.array(22.2), v.pressure_kpa, t_c, np.array(warm)))
        sp, ds = _coast(v, mass, top + normal(rng, 0, .5), rho, wp.tolist(), wc.tolist(), slope, c)
        pos = begin + ds if sign > 0 else length - begin - ds
        t = np.arange(len(sp)) * DT; hd = math.radians(heading0)
        name = f"pass{i + 1}.gpx" if use_gpx else f"pass{i + 1}.csv"
        t0 = start + timedelta(seconds=clock)
        if use_gpx:
            fx = receiver.observe(rng, t, lat0 + pos * math.cos(hd) / my, lon0 + pos * math.sin(hd) / mx, np.interp(pos, xs, ele), sp, np.interp(pos, xs, grade), True)
            files.gpx(folder / name, fx, t0, version); speed_seen, t_seen = fx.speed, fx.t
        else:
            noisy = sp + rng.uniform(.02, .05) * ornstein_uhlenbeck(rng, len(sp), DT, 1.5) + rng.normal(0, .03, len(sp))
            (folder / name).write_text("time_s,speed_kmh\n" + "\n".join(f"{a:.1f},{b * 3.6:.2f}" for a, b in zip(t, noisy)) + "\n"); speed_seen, t_seen = noisy, t
        lines += ["[[pass]]", f'track = "{name}"'] + ([] if use_gpx else [f'heading = "{math.degrees(head) % 360:.0f} deg"']) + [f'mass = "{said} kg"']
        if i % 3 == 0 or i == n - 1:
            u = max(0, u10 * at_h * local * level * (1 + normal(rng, 0, .08)) / (1 + normal(rng, 0, MEAN_SIGMA)) + normal(rng, 0, .15)); d = (th + slow_dir + normal(rng, 0, 5)) % 360
            said_u.append(u); said_d.append(d)
            weather_lines += ["[[weather.reading]]", f"time = {t0.astimezone(tz).isoformat()}", f'wind_speed = "{u:.1f} m/s"', f'wind_from = "{round(d / 5) * 5 % 360} deg"',
                              f'gust = "{u * normal(rng, 1.6, .1):.1f} m/s"', f'height = "{h} m"', f'temperature = "{t_c + normal(rng, 0, .4):.1f} degC"',
                              f'pressure = "{p / 100 + normal(rng, 0, .3):.0f} hPa"', f'relative_humidity = "{round(rh * 100)} %"']
        checks.append((t_seen, speed_seen, sign, np.interp(pos, xs, grade)[np.clip(np.searchsorted(t, t_seen), 0, len(t) - 1)] * sign, head))
        clock += round(t[-1] + rng.uniform(140, 260))
    (folder / "coastdown.toml").write_text("\n".join(lines + ["[weather]"] + weather_lines) + "\n")
    spin = lambda s: v.spin_n * (1 + v.spin_v * s)
    tyre = lambda s: float(physics.rolling_coefficient(v, np.array(s), v.pressure_kpa, 20.0, np.array(1.0)))
    roll = lambda s: tyre(s) + spin(s) / (mass * G)
    v80, v50 = 80 / 3.6, 50 / 3.6
    r80 = 0.5 * weather.RHO_REF * v.cda * v80**2 + roll(v80) * mass * G
    files.truth(folder, {"drag_area_m2": v.cda, "rolling_coefficient": roll(v50), "resistance_at_80_kmh_n": r80,
        "definition": "drag area at zero yaw; rolling_coefficient = all resistance in neutral that is not air drag (tyres, bearings, transmission output side) / (m g) at 50 km/h, tyres warm, 20 degC air, usual pressure; resistance on the calm reference day 20 degC 100 kPa 50 % RH",
        "rolling_tyres_only_at_50_kmh": tyre(v50), "rolling_at_standstill": roll(0.0), "rolling_at_80_kmh": roll(v80), "mass_kg": mass, "rotating_mass_kg": v.wheel_inertia_kg,
        "yaw_k_per_rad2": v.yaw_k, "wind_10m_mps": u10, "wind_at_vehicle_mps": u_veh, "wind_from_deg": wdir, "mean_slope": mean_slope, "heading_deg": heading0, "passes": n, "with_position": use_gpx})
    cda, cr = _expert(v, said, rho, t_c, checks, np.mean(said_u) / at_h * weather.transfer(.04, v.height_m), said_d, use_gpx)
    return {"seed": seed, "body": v.body, "passes": n, "u10": u10, "gpx": use_gpx, "dA": (cda / v.cda - 1) * 100, "dR": (cr / roll(v50) - 1) * 100}


def _expert(v: vehicle.Vehicle, mass: float, rho: float, t_c: float, passes: list, u: float, dirs: list, grade_known: bool) -> tuple[float, float]:
    """Self-check: windowed decelerations, class yaw rise, along-wind fitted, ridge towards the reading."""
    me = mass * 1.03; k = vehicle.BODIES[v.body][5]
    th = math.atan2(np.mean(np.sin(np.radians(dirs))), np.mean(np.cos(np.radians(dirs))))
    rows = []
    for t, sp, sign, g, head in passes:
        edges = np.arange(t[0], t[-1] - 6, 6.0)
        for a in edges:
            w = (t >= a) & (t < a + 6.01)
            if w.sum() < 4: continue
            rows.append((np.polyfit(t[w] - t[w].mean(), sp[w], 1)[0], sp[w].mean(), g[w].mean() if grade_known else 0.0, sign, head))
    A = np.array(rows); h0 = passes[0][4]
    wpar0, wc = -u * math.cos(th - h0), abs(u * math.sin(th - h0))
    best = None
    for dw in np.linspace(-1.5, 1.5, 61):
        wp = (wpar0 + dw) * A[:, 3]; r = A[:, 1] - wp; psi = np.arctan2(wc, np.abs(r))
        aero = 0.5 * rho * physics.drag_factor(psi, k) * (r * r + wc * wc + .10 * u * u)
        cols = [aero, mass * G * (1 + .03 * ((A[:, 1] / 22.2) ** 2 - 1))] + ([] if grade_known else [mass * G * A[:, 3]])
        y = -me * A[:, 0] - mass * G * A[:, 2]
        x, *_ = np.linalg.lstsq(np.column_stack(cols), y, rcond=None)
        res = y - np.column_stack(cols) @ x
        cost = len(y) * math.log(np.sum(res**2)) + (dw / .4) ** 2
        if best is None or cost < best[0]: best = (cost, x)
    x = best[1]; back = math.exp(vehicle.CRR_WARM_K * (t_c - 20 - .03 * vehicle.TYRE_RISE_K))
    return float(x[0]), float(x[1] * (1 + .03 * ((50 / 80.0) ** 2 - 1)) * back)
