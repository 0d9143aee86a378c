"""Comparison sets: 4 + 4 runs of one vehicle on one route on eight days, with no change or a 4 to 6 % change."""
from __future__ import annotations
import json, math
from dataclasses import asdict, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
import numpy as np
from . import air, drive, receiver
from .drive import Conditions, burn
from .road import draw_road
from .runs import NAMES_A, NAMES_B, WIND_EXPONENT, conditions, draw_day, draw_driver, observe, run_toml
from .vehicle import Vehicle, build_sheet, changed, draw_vehicle


def calm_fuel(veh: Vehicle, tr: drive.Trace, mass: float) -> float:
    """kg for the trace on the calm day (no day-to-day factors)."""
    rho = air.air_density(air.REF_T, air.REF_P, air.REF_RH)
    return burn(veh, tr, mass, Conditions(False, rho, air.REF_P, False, False, 20.0))[1]["fuel_kg"]


def make(seed: int, out: Path) -> dict[str, Any]:
    """Write one set; returns its truth."""
    rng = np.random.default_rng([73, seed])
    veh = draw_vehicle(rng); base_drv = draw_driver(rng, veh.body); base_drv = replace(base_drv, stops_per_10km=min(base_drv.stops_per_10km, 2.0))
    d0 = draw_day(rng); kind = "loop" if rng.uniform() < 0.7 else "out-and-back"; hill = float(rng.choice([0.005, 0.010, 0.018]))
    zone_seed = int(rng.integers(1 << 30))
    while True:
        total = rng.uniform(26e3, 50e3)
        if not 26 * 60 < total / (0.82 * base_drv.cruise) + base_drv.stops_per_10km * total / 1e4 * 22 < 54 * 60: continue
        road = draw_road(rng, kind, total, hill)
        if not 22e3 < road.length < 56e3: continue
        probe = drive.simulate(veh, road, replace(d0, u10=0.0), base_drv, 0.0, rng, np.random.default_rng(zone_seed))
        if 1260 < len(probe.v) * drive.DT < 3500: break
    # ---- the change
    real = bool(rng.uniform() < 0.5); what, x, target = "none", 0.0, 0.0; after = veh
    if real:
        what = str(rng.choice(["engine", "tyres", "body", "final"], p=[0.45, 0.20, 0.20, 0.15]))
        target = float(rng.uniform(0.04, 0.06)) * (-1 if rng.uniform() < 0.75 else 1); f0 = calm_fuel(veh, probe, veh.mass)
        rel = lambda y: calm_fuel(changed(veh, what, y), probe, veh.mass) / f0 - 1
        lo, hi = (-0.35, 0.35)
        if not (min(rel(lo), rel(hi)) < target < max(rel(lo), rel(hi))) or (what == "final" and target < 0 and rel(-0.2) > target): what = "engine"
        up = rel(hi) > rel(lo)
        for _ in range(40):
            x = 0.5 * (lo + hi)
            if (rel(x) < target) == up: lo = x
            else: hi = x
        after = changed(veh, what, x)
    name = f"{rng.choice(NAMES_A)} {rng.choice(NAMES_B)}"; sheet, full, know = build_sheet(veh, rng, name)
    case = out / f"{seed:04d}"; case.mkdir(parents=True, exist_ok=True)
    lat0, lon0 = float(rng.uniform(38, 57)), float(rng.uniform(-8, 18)); tz = int(np.clip(round(lon0 / 15) + 1, 0, 2))
    date = datetime(2026, 2, 1) + timedelta(days=int(rng.integers(0, 250))); t_base = float(rng.normal(13, 6))
    station_z = float(max(0, round(d0.elevation + rng.normal(0, 30)))); icao = "ZZ" + "".join(rng.choice(list("ABCDEFGH"), 2))
    source = str(rng.choice(["metar", "both"], p=[0.75, 0.25])); style = str(rng.choice(["1.0", "1.1x"])); kit_seed = int(rng.integers(1 << 30))
    payload = float(rng.choice([0, 0, 80])); cold_habit = bool(rng.uniform() < 0.25)
    runs: list[dict[str, Any]] = []; traces: list[drive.Trace] = []; change_date: datetime | None = None
    for i in range(8):
        v = veh if i < 4 else after
        day = replace(d0, u10=11.0 * float(rng.uniform()) ** WIND_EXPONENT, wind_from=float(rng.uniform(0, 360)), temp=float(np.clip(rng.normal(t_base, 3.5), -2, 31)),
                      qnh=float(rng.normal(1014, 8)) * 100, rh=float(rng.uniform(0.4, 0.92)), gust_scale=float(rng.uniform(0.8, 1.15)))
        for _ in range(20):
            drv = replace(base_drv, cruise=base_drv.cruise * math.exp(rng.normal(0, 0.009)), accel=base_drv.accel * math.exp(rng.normal(0, 0.05)), wander=base_drv.wander * math.exp(rng.normal(0, 0.12)),
                          idle_start=float(round(rng.uniform(10, 28))), idle_end=float(round(rng.uniform(4, 14))))
            tr = drive.simulate(v, road, day, drv, payload, rng, np.random.default_rng(zone_seed))
            if 1200 <= len(tr.v) * drive.DT <= 3600: break
        start = "cold" if cold_habit and rng.uniform() < 0.5 else "warm"; p_rel = float(np.clip(rng.normal(1.0, 0.015), 0.95, 1.05))
        c = conditions(v, day, start, rng, p_rel); red = drive.reduce_truth(v, tr, v.mass + payload, day, c); traces.append(tr)
        date += timedelta(days=int(rng.integers(1, 6))); when = date + timedelta(hours=int(rng.integers(9, 16)), minutes=int(rng.integers(0, 60)), seconds=int(rng.integers(0, 60)))
        if i == 3: date += timedelta(days=2); change_date = date
        sub = case / f"run{i + 1}"; sub.mkdir(exist_ok=True)
        (sub / "track.gpx").write_text(receiver.gpx(observe(tr, day, rng), lat0, lon0, when - timedelta(hours=tz), style))
        (sub / "run.toml").write_text(run_toml(v, day, tr, start, payload, p_rel, red["fuel"], f"Day {i + 1}", when, tz, rng, "../vehicle.toml", source, station_z, icao, np.random.default_rng(kit_seed)))
        runs.append({"distance_m": tr.distance, "fuel_g": red["fuel"] * 1e3, "calm_day_fuel_g": red["calm"] * 1e3, "penalties_percent": red["penalties"], "raw_error_percent": red["raw"],
                     "u10_ms": day.u10, "wind_from_deg": day.wind_from, "temperature_C": day.temp, "engine_start": start, "moving_time_s": float((tr.v > 0).sum() * drive.DT)})
    # ---- declared?
    lines: list[str] = []
    assert change_date is not None
    if what == "final": lines = [f"final_drive = {after.final:g}"]
    if what == "body" and "drag_coefficient" in know: lines = [f"drag_coefficient = {know['drag_coefficient'] * after.cd / veh.cd * math.exp(rng.normal(0, 0.02)):.2f}"]
    if what == "tyres" and "rolling_resistance" in know: lines = [f"rolling_resistance = {know['rolling_resistance'] * after.crr / veh.crr * math.exp(rng.normal(0, 0.04)):.4f}"]
    if lines: sheet += "\n".join(["[[change]]", f"date = {change_date:%Y-%m-%d}", f'what = "{ {"final": "other axle", "body": "body work", "tyres": "other tyres"}[what] }"'] + lines) + "\n"
    (case / "vehicle.toml").write_text(sheet); (case / "full_load.csv").write_text(full)
    q = lambda r: ", ".join(f'"run{i}/run.toml"' for i in r)
    (case / "comparison.toml").write_text(f"baseline = [{q(range(1, 5))}]\nchanged = [{q(range(5, 9))}]\n")
    m = veh.mass + payload
    per = [100 * (calm_fuel(after, t, m) / calm_fuel(veh, t, m) - 1) for t in traces]
    t = {"change_percent": float(np.mean(per)), "change": what, "relative_size": x, "declared_in_build_sheet": bool(lines), "per_trace_percent": per, "runs": runs,
         "definitions": "change_percent: mean over the eight driven traces (same speeds and gears) of calm-day fuel after / before - 1; negative = less",
         "vehicle": asdict(veh), "drag_area_m2": veh.cda, "declared": know, "weather_source": source, "road": road.kind}
    (case / "truth.json").write_text(json.dumps(t, indent=1)); return t
