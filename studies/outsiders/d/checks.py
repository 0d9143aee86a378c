"""Checks of the simulator's own physics and files."""
from __future__ import annotations
from dataclasses import replace
from datetime import datetime
import numpy as np
from .air import G, RHO_REF, air_density
from .cases import draw_route, draw_style, drive_once
from .coastdown import coast
from .drive import DT
from .physics import CALM, Conditions, Effects, aero_force, fuel_mass, wheel_force
from .vehicles import draw_vehicle


def run_checks() -> None:
    assert abs(air_density(20, 101325, .5) - 1.19888) < 2e-5                      # reference.md
    assert abs(float(aero_force(1.15, 0, 1.18, np.float64(80 / 3.6), np.float64(0))) - 335.06) < 0.01   # G2
    # yaw zero, 5 m/s cross: x1.0250
    assert abs(float(aero_force(1, 0, 1, np.float64(22.2222), np.float64(5))) / (0.5 * 22.2222 ** 2) - 1.0250) < 1e-4
    worst = [0.0] * 4
    for s in range(40):
        rng = np.random.default_rng([77, s])
        v = draw_vehicle(rng)
        r = draw_route(rng, v)
        d = drive_once(rng, v, r, draw_style(rng, v, r.cruise, False), 6.0, datetime(2026, 5, 1, 9), True)
        tr = d.tr
        f = wheel_force(v, tr, d.cond, Effects(), d.mass)
        # grade work = m g dh ; inertia work = change of kinetic energy (standing to standing: 0)
        wg = float(np.sum(f["grade"] * tr.v) * DT)
        wk = float(np.sum(f["inertia"] * tr.v) * DT)
        turn = float(np.sum(f["air"] * tr.v) * DT)
        worst[0] = max(worst[0], abs(wg - d.mass * G * (tr.z[-1] - tr.z[0])) / turn)
        worst[1] = max(worst[1], abs(wk) / turn)
        # nothing switched on = calm; calm conditions with everything on = calm
        zero = np.zeros_like(tr.v)
        c0 = Conditions(zero, zero, RHO_REF, 20.0, 0.0, 0.0, d.cond.pressure_ratio)
        a, b = fuel_mass(v, tr, d.gear, c0, Effects(), d.mass), fuel_mass(v, tr, d.gear, d.cond, CALM, d.mass)
        worst[2] = max(worst[2], abs(a / b - 1))
        assert abs(sum(d.pen.values()) - 100 * (d.fuel_kg / d.calm_kg - 1)) < 1e-9
        # fuel energy times overall efficiency plausible: best brake efficiency never above e_i
        ratio = np.array(v.gears)[d.gear] * v.final
        rpm = tr.v / v.circumference * 60 * ratio
        worst[3] = max(worst[3], float(rpm.max() / v.gov_rpm))
        wheel = np.maximum(f["air"] + f["roll"] + f["grade"] + f["inertia"], 0) * tr.v
        eff = float(np.sum(wheel) * DT) / (d.fuel_kg * v.lhv)
        assert 0.08 < eff < v.e_i, (s, eff)
        demand = wheel / v.eta
        share = float(np.mean(demand > 1.02 * v.full_power(np.maximum(rpm, v.idle_rpm)) + 3e3))
        assert share < 0.04, (s, v.body, share)
        # distance: summed geodesic steps of the noiseless track against the odometer
        from .roads import radii
        m, n = radii(tr.lat)
        st = 5
        la, lo = np.radians(tr.lat[::st]), np.radians(tr.lon[::st])
        h = np.hypot(np.diff(la) * m[:-1:st][:la.size - 1], np.diff(lo) * (n * np.cos(np.radians(tr.lat)))[:-1:st][:la.size - 1])
        dz = np.diff(tr.z[::st])
        jump = float(np.sum(np.hypot(h, dz)) / tr.s[-1] - 1)
        assert abs(jump) < 1.5e-3, (s, r.kind, jump)
    print("grade work", worst[0], "kinetic", worst[1], "calm identity", worst[2], "max rpm/governed", round(worst[3], 3))
    # coastdown closed form (CV-87): m 2000, me 2060, C 0.012, CDA 1.1, rho 1.2, 100 -> 20 km/h: 113.652 s, 1667.90 m
    rng = np.random.default_rng(1)
    v = replace(draw_vehicle(rng), mass=2000.0, rot_frac=0.03, crr=0.012, crr_speed=0.0, cd=1.1, area=1.0, spin_n=0.0)
    n = 4000
    vs, ss = coast(v, 2000.0, 100 / 3.6, 20 / 3.6, 10.0, 1, np.array([0.0, 5000.0]), np.zeros(2), 0.0, np.zeros(n), np.zeros(n), 1.2, 20.0, 1.0, 0.0)
    t = (vs.size - 1) * 0.1
    print("coastdown", t, "s (113.652)", ss[-1] - 10, "m (1667.9)")
    assert abs(t - 113.652) < 0.15 and abs(ss[-1] - 10 - 1667.9) < 1
