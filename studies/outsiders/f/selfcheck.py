"""Self-checks of physics and files: python -m simulator.selfcheck CASES"""
from dataclasses import replace
import json
import math
from pathlib import Path
import re
import sys
import tomllib
import xml.etree.ElementTree as ET
import numpy as np
from . import coastdowns, physics, road, runs, vehicle, weather
from .physics import CALM, Conditions, Start
from .randoms import stream

RUN_KEYS = {"vehicle", "label", "date", "timezone", "track", "engine_start", "payload", "tyre_pressure", "terrain", "fuel", "fuel_system", "scale", "weighing", "weather", "odometer"}
SUB = {"fuel": {"kind", "density", "density_temperature"}, "fuel_system": {"arrangement", "repeatability"}, "scale": {"resolution", "repeatability", "accuracy", "capacity"},
       "weather": {"metar", "field_elevation", "reading"}, "odometer": {"start", "end"}}
READING = {"time", "wind_speed", "wind_from", "gust", "height", "temperature", "pressure", "relative_humidity"}
VEH = {"name", "body", "test_mass", "frontal_area", "width", "height", "drag_coefficient", "rolling_resistance", "tyre", "tyre_pressure", "gear_ratios", "final_drive", "driveline_efficiency"}
ENG = {"displacement", "strokes", "cylinders", "fuel", "induction", "injection", "idle_speed", "governed_speed", "full_load", "overrun_fuel_cut"}
METAR = re.compile(r"METAR ZZ[A-Z]A \d{6}Z (VRB\d\d|00000|\d{5}(G\d\d)?)(KT)? ?(KT )?9999 SCT030 M?\d\d/M?\d\d Q\d{4}")


def physics_checks() -> None:
    v = replace(vehicle.draw(stream("check")), mass_kg=2000.0, wheel_inertia_kg=60.0, cd=1.1, area_m2=1.0, crr=.012, crr_v=0.0, spin_n=0.0, yaw_k=0.0)
    sp, ds = coastdowns._coast(v, 2000.0, 100 / 3.6, 1.2, [0.0] * 2000, [0.0] * 2000, lambda s: 0.0, .012)
    t20 = np.interp(-20 / 3.6, -sp, np.arange(len(sp)) * road.DT)
    print(f"coastdown 100->20 km/h {t20:.3f} s (CV-87 113.652), {np.interp(t20, np.arange(len(sp)) * road.DT, ds):.2f} m (1667.90)")
    print(f"reference air {weather.RHO_REF:.4f} kg/m3 (1.1890)")
    rng = stream("check", 2); v = vehicle.draw(rng); route = road.make_route(rng, "loops", 30000.0); plan = road.make_plan(rng, route.lap_m, 22, False)
    drv = road.make_driver(rng, v.n_idle, v.fuel == "diesel", 22)
    day = replace(weather.make_day(rng, "open", 100.0, 0.0), t_c=20.0, rh=.5)
    x = runs.setting(v, route, plan, drv, day, Start(0.0, 1.0), 0.0, v.pressure_kpa, rng)
    print(f"calm warm day, true pressure only differs: {100 * (runs.burn(x, Conditions(air=False)) / runs.burn(x, CALM) - 1):+.2e} % (0)")
    flat = replace(x.tr, ele=np.zeros_like(x.tr.ele)); y = replace(x, tr=flat, day=replace(day, qnh_pa=1e5))
    print(f"real calm day at sea level 100 kPa: {100 * (runs.burn(y, Conditions()) / runs.burn(y, CALM) - 1):+.2e} % (0)")
    f = physics.road_force(v, x.tr, v.mass_kg, x.wind, day, v.pressure_kpa, x.start, CALM)
    w = {k: float(np.sum(f[k] * x.tr.v) * road.DT) for k in ("aero", "roll", "grade", "spin", "inertia")}
    total = sum(w.values()); print("wheel work MJ", {k: round(a / 1e6, 3) for k, a in w.items()}, f"grade+inertia share {100 * (w['grade'] + w['inertia']) / total:+.3f} % (about 0)")
    q = runs.burn(x, CALM) * 1e-3 * v.lhv; print(f"fuel heat {q / 1e6:.1f} MJ, wheel/fuel {total / q:.3f} (0.12..0.30 usual)")
    c = float(np.sum(np.hypot(*[np.diff(a) * m for a, m in zip((x.tr.lat, x.tr.lon), road._metric(0.5 * (x.tr.lat[1:] + x.tr.lat[:-1])))])))
    print(f"distance: along trace {x.tr.s[-1]:.2f} m, over the ellipsoid {c:.2f} m, closure {abs(x.tr.lat[-1] - x.tr.lat[0]) * 111e3:.2f} m")


def file_checks(cases: Path) -> None:
    bad = 0; dist, net_err = [], []
    for run in sorted(cases.glob("runs/*/run.toml")) + sorted(cases.glob("sets/*/day*/run.toml")):
        d = tomllib.loads(run.read_text()); v = tomllib.loads((run.parent / d["vehicle"]).read_text())
        extra = (set(d) - RUN_KEYS) | set().union(*(set(d.get(k, {})) - SUB[k] for k in SUB)) | (set(v["vehicle"]) - VEH) | (set(v["engine"]) - ENG)
        for r in d["weather"].get("reading", []): extra |= set(r) - READING
        wrong = [m for m in d["weather"].get("metar", []) if not METAR.fullmatch(m)]
        root = ET.parse(run.parent / d["track"][0]).getroot(); ns = root.tag[:root.tag.index("}") + 1]
        pts = root.findall(f"{ns}trk/{ns}trkseg/{ns}trkpt"); ts = [p.findtext(f"{ns}time") for p in pts]
        if extra or wrong or ts != sorted(set(ts)): bad += 1; print(run, extra, wrong)
        tr = json.loads((run.parent / "truth.json").read_text()) if (run.parent / "truth.json").exists() else None
        if tr:
            sp = [float(e.text) for e in root.iter() if e.tag.endswith("}speed")]
            sec = [int(t[11:13]) * 3600 + int(t[14:16]) * 60 + int(t[17:19]) for t in ts]
            if sp: dist.append(np.trapezoid(sp, sec) / tr["distance_m"] - 1)
            b, a = (np.mean([float(g.split()[0]) for g in next(w for w in d["weighing"] if w["when"] == k)["gross"]]) for k in ("before", "after"))
            net_err.append((b - a) * 1e3 / tr["fuel_g"] - 1)
    print(f"files with faults: {bad}; plain Doppler sum against truth: rms {100 * np.sqrt(np.mean(np.square(dist))):.3f} %, mean {100 * np.mean(dist):+.3f}; plain weight difference rms {100 * np.sqrt(np.mean(np.square(net_err))):.3f} % mean {100 * np.mean(net_err):+.3f} (buoyancy about -0.13)")
    for c in sorted(cases.glob("coastdowns/*/coastdown.toml")):
        d = tomllib.loads(c.read_text()); assert set(d) == {"vehicle", "pass", "weather"} and all((c.parent / p["track"]).exists() for p in d["pass"])
    for c in sorted(cases.glob("sets/*/comparison.toml")):
        d = tomllib.loads(c.read_text()); assert set(d) == {"baseline", "changed"} and len(d["baseline"]) == len(d["changed"]) == 4


if __name__ == "__main__":
    physics_checks()
    file_checks(Path(sys.argv[1]))
