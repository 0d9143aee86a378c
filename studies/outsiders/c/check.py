"""Self-checks: geometry, energy book, calm day, coastdown against the closed form, files against truth."""
from __future__ import annotations

import json
import re
import tomllib
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np

from .air import CALM_AIR, Air
from .coastdowns import coast
from .drive import draw_driver, go, sustainable
from .energy import Start, evaluate, gearbox_equilibrium, tyre_equilibrium
from .route import _m, _n, draw_route
from .vehicle import draw_vehicle
from .weather import draw_day

METAR = re.compile(r"^METAR [A-Z]{4} \d{6}Z (00000KT|VRB0\dKT|\d{3}\d{2}(G\d{2})?KT) 9999 ((FEW|SCT|BKN)\d{3} )+M?\d\d/M?\d\d Q\d{4}$")


def check() -> int:
    """Print each check; 1 if one fails."""
    bad = 0

    def say(name: str, value: float, limit: float) -> None:
        nonlocal bad
        ok = abs(value) <= limit
        bad += not ok
        print(f"{'ok  ' if ok else 'FAIL'} {name}: {value:.3g} (limit {limit:g})")
    say("density 20 degC 100 kPa 50 % minus 1.1831", CALM_AIR.density - 1.1831, 5e-4)
    # coastdown: closed form of reference.md 4.6 / CV-87: 113.652 s and 1667.90 m
    v0 = draw_vehicle(np.random.default_rng(1))
    v1 = replace(v0, mass=2000.0, wheel_inertia=60 * v0.radius**2, crr80=0.012, crr_v1=0.0, crr_v2=0.0, crr_temp=0.0, bearing_n=0.0,
                 spin0=0.0, spin1=0.0, area=1.1, cd=1.0, yaw_gain=0.0)
    p = 1.2 * 287.05 * 293.15
    g = np.arange(0, 6001, 5.0)
    ss, vv = coast(v1, Air(20.0, p, 0.0), 100.0, 100 / 3.6, 20 / 3.6, 1.0, 0.0, g, 0 * g, 1 + 0 * g, np.zeros(2000), np.zeros(2000), 40.0, 40.0)
    k = (vv[-2] - 20 / 3.6) / (vv[-2] - vv[-1])
    a, c = 0.012 * 2000 * 9.80665, 0.5 * 1.2 * 1.1
    exact = 2060 / np.sqrt(a * c) * (np.arctan(100 / 3.6 * np.sqrt(c / a)) - np.arctan(20 / 3.6 * np.sqrt(c / a)))
    say("coastdown time minus closed form, s", (len(vv) - 2 + k) * 0.2 - exact, 0.02)
    say("closed form minus CV-87, s", exact - 113.652, 0.02)
    err_calm, err_close, err_z = [], [], []
    for seed in range(12):
        rng = np.random.default_rng([9, seed])
        v = draw_vehicle(rng)
        r = draw_route(rng, sustainable(v))
        day = replace(draw_day(rng, r.terrain, 50.0, 0.0, 20.0), air=CALM_AIR)
        tr = go(v, r, day, draw_driver(rng), rng)
        vm = float(tr.v[tr.v > 0.5].mean())
        cal = evaluate(v, tr, r, day, Start(20, 20, 20, 20), wind=False, air=CALM_AIR, engine_cold=False, tyres_cold=False)
        warm_oil = v.thermostat_c + 6
        st = Start(v.thermostat_c, warm_oil, gearbox_equilibrium(vm, 20), tyre_equilibrium(v, float(np.mean(tr.v[tr.v > 0.5])), 20))
        act = evaluate(v, tr, r, day, st, wind=True, air=day.air, engine_cold=True, tyres_cold=True)
        err_calm.append(100 * (act.fuel_g / cal.fuel_g - 1))
        err_close.append(act.closure / sum(abs(x) for x in act.terms.values()))
        err_z.append(r.terrain != "" and np.trapezoid(r.slope, dx=5.0) - (r.z[-1] - r.z[0]))
    say("calm warm day in the full heat balance minus calm-day definition, worst %", max(err_calm, key=abs), 0.5)
    say("energy book, relative", max(err_close, key=abs), 1e-9)
    say("height book, m", max(err_z, key=abs), 0.5)
    root = Path("cases")
    dist, mass, dop, n = [], [], [], 0
    for f in sorted(root.glob("runs/*/run.toml")) + sorted(root.glob("sets/*/*/run.toml")):
        t = tomllib.loads(f.read_text())
        tomllib.loads((f.parent / t["vehicle"]).read_text())
        bad += sum(not METAR.match(m) for m in t["weather"].get("metar", []))
        n += 1
        if f.parts[1] != "runs":
            continue
        truth = json.loads((f.parent / "truth.json").read_text())
        say_sum = sum(truth["penalties_percent"].values()) - truth["raw_error_percent"]
        bad += abs(say_sum) > 1e-6
        x = ET.parse(f.parent / "track.gpx").getroot()
        pts = [e for e in x.iter() if e.tag.endswith("trkpt")]
        la, lo = (np.radians([float(e.get(q)) for e in pts]) for q in ("lat", "lon"))
        mid = 0.5 * (la[1:] + la[:-1])
        dist.append(100 * (np.hypot(np.diff(la) * _m(mid), np.diff(lo) * _n(mid) * np.cos(mid)).sum() / truth["distance_m"] - 1))
        sp = [float(e.text) for e in x.iter() if e.tag.endswith("}speed")]
        if sp and len(pts) == len(sp):
            tm = [e.text for e in x.iter() if e.tag.endswith("}time")]
            sec = np.array([int(q[11:13]) * 3600 + int(q[14:16]) * 60 + int(q[17:19]) for q in tm])
            dop.append(100 * (np.trapezoid(sp, sec) / truth["distance_m"] - 1))
        w = {q["when"]: np.mean([float(s.split()[0]) for s in q["gross"]]) for q in t["weighing"]}
        mass.append((w["before"] - w["after"]) * 1000 * 1.00128 - truth["fuel_g"])
    if dist:
        print(f"{n} runs read; raw summed positions minus truth: mean {np.mean(dist):.3f} % rms {np.sqrt(np.mean(np.square(dist))):.3f} %; "
              f"Doppler integral: mean {np.mean(dop):.3f} % rms {np.sqrt(np.mean(np.square(dop))):.3f} %; weighed minus burnt rms {np.sqrt(np.mean(np.square(mass))):.1f} g")
    # coastdown files: mean of the two directions of deceleration x m_eff at 80 km/h against the truth, CSV passes in low wind
    ratio = []
    for f in sorted(root.glob("coastdowns/*/coastdown.toml")):
        t = tomllib.loads(f.read_text())
        bad += sum(not METAR.match(m) for m in t["weather"].get("metar", []))
        truth = json.loads((f.parent / "truth.json").read_text())
        if not t["pass"][0]["track"].endswith("csv") or truth["about"]["start_kmh"] < 92:
            continue
        dec = []
        for q in t["pass"]:
            d = np.loadtxt(f.parent / q["track"], delimiter=",", skiprows=1)
            w = (d[:, 1] > 68) & (d[:, 1] < 92)
            dec.append(-np.polyfit(d[w, 0], d[w, 1] / 3.6, 1)[0])
        m = truth["about"]["mass_kg"]
        ratio.append(np.mean(dec) * m * truth["about"]["m_eff_over_m"] / truth["resistance_at_80_kmh_n"])
    if ratio:
        print(f"coastdowns: force at 80 km/h from the raw files over calm truth (day not corrected): mean {np.mean(ratio):.3f} sd {np.std(ratio):.3f} n {len(ratio)}")
    say("faults", bad, 0)
    return int(bad > 0)
