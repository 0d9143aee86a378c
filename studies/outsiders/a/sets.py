"""Before/after sets: four and four runs on eight days, same vehicle, route, driver and kit; no change, or a change of 4 to 6 %.

change_percent: fuel of the changed vehicle / fuel of the unchanged one - 1 on the calm day, summed over the eight traces, same gears.
Per day there is also a little that no sheet tells: road surface (rolling +-0.8 %), lights and fan (+-120 W at the shaft).
"""
from __future__ import annotations
from dataclasses import replace
import datetime as dt
import json
from pathlib import Path
from typing import Callable
import numpy as np
from .driver import Style, draw_style
from .runs import TERRAINS, TERRAIN_P, Driven, calm_state, draw_course, draw_kit, draw_wind, hidden, simulate, total_g, write_run
from .vehicles import Vehicle, build_sheet, draw_vehicle
from .wind import draw_day

Change = Callable[[Vehicle, float], Vehicle]


def _engine(v: Vehicle, x: float) -> Vehicle:
    return replace(v, engine=replace(v.engine, e0=v.engine.e0 * x))


def _friction(v: Vehicle, x: float) -> Vehicle:
    return replace(v, engine=replace(v.engine, fmep=tuple(f / x for f in v.engine.fmep)))  # type: ignore[arg-type]


def _drag(v: Vehicle, x: float) -> Vehicle:
    return replace(v, cda=v.cda / x)


def _rolling(v: Vehicle, x: float) -> Vehicle:
    return replace(v, c_roll=v.c_roll / x)


def _final(v: Vehicle, x: float) -> Vehicle:
    return replace(v, final=round(v.final / x, 2))


CHANGES: dict[str, tuple[Change, float]] = {  # and how often, assumed
    "pump or ignition timing": (_engine, .35), "engine repair": (_friction, .15), "body fairings": (_drag, .2), "other tyres of the same size": (_rolling, .15),
    "axle ratio": (_final, .15)}


def _effect(veh: Vehicle, new: Vehicle, runs: list[Driven]) -> float:
    a = sum(total_g(d.trace, calm_state(d.state, len(d.trace.t)), veh) for d in runs)
    b = sum(total_g(d.trace, calm_state(d.state, len(d.trace.t)), new) for d in runs)
    return 100 * (b / a - 1)


def _solve(veh: Vehicle, change: Change, target: float, runs: list[Driven]) -> float | None:
    """Size of the change by regula falsi on its logarithm."""
    lo, hi = -.30, .30
    f = lambda q: _effect(veh, change(veh, float(np.exp(q))), runs) - target
    a, b = f(lo), f(hi)
    if a * b > 0:
        return None
    q = 0.0
    for _ in range(9):
        q = .5 * (lo + hi) if _ % 3 == 2 else lo - a * (hi - lo) / (b - a)
        c = f(q)
        if abs(c) < .01:
            break
        if a * c < 0:
            hi, b = q, c
        else:
            lo, a = q, c
    return float(np.exp(q))


