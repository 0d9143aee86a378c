"""Comparison sets: four runs before and four after, eight days, one route, one driver."""
from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from . import air, physics
from .driver import drive
from .runs import draw_setting, fuel_under, simulate, write_run
from .vehicle import Vehicle, draw_vehicle, write_vehicle

# what people change, as a factor on hidden properties: None of it is in the build sheet's declared keys
CHANGES = {"injection timing or repair (efficiency)": ("eta", -1), "drag: rack, cover or air dam": ("drag_coefficient", 1),
           "tyres of another make": ("crr0", 1), "engine oil and friction": ("f0", 1)}


def _calm(veh: Vehicle, tr: physics.Trace, mass: float, kpa: float) -> float:
    mix = {"wind": (0.0, 0.0), "air_density": air.RHO_REF, "cold_engine": (physics.WARM_OIL_C, physics.WARM_COOLANT_C, 20 + physics.WARM_GEAR_RISE_C),
           "cold_tyres": physics.tyre_temperature(veh, tr, 20.0, None)}
    return float(fuel_under(veh, tr, mass, kpa, veh.accessory_w, mix).sum() * tr.dt)


def _changed(veh: Vehicle, key: str, factor: float) -> Vehicle:
    return replace(veh, **{key: getattr(veh, key) * factor})


def make_set(seed: int, out: Path) -> None:
    rng = np.random.default_rng([303, seed])
    while True:
        veh = draw_vehicle(rng)
        base = draw_setting(rng, veh)
        tr = drive(veh, base.route, base.style, veh.mass_kg, 0.0, rng)
        if 15e3 <= tr.s[-1] <= 60e3 and 20.5 * 60 <= len(tr.v) * tr.dt <= 57 * 60:
            break
    # the sheet's drag and rolling, where declared, were of the vehicle before the change
    folder = out / f"{seed:03d}"
    folder.mkdir(parents=True, exist_ok=True)
    write_vehicle(veh, folder, f"set {veh.body} {seed}", rng)
    real = rng.random() < .5
    what, after, target = "none", veh, 0.0
    if real:
        target = float(rng.choice([-1, 1], p=[.75, .25])) * rng.uniform(4, 6)
        ref = _calm(veh, tr, veh.mass_kg, veh.tyre_kpa)
        names = list(CHANGES)
        for name in rng.permutation(names):
            key, direction = CHANGES[name]
            lo, hi = 0.55, 1.6
            for _ in range(24):                                    # bisection on the reference trace
                mid = (lo + hi) / 2
                change = 100 * (_calm(_changed(veh, key, mid), tr, veh.mass_kg, veh.tyre_kpa) / ref - 1)
                if (change < target) == (direction > 0):
                    lo = mid
                else:
                    hi = mid
            mid = (lo + hi) / 2
            if abs(change - target) < .02 and .72 < mid < 1.4:      # only changes a person could make
                what, after = str(name), _changed(veh, key, mid)
                break
        else:
            what, after = "efficiency", _changed(veh, "eta", 1 / (1 + target / 100))
    usually_cold = bool(rng.random() < .4)
    season = rng.uniform(3, 20)
    day = base.start_utc
    changes, raw, calm = [], [], []
    for i in range(8):
        v = veh if i < 4 else after
        st = replace(base, style=base.style.today(rng), mast_wind=11 * rng.beta(1.1, 1.45), temperature_c=float(np.clip(rng.normal(season, 4), -2, 31)),
                     cold=usually_cold if rng.random() < .8 else not usually_cold, start_utc=day + timedelta(minutes=int(rng.integers(-90, 90))),
                     payload_kg=0.0, roadside=bool(rng.random() < .22))
        o = simulate(v, st, rng)
        write_run(folder / f"run{i + 1}", v, st, o, rng, "../vehicle.toml", f"set {seed} run {i + 1}")
        a, b = _calm(veh, o.trace, o.mass_kg, o.pressure_kpa), _calm(after, o.trace, o.mass_kg, o.pressure_kpa)
        changes.append(100 * (b / a - 1))
        raw.append(o.fuel_g / o.trace.s[-1] * 1000), calm.append(o.calm_g / o.trace.s[-1] * 1000)
        day += timedelta(days=int(rng.integers(1, 5)))
    names = [f'"run{i + 1}/run.toml"' for i in range(8)]
    (folder / "comparison.toml").write_text(f"baseline = [{', '.join(names[:4])}]\nchanged = [{', '.join(names[4:])}]\n")
    (folder / "truth.json").write_text(json.dumps({
        "change_percent": float(np.mean(changes)), "definition": "mean over the eight traces of calm-day fuel with the change / without it - 1, same trace, route and gears",
        "what": what, "declared": False, "change_by_trace_percent": changes, "raw_g_per_km": raw, "calm_day_g_per_km": calm,
        "raw_change_percent": 100 * (np.mean(raw[4:]) / np.mean(raw[:4]) - 1), "calm_day_scatter_percent": 100 * float(np.std(calm[:4], ddof=1) / np.mean(calm[:4])),
        "engine": veh.engine_sort, "route": base.route.kind}, indent=1))
