"""Comparison sets: four days before, four after, one route, one driver, with or without a change."""
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
import numpy as np
from . import files, physics, road, runs, vehicle, weather
from .physics import CALM, Conditions, Start
from .randoms import lognormal, normal, stream

DAY_SD = 0.003   # unexplained day-to-day factor on fuel (lamps, fan, traffic, fuel line); assumed, [needs 0: 1-2 % raw on a good day]
KINDS = {"engine": "engine work", "drag": "bodywork", "tyres": "other tyres of the same size", "pressure": "tyre pressure"}


def changed(v: vehicle.Vehicle, kind: str, size: float) -> vehicle.Vehicle:
    """The vehicle after a change of this size (relative, of the property named)."""
    match kind:
        case "engine": return replace(v, e=v.e / (1 + size), fmep=tuple(c * (1 + 0.5 * size) for c in v.fmep))
        case "drag": return replace(v, cd=v.cd * (1 + size))
        case "tyres": return replace(v, crr=v.crr * (1 + size))
        case _: return v


def make_again(seed: int, folder: Path) -> dict:
    """Another draw where tyre pressure alone cannot make so large a change."""
    return make(seed, folder, "again")


def make(seed: int, folder: Path, salt: str = "") -> dict:
    """One set; returns its self-check line."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = stream("set", seed, salt) if salt else stream("set", seed)
    v = vehicle.draw(rng); k = vehicle.knowledge(v, rng)
    kind_route = str(rng.choice(["loops", "out-and-back", "mixed"], p=[.6, .2, .2]))
    cruise = {"loops": 21.5, "mixed": 19.0, "out-and-back": 21.0}[kind_route] * normal(rng, 1, .06)
    route = road.make_route(rng, kind_route, rng.uniform(31000, 47000)); plan = road.make_plan(rng, route.lap_m, cruise, kind_route == "mixed")
    drv = road.make_driver(rng, v.n_idle, v.fuel == "diesel", cruise)
    terrain = str(rng.choice(["open", "farmland", "hedged"], p=[.3, .55, .15])); cold = rng.random() < .2
    z_road = float(np.mean(route.ele)); base = weather.make_day(rng, terrain, z_road)
    season = rng.uniform(8, 21); first = datetime(2026, int(rng.integers(4, 9)), int(rng.integers(1, 20)), 0, 0, tzinfo=timezone.utc)
    real = seed % 2 == 1; kind = str(rng.choice(list(KINDS), p=[.5, .2, .15, .15]))
    order = "BCCBBCCB" if kind in ("drag", "pressure") and rng.random() < .5 else "BBBBCCCC"
    station_common = lognormal(rng, 1, .06); doppler = rng.random() < .9; version = "1.0" if rng.random() < .4 else "1.1"
    rep = round(rng.uniform(3, 6)); offset = int(rng.choice([0, 1, 2])); dens = bool(rng.random() < .7)
    hour = int(rng.integers(7, 12)); dates = np.cumsum(rng.integers(1, 6, 8))
    days, traces = [], []
    pressure = v.pressure_kpa
    if kind == "pressure":   # soft tyres before, properly inflated after; written in each run.toml
        pressure = round(.7 * v.pressure_kpa / 5) * 5
    for i in range(8):
        d = weather.make_day(rng, terrain, z_road)
        d = replace(d, t_c=float(np.clip(season + normal(rng, 0, 4), -1, 30)), z0=base.z0, station_z=base.station_z, intensity=base.intensity,
                    station_factor=station_common * lognormal(rng, 1, .035), station_dir=.6 * base.station_dir + normal(rng, 0, 4))
        start = Start(1.0, 0.0) if cold else Start(0.0, rng.uniform(.82, 1.0))
        dd = replace(drv, cruise=cruise, accel=drv.accel * normal(rng, 1, .06), wander=drv.wander)
        pl = replace(plan, limit=plan.limit * normal(rng, 1, .012))
        traces.append(runs.setting(v, route, pl, dd, d, start, 0.0, pressure, rng)); days.append(d)

    def calm(w: vehicle.Vehicle, p: float) -> float:
        return sum(runs.burn(replace(x, v=w, pressure_kpa=p), CALM) for x in traces)

    before = calm(v, pressure); v2, p2, pct = v, pressure, 0.0
    if real:
        goal = rng.uniform(4.0, 6.0) * (-1 if kind == "pressure" or rng.random() < .8 else 1)
        lo, hi = (0.0, .6) if goal > 0 else (-.6, 0.0)
        if kind == "pressure": lo, hi = 1.0, 1.7
        for _ in range(14):
            mid = .5 * (lo + hi)
            now = (calm(v, pressure * mid) if kind == "pressure" else calm(changed(v, kind, mid), pressure)) / before * 100 - 100
            if kind == "pressure": lo, hi = (mid, hi) if now > goal else (lo, mid)
            else: lo, hi = (mid, hi) if now < goal else (lo, mid)
        if kind == "pressure" and abs(now - goal) > 0.3: return make_again(seed, folder)
        if kind == "pressure": p2 = round(pressure * mid / 5) * 5
        else: v2 = changed(v, kind, mid)
        pct = calm(v2, p2) / before * 100 - 100
    extra = ""
    if order == "BBBBCCCC" and kind != "pressure" and rng.random() < .5:   # half of them keep the log
        day = first + timedelta(days=int(dates[4]))
        extra = f'\n[[change]]\ndate = {day.strftime("%Y-%m-%d")}\nwhat = "{KINDS[kind]}"\n'
    files.vehicle_toml(v, k, folder, extra)
    seen = {"B": [], "C": []}; names = {"B": [], "C": []}; per_run = []
    for i, arm in enumerate(order):
        w, p = (v2, p2) if arm == "C" else (v, pressure)
        x = replace(traces[i], v=w, pressure_kpa=p)
        fuel = runs.burn(x, Conditions()) * (1 + normal(rng, 0, DAY_SD))
        sub = folder / f"day{i + 1}"; sub.mkdir(exist_ok=True)
        t0 = first + timedelta(days=int(dates[i]), hours=hour, minutes=int(rng.integers(0, 60)), seconds=int(rng.integers(0, 60)))
        reports, net = runs.write_run(sub, "run.toml", "drive.gpx", x, rng, t0, offset, f"day {i + 1}, {'baseline' if arm == 'B' else 'changed'}", fuel, doppler, version,
                                      "../vehicle.toml", rep, False, dens)
        est, _ = runs.expert(replace(x, v=v), k, reports, net, False)
        seen[arm].append(np.log(est / x.tr.s[-1])); names[arm].append(f'"day{i + 1}/run.toml"')
        per_run.append({"fuel_g": fuel, "calm_day_fuel_g": runs.burn(x, CALM), "distance_m": x.tr.s[-1], "wind_10m_mps": days[i].u10, "arm": arm})
    (folder / "comparison.toml").write_text(f"baseline = [{', '.join(names['B'])}]\nchanged = [{', '.join(names['C'])}]\n")
    files.truth(folder, {"change_percent": pct, "real": real, "kind": kind if real else "none", "order": order, "runs": per_run,
        "definition": "sum over the eight traces (same gears) of calm-day fuel of the changed vehicle over that of the baseline vehicle, minus 1; per-day unexplained factor excluded"})
    got = (np.exp(np.mean(seen["C"]) - np.mean(seen["B"])) - 1) * 100
    s = np.sqrt((np.var(seen["B"], ddof=1) + np.var(seen["C"], ddof=1)) / 2) * 100
    return {"seed": seed, "real": real, "kind": kind, "truth": pct, "expert": float(got), "error": float(got - pct), "s": float(s), "half_t": float(2.447 * s * np.sqrt(.5)), "cold": cold}