def make_case(seed: int, folder: Path) -> dict[str, object]:
    for attempt in range(40):
        rng = np.random.default_rng([303, seed, attempt])
        real = seed % 2 == 1
        veh = draw_vehicle(rng)
        route, stops = draw_course(rng)
        style = draw_style(rng, stops)
        terrain = str(rng.choice(TERRAINS, p=TERRAIN_P))
        z_road = float(rng.uniform(10, 420))
        t_mid = float(rng.uniform(7, 22))
        target = float(rng.uniform(4, 6)) * (-1 if rng.random() < .75 else 1) if real else 0.0
        what = str(rng.choice(list(CHANGES), p=[c[1] for c in CHANGES.values()])) if real else "none"
        habit_cold = bool(rng.random() < .2)   # most testers warm up first; some always start cold
        roads, lights = 1 + .008 * rng.standard_normal(8), 120 * rng.standard_normal(8)
        days = [draw_day(rng, draw_wind(rng), terrain, z_road, (t_mid - 7, t_mid + 7)) for _ in range(8)]
        # one station, one road: its lasting differences are shared in part, siting and exposure by half of the variance
        days = [replace(d, z0=days[0].z0, z_station=days[0].z_station, local=days[0].local,
                        site=float(np.exp(.5 ** .5 * (np.log(days[0].site) + np.log(d.site))))) for d in days]
        press = [veh.pressure * (1 + .01 * rng.standard_normal()) for _ in range(8)]

        def one(i: int, v: Vehicle) -> Driven | None:
            r = np.random.default_rng([404, seed, attempt, i])
            st: Style = replace(style, pace=style.pace * float(1 + .010 * r.standard_normal()), a_max=style.a_max * float(1 + .06 * r.standard_normal()),
                                corner=style.corner * float(1 + .04 * r.standard_normal()))
            return simulate(r, v, route, st, days[i], habit_cold, 0.0, press[i], float(roads[i]), float(lights[i]))

        base = [one(i, veh) for i in range(8)]
        if any(d is None for d in base):
            continue
        ok = [d for d in base if d is not None]
        if not all(15 <= float(d.truth["distance_m"]) / 1e3 <= 60 and 19 <= float(d.truth["minutes"]) <= 60 for d in ok):  # type: ignore[arg-type]
            continue
        new, effect = veh, 0.0
        runs = ok
        if real:
            x = _solve(veh, CHANGES[what][0], target, ok[:4])
            if x is None:
                continue
            new = CHANGES[what][0](veh, x)
            later = [one(i, new) for i in range(4, 8)]
            if any(d is None for d in later):
                continue
            runs = ok[:4] + [d for d in later if d is not None]
            effect = _effect(veh, new, runs)
            if not 4 <= abs(effect) <= 6:
                continue
        break
    else:
        raise RuntimeError(f"set {seed}: nothing suitable")
    folder.mkdir(parents=True, exist_ok=True)
    sheet, curve, told = build_sheet(veh, rng)
    first = dt.datetime(2025, 3, 1) + dt.timedelta(days=int(rng.integers(0, 200)))
    gaps = np.cumsum(rng.integers(1, 6, 8))
    starts = [first + dt.timedelta(days=int(g), hours=int(rng.integers(8, 16)), minutes=int(rng.integers(0, 60))) for g in gaps]
    tz = int(rng.choice([0, 1, 2]))
    if what == "axle ratio":
        sheet += f'[[change]]\ndate = {starts[4].strftime("%Y-%m-%d")}\nwhat = "axle ratio"\nfinal_drive = {new.final:g}\n'
    (folder / "vehicle.toml").write_text(sheet)
    if curve:
        (folder / "full_load.csv").write_text(curve)
    kit = draw_kit(rng, veh)
    lat0, lon0 = float(rng.uniform(38, 58)), float(rng.uniform(-9, 22))
    source = str(rng.choice(["metar", "both"], p=[.75, .25]))
    for i, d in enumerate(runs):
        # each day's scale error within the maker's half width is the same scale, so the span stays
        write_run(folder / f"run{i + 1}", rng, veh if i < 4 else new, d, kit, f"day {i + 1}", starts[i], tz, lat0, lon0, 0.0, "../vehicle.toml", source)
    (folder / "comparison.toml").write_text("baseline = [" + ", ".join(f'"run{i}/run.toml"' for i in range(1, 5)) + "]\nchanged = ["
                                            + ", ".join(f'"run{i}/run.toml"' for i in range(5, 9)) + "]\n")
    truth: dict[str, object] = {
        "change_percent": effect, "change": what, "declared": what == "axle ratio", "cold_starts": habit_cold, "hidden": hidden(veh), "told": told,
        "raw_change_percent": 100 * (float(np.mean([_gpk(d) for d in runs[4:]])) / float(np.mean([_gpk(d) for d in runs[:4]])) - 1),
        "runs": [{"raw_error_percent": d.truth["raw_error_percent"], "wind_10m_mps": d.day.u10, "calm_day_g_per_km": float(d.truth["calm_day_fuel_g"]) / float(d.truth["distance_m"]) * 1e3}  # type: ignore[arg-type]
                 for d in runs]}
    (folder / "truth.json").write_text(json.dumps(truth, indent=1) + "\n")
    return truth


def _gpk(d: Driven) -> float:
    return d.fuel_g / float(d.truth["distance_m"]) * 1e3  # type: ignore[arg-type]
