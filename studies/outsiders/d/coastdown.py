"""Coastdown cases: alternating passes on a straight with slope, gusts and yaw."""
from __future__ import annotations
from datetime import timedelta
import json
import math
from pathlib import Path
import numpy as np
from .air import G, RHO_REF
from .cases import _start
from .physics import aero_force, rolling_coefficient
from .receiver import gpx, observe
from .roads import straight_road
from .vehicles import Vehicle, build_sheet, draw_vehicle
from .weather import Day, Site, draw_day, draw_site, metars, road_density, road_wind, roadside

Rng = np.random.Generator
DT = 0.1
WIND_MAX = 5.0       # m/s
NEUTRAL_SPIN = 0.5   # share of the driveline drag that stays on the wheels in neutral (assumed)


def coast(v: Vehicle, mass: float, v0: float, v_end: float, s0: float, sgn: int, road_s: np.ndarray, grade: np.ndarray,
          heading: float, we: np.ndarray, wn: np.ndarray, rho: float, t_c: float, pressure_ratio: float, tyre_extra: float
          ) -> tuple[np.ndarray, np.ndarray]:
    """Speed and place against time; midpoint steps of DT. Ends at v_end or at the end of the road."""
    h = heading if sgn > 0 else heading + math.pi
    along, across = we * math.sin(h) + wn * math.cos(h), we * math.cos(h) - wn * math.sin(h)
    me = mass * (1 + v.rot_frac)
    vs, ss = [v0], [s0]
    u, s = v0, s0

    def acc(u: float, s: float, i: int) -> float:
        th = math.atan(sgn * float(np.interp(s, road_s, grade)))
        air = float(aero_force(v.cda, v.yaw_k, rho, np.float64(u - along[i]), np.float64(across[i])))
        roll = float(rolling_coefficient(v, u, t_c, pressure_ratio)) * (1 + tyre_extra) * mass * G * math.cos(th)
        return -(air + roll + NEUTRAL_SPIN * v.spin_n + mass * G * math.sin(th)) / me

    for i in range(along.size - 1):
        a1 = acc(u, s, i)
        um = u + 0.5 * DT * a1
        a2 = acc(um, s + sgn * 0.5 * DT * u, i)
        u, s = u + DT * a2, s + sgn * DT * um
        if u <= v_end or not (road_s[0] + 5 < s < road_s[-1] - 5):
            break
        vs.append(u); ss.append(s)
    return np.array(vs), np.array(ss)


