"""Comparison sets: 4 + 4 runs on eight days, same route and driver, with or without a real change."""
from __future__ import annotations
from dataclasses import replace
from datetime import datetime, timedelta
import json
import math
from pathlib import Path
import numpy as np
from .cases import Driven, WIND_A, WIND_B, WIND_MAX, _flavour, draw_route, draw_scale, draw_style, drive_once, write_run
from .drive import gears_of
from .physics import CALM, Effects, fuel_mass, wheel_force
from .vehicles import Vehicle, build_sheet, draw_vehicle

DAY_SCATTER = 0.003     # one s.d., unexplained from day to day: battery charge, lights, dragging brake (assumed), as engine efficiency
DAY_ACCESSORY_SD = 60.0 # W, lights and heater fan (assumed)


def changed_vehicle(v: Vehicle, kind: str, x: float) -> Vehicle:
    """x: relative step of the changed property."""
    if kind == "engine":            # timing, injectors, an engine repair: indicated efficiency; on no build sheet
        return replace(v, e_i=v.e_i * (1 + x))
    if kind == "body":              # fairing and other tyres of the same size: drag and rolling; declared keys untouched
        return replace(v, cd=v.cd * (1 + x), crr=v.crr * (1 + x))
    if kind == "final_drive":       # declared
        return replace(v, final=round(v.final * (1 + x), 3))
    if kind == "tyres":             # other make, same size, rolling
        return replace(v, crr=v.crr * (1 + x))
    return v


def make_set(seed: int, out: Path) -> dict[str, object]:
    rng = np.random.default_rng([4103, seed])
    v = draw_vehicle(rng)
    r = draw_route(rng, v)
    style = draw_style(rng, v, r.cruise, r.kind == "mixed loop")
    kind = "none" if rng.random() < 0.5 else str(rng.choice(["engine", "body", "final_drive", "tyres"], p=[.5, .2, .15, .15]))
    want = 0.0 if kind == "none" else float(rng.choice([-1, 1], p=[.75, .25]) * rng.uniform(4, 6))
    usual_cold = float(rng.choice([0.0, 0.3, 1.0], p=[.55, .25, .20]))
    base = datetime(2026, 3, 1) + timedelta(days=int(rng.integers(0, 150)))
    tz = int(rng.choice([1, 2]))
    season = float(rng.uniform(6, 21))      # degC, middle of the weeks of the set
    days = np.sort(rng.choice(np.arange(0, 24), 4, replace=False)).tolist()
    days += (np.sort(rng.choice(np.arange(0, 24), 4, replace=False)) + 26).tolist()
    driven: list[Driven] = []

    def one(k: int, vehicle: Vehicle, rr: np.random.Generator) -> Driven:
        st = replace(style, cruise=style.cruise * math.exp(rr.normal(0, 0.015)), a_acc=style.a_acc * math.exp(rr.normal(0, .06)),
                     a_brake=style.a_brake * math.exp(rr.normal(0, .06)))
        start = base + timedelta(days=int(days[k]), hours=int(rr.integers(7, 16)), minutes=int(rr.integers(0, 60)), seconds=int(rr.integers(0, 60)))
        vd = replace(vehicle, e_i=vehicle.e_i * math.exp(rr.normal(0, DAY_SCATTER)),
                     accessories_w=max(150.0, vehicle.accessories_w + rr.normal(0, DAY_ACCESSORY_SD)))
        return drive_once(rr, vd, r, st, WIND_MAX * rr.beta(WIND_A, WIND_B), start, bool(rr.random() < usual_cold),
                          t_range=(season - 6, season + 6))

    seeds = rng.integers(0, 2 ** 31, 8)
    base_runs = [one(k, v, np.random.default_rng(int(seeds[k]))) for k in range(4)]
    # size of the step in the hidden property that gives the wanted change on these traces
    x, vc = 0.0, v

    def change(vb: Vehicle, runs: list[Driven]) -> float:
        def calm(vv: Vehicle, d: Driven) -> float:
            gear = d.gear
            if vb.final != v.final:         # another axle: the driver's gears follow, in each state its own
                f = wheel_force(vv, d.tr, d.cond, Effects(), d.mass)
                gear = gears_of(vv, d.tr, style, (f["air"] + f["roll"] + f["grade"] + f["inertia"]) * d.tr.v)
            return fuel_mass(vv, d.tr, gear, d.cond, CALM, d.mass)

        return 100 * (sum(calm(vb, d) for d in runs) / sum(calm(v, d) for d in runs) - 1)

    if kind != "none":
        lo, hi = (-0.6, 0.6)
        if kind == "final_drive":
            lo, hi = -0.35, 0.35
        up = change(changed_vehicle(v, kind, 0.02), base_runs) > 0
        for _ in range(14):
            x = (lo + hi) / 2
            if (change(changed_vehicle(v, kind, x), base_runs) > want) == up:
                hi = x
            else:
                lo = x
        vc = changed_vehicle(v, kind, x)
        got = change(vc, base_runs)
        if abs(got - want) > 0.7 or (kind == "final_drive" and abs(x) > 0.22) or (kind in ("body", "tyres") and abs(x) > 0.4):
            kind = "engine"         # that property cannot do it sensibly on this route: make it an engine repair
            x = 1 / (1 + want / 100) - 1
            vc = changed_vehicle(v, kind, x)
    driven = base_runs + [one(k, vc, np.random.default_rng(int(seeds[k]))) for k in range(4, 8)]
    true_change = change(vc, driven) if kind != "none" else 0.0

    folder = out / f"{seed}"
    folder.mkdir(parents=True, exist_ok=True)
    extra = ""
    when = base + timedelta(days=25)
    if kind == "final_drive":
        extra = f'[[change]]\ndate = {when:%Y-%m-%d}\nwhat = "axle changed"\nfinal_drive = {vc.final}\n'
    sheet = build_sheet(v, rng, extra=extra)
    (folder / "vehicle.toml").write_text(sheet.toml)
    (folder / "full_load.csv").write_text(sheet.full_load_csv)
    scale = draw_scale(rng, float(np.mean([d.fuel_kg for d in driven])) * 1e3)
    flavour, side, rho = _flavour(rng), bool(rng.random() < 0.15), bool(rng.random() < 0.5)
    runs = []
    for k, d in enumerate(driven):
        label = f"{'before' if k < 4 else 'after'} {k % 4 + 1}"
        write_run(folder / f"run{k + 1}", rng, v, r, d, scale, tz, "../vehicle.toml", label, flavour, side, rho)
        runs.append({"distance_m": float(d.tr.s[-1]), "fuel_g": d.fuel_kg * 1e3, "calm_day_fuel_g": d.calm_kg * 1e3,
                     "penalties_percent": d.pen, "raw_error_percent": 100 * (d.fuel_kg / d.calm_kg - 1), "wind_road_10m_mps": d.day.u10,
                     "cold_start": d.cold})
    f = lambda a: "[" + ", ".join(f'"run{k}/run.toml"' for k in a) + "]"
    (folder / "comparison.toml").write_text(f"baseline = {f(range(1, 5))}\nchanged = {f(range(5, 9))}\n")
    truth = {"change_percent": true_change, "kind": kind, "declared": kind == "final_drive", "step": x,
             "definition": "sum of calm-day fuel of all eight traces (same gears; with another axle the gears the driver takes in each state) with the change over without, in %; negative = less",
             "route": r.kind, "runs": runs}
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))
    return truth
