"""Comparison sets: 4 + 4 weighed runs on eight days, with no change or a real one of 4 to 6 %."""
from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from .air import CALM_AIR
from .drive import Trace, draw_driver, go, sustainable
from .energy import chain, evaluate, start_state
from .noise import clipped
from .route import draw_route
from .runs import draw_habits, draw_wind, write_run
from .vehicle import Vehicle, build_sheet, changed, draw_vehicle
from .weather import draw_day

KINDS = ("tyres", "drag", "engine", "axle")


def one_set(seed: int, out: Path) -> dict[str, float]:
    """Make one set."""
    rng = np.random.default_rng([20263, seed])
    v = draw_vehicle(rng)
    r = draw_route(rng, sustainable(v))
    base_driver = draw_driver(rng)
    h = draw_habits(v, rng)
    cold = bool(rng.random() < 0.3)
    season = float(np.clip(rng.normal(14, 5), 3, 26))
    first = None
    days, drivers, pauses, acc = [], [], [], []
    elapsed = 0
    for k in range(8):
        d = draw_day(rng, r.terrain, float(r.z.mean()), draw_wind(rng), season + 0.15 * elapsed / 2 + clipped(rng, 0, 3.5))
        if first is None:
            first = d
        else:
            elapsed += int(rng.integers(1, 4)) + (2 if k == 4 else 0)
            when = first.start.replace(hour=d.start.hour, minute=d.start.minute, second=d.start.second) + timedelta(days=elapsed)
            # the road and the field are the same; the day's exposure differs a little
            d = replace(d, start=when, utc_offset_h=first.utc_offset_h, field_elevation=first.field_elevation, z0=first.z0,
                        exposure=first.exposure, run_factor=first.run_factor * float(np.exp(rng.normal(0, 0.06))))
        days.append(d)
        drivers.append(replace(base_driver, factor=1 + clipped(rng, 0, 0.007), accel=base_driver.accel * (1 + clipped(rng, 0, 0.05)),
                               brake=base_driver.brake * (1 + clipped(rng, 0, 0.05)), lug=base_driver.lug * (1 + clipped(rng, 0, 0.01))))
        pauses.append(rng.uniform(4, 15))
        acc.append(1 + clipped(rng, 0, 0.12))
    real = rng.random() < 0.6
    kind = str(rng.choice(KINDS, p=[0.25, 0.25, 0.30, 0.20])) if real else "none"
    target = rng.uniform(4, 6) * (-1 if rng.random() < 0.75 else 1) if real else 0.0
    seeds = rng.integers(0, 2**31, 8)
    base_traces = [go(v, r, days[k], drivers[k], np.random.default_rng(int(seeds[k]))) for k in range(4)]

    def calm(w: Vehicle, k: int, tr: Trace) -> float:
        st = start_state(w, days[k].air.temperature_c, cold, pauses[k], 20.0)
        return evaluate(w, tr, r, days[k], st, wind=False, air=CALM_AIR, engine_cold=False, tyres_cold=False, accessory=acc[k]).fuel_g

    def change_of(w: Vehicle, traces: list[tuple[int, Trace]]) -> float:
        a = np.array([[calm(v, k, tr), calm(w, k, tr)] for k, tr in traces])
        return float(100 * np.mean(a[:, 1] / a[:, 0] - 1))
    w = v
    if real:
        def solve(kd: str) -> Vehicle:
            lo, hi = 0.5, 1.6
            one = [(0, base_traces[0])]
            rising = kd != "engine"
            for _ in range(22):
                mid = 0.5 * (lo + hi)
                over = change_of(changed(v, kd, mid), one) > target
                if over == rising:
                    hi = mid
                else:
                    lo = mid
            x = changed(v, kd, 0.5 * (lo + hi))
            return replace(x, final_drive=round(x.final_drive, 2)) if kd == "axle" else x
        w = solve(kind)
        if kind == "axle" and abs(change_of(w, [(0, base_traces[0])]) - target) > 0.5:
            kind, w = "engine", solve("engine")
        if kind == "axle" and not 0.78 < w.final_drive / v.final_drive < 1.28:
            kind, w = "engine", solve("engine")
    new_traces = [go(w, r, days[k], drivers[k], np.random.default_rng(int(seeds[k])), w.final_drive / v.final_drive)
                  for k in range(4, 8)]
    case = out / str(seed)
    case.mkdir(parents=True, exist_ok=True)
    sheet, csv = build_sheet(v, rng)
    if kind == "axle":
        sheet += f'[[change]]\ndate = {(days[4].start - timedelta(days=1)):%Y-%m-%d}\nwhat = "another axle ratio"\nfinal_drive = {w.final_drive:.2f}\n'
    (case / "vehicle.toml").write_text(sheet)
    if csv:
        (case / "full_load.csv").write_text(csv)
    rows, names = [], []
    for k, tr in enumerate(base_traces + new_traces):
        car = v if k < 4 else w
        vm = float(tr.v[tr.v > 0.5].mean())
        c = chain(car, tr, r, days[k], start_state(car, days[k].air.temperature_c, cold, pauses[k], vm), acc[k])
        name = f"baseline_{k + 1}" if k < 4 else f"changed_{k - 3}"
        names.append(name)
        write_run(case / name, "../vehicle.toml", car, r, days[k], tr, cold, c["driven"], h, rng, f"{name.replace('_', ' ')}")
        rows.append({"run": name, "distance_m": tr.distance, "fuel_g": c["driven"], "calm_day_fuel_g": c["calm"],
                     "penalties_percent": {q: c[q] for q in ("wind", "air_density", "cold_engine", "cold_tyres")},
                     "calm_g_per_km": c["calm"] / tr.distance * 1000})
    (case / "comparison.toml").write_text(
        "baseline = [" + ", ".join(f'"{x}/run.toml"' for x in names[:4]) + "]\nchanged = [" + ", ".join(f'"{x}/run.toml"' for x in names[4:]) + "]\n")
    true = change_of(w, list(enumerate(base_traces + new_traces))) if real else 0.0
    b, q = (np.mean([x["calm_g_per_km"] for x in rows[s]]) for s in (slice(0, 4), slice(4, 8)))
    raw_b, raw_q = (sum(x["fuel_g"] for x in rows[s]) / sum(x["distance_m"] for x in rows[s]) for s in (slice(0, 4), slice(4, 8)))
    truth = {"seed": seed, "change_percent": true, "kind": kind, "declared": kind == "axle",
             "definitions": "change_percent: mean over the eight traces of calm-day fuel with the changed vehicle over that with the baseline vehicle, "
                            "same trace, gears and accessories, minus one; negative = less fuel",
             "raw_change_percent": 100 * (raw_q / raw_b - 1), "calm_change_as_driven_percent": 100 * (q / b - 1), "engine_start": "cold" if cold else "warm",
             "body": v.body, "engine": v.family, "route": r.kind, "terrain": r.terrain, "runs": rows}
    (case / "truth.json").write_text(json.dumps(truth, indent=1) + "\n")
    return {"kind": float(("none", *KINDS).index(kind)), "change": true, "raw_change": truth["raw_change_percent"], "driven_differently": truth["calm_change_as_driven_percent"] - true}