def make_coastdown(seed: int, out: Path) -> dict[str, object]:
    rng = np.random.default_rng([4102, seed])
    v = draw_vehicle(rng)
    site = draw_site(rng, rng.uniform(10, 250))
    site = Site(str(rng.choice(["open", "farmland"], p=[.6, .4])), 0, 1, site.station, site.station_elev, site.road_elev)
    site = Site(site.terrain, {"open": .03, "farmland": .1}[site.terrain] * math.exp(rng.normal(0, .45)), math.exp(rng.normal(0, .12)),
                site.station, site.station_elev, site.road_elev)
    slope = float(rng.normal(0, 0.0025))
    road = straight_road(rng, rng.uniform(1700, 3000), slope, site.road_elev)
    start, tz = _start(rng)
    passes = int(rng.choice([6, 8, 10]))
    u10 = WIND_MAX * rng.beta(1.6, 1.1)
    day = draw_day(rng, u10, start, passes * 240.0, t_range=(6.0, 27.5))   # usual procedures: 5 to 35 degC
    rho, p = road_density(day, site)
    v0 = rng.uniform(70, 85) / 3.6 if v.body == "lorry" else rng.uniform(85, 110) / 3.6
    v_end = rng.uniform(12, 20) / 3.6
    pr = math.exp(rng.normal(0, 0.012))
    folder = out / f"{seed}"
    folder.mkdir(parents=True, exist_ok=True)
    sheet = build_sheet(v, rng, measured_mass_sd=7.0)
    (folder / "vehicle.toml").write_text(sheet.toml)
    (folder / "full_load.csv").write_text(sheet.full_load_csv)
    as_csv = bool(rng.random() < 0.45)
    flavour = str(rng.choice(["1.1", "1.0"]))
    hd = float(road.heading[0])
    tables: list[str] = []
    ground_speeds = []
    m_read = round((v.mass + rng.normal(0, 7)) / 5) * 5
    t_day = 0.0
    for k in range(passes):
        sgn = 1 if k % 2 == 0 else -1
        n = int(400 / DT)
        # gusts: the air mass passes at about the mean coasting speed
        tt = t_day + np.arange(n) * DT
        we, wn = road_wind(day, site, v.height, tt, np.full(n, 0.6 * v0), np.ones(n), rng)
        s0 = 40.0 if sgn > 0 else road.length - 40.0
        extra = v.tyre_cold * 0.10 * math.exp(-t_day / v.tau_tyre)        # warmed up for some 25 minutes before
        vs, ss = coast(v, v.mass, v0 * rng.uniform(.97, 1.03), v_end, s0, sgn, road.s, road.grade, hd, we, wn, rho, day.t_c, pr, extra)
        h = hd if sgn > 0 else hd + math.pi
        if as_csv:
            step = 1                             # 10 Hz logger
            sp = np.maximum(0, vs[::step] + 0.06 * rng.normal(size=vs[::step].size))
            rows = "".join(f"{i * DT * step:.1f},{x * 3.6:.2f}\n" for i, x in enumerate(sp))
            (folder / f"pass{k + 1}.csv").write_text("time_s,speed_kmh\n" + rows)
            tables += ["[[pass]]", f'track = "pass{k + 1}.csv"', f'heading = "{round(math.degrees(h) / 5) * 5 % 360:.0f} deg"', f'mass = "{m_read} kg"', ""]
        else:
            i = np.arange(0, vs.size, int(1 / DT))
            f = lambda y: np.interp(ss[i], road.s, y)
            fx = observe(rng, i * DT, f(road.lat), f(road.lon), f(road.z), np.full(i.size, h), vs[i], drop=False)
            (folder / f"pass{k + 1}.gpx").write_text(gpx(fx, (start + timedelta(seconds=t_day)).replace(microsecond=0), flavour))
            tables += ["[[pass]]", f'track = "pass{k + 1}.gpx"', f'mass = "{m_read} kg"', ""]
        ground_speeds.append((float(vs[0] * 3.6), float(vs[-1] * 3.6), float(vs.size * DT)))
        t_day += vs.size * DT + rng.uniform(60, 110)
    local = start + timedelta(hours=tz)
    day = Day(**{**day.__dict__, "seconds": t_day})
    L = ['vehicle = "vehicle.toml"', f"date = {local:%Y-%m-%d}", f'timezone = "{tz:+03d}:00"', "", *tables, "[weather]"]
    if rng.random() < 0.5:
        L += [roadside(day, site, rng, tz)]
    else:
        m = ",\n  ".join(json.dumps(x) for x in metars(day, site, rng))
        L += [f"metar = [\n  {m},\n]", f'field_elevation = "{site.station_elev:.0f} m"']
    (folder / "coastdown.toml").write_text("\n".join(L) + "\n")
    hub = NEUTRAL_SPIN * v.spin_n / (v.mass * G)

    def res(kmh: float) -> float:
        u = kmh / 3.6
        return 0.5 * RHO_REF * v.cda * u * u + float(rolling_coefficient(v, u, 20.0)) * v.mass * G + NEUTRAL_SPIN * v.spin_n

    truth = {
        "drag_area_m2": v.cda, "drag_area_definition": "zero yaw",
        "rolling_coefficient": float(rolling_coefficient(v, 50 / 3.6, 20.0)) + hub,
        "rolling_definition": "tyres plus hub and neutral driveline drag, at 50 km/h, over m g; 20 degC, warm, usual pressure",
        "rolling_coefficient_speed_to_zero": v.crr + hub, "rolling_coefficient_at_80_kmh": float(rolling_coefficient(v, 80 / 3.6, 20.0)) + hub,
        "rolling_coefficient_tyres_only_speed_to_zero": v.crr, "rolling_speed": v.crr_speed, "neutral_drag_n": NEUTRAL_SPIN * v.spin_n,
        "resistance_at_80_kmh_n": res(80.0), "resistance_at_kmh_n": {str(k): res(float(k)) for k in (20, 40, 60, 80, 100)},
        "mass_kg": v.mass, "rotating_fraction": v.rot_frac, "yaw_k_per_rad2": v.yaw_k, "mean_slope": slope, "air_density": rho,
        "temperature_C": day.t_c, "pressure_ratio": pr, "wind_10m_mps": u10, "wind_from_deg": math.degrees(day.direction) % 360,
        "road_heading_deg": math.degrees(hd), "passes_kmh_kmh_s": ground_speeds,
    }
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))
    return truth
