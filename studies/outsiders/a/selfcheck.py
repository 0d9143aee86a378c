"""Checks of the simulator's own physics. Prints figures; exit 1 when one is off."""
from __future__ import annotations
from dataclasses import replace
import numpy as np
from . import air
from .driver import draw_style, drive
from .coastdowns import one_pass
from .physics import State, aero_force, fuel_rate
from .runs import calm_state, draw_course, total_g
from .vehicles import draw_vehicle
from .wind import draw_day, draw_slow


def main() -> int:
    bad = 0
    def say(name: str, ok: bool, text: str) -> None:
        nonlocal bad
        bad += not ok
        print(f"{'ok  ' if ok else 'BAD '} {name}: {text}")
    say("air density 20 C 1013.25 hPa 50 %", abs(air.density(20, 101325, .5) - 1.19888) < 2e-4, f"{air.density(20, 101325, .5):.5f}")
    say("QNH 1016 at 1155 m", abs(air.pressure_from_qnh(101600, 1155) - 88440) < 15, f"{air.pressure_from_qnh(101600, 1155):.0f} Pa")
    # reference.md 9: m 2000, m_e 2060, C_rr 0.012, C_DA 1.1, rho 1.2, 100 -> 20 km/h: 113.652 s, 1667.90 m
    rng = np.random.default_rng(1)
    v = replace(draw_vehicle(rng), mass=2000.0, wheel_mass=60.0, c_roll=.012, roll_lin=0.0, roll_quad=0.0, drag_neutral=0.0, cda=1.1 * 1.2 / air.RHO_REF, tyre_rise=20.0)
    d = replace(draw_day(rng, 0.0, "open", 0), t_c=20.0, rh=.5)
    d = replace(d, qnh=d.qnh * 1e5 / d.p_road)
    t, vv, ss = one_pass(rng, v, 2000.0, d, draw_slow(rng, d, 600), 0, 0.0, 100 / 3.6, 20 / 3.6, np.zeros(600), True, 0.0, 20.0)
    say("coastdown closed form", abs(t[-1] - 113.652) < .1 and abs(ss[-1] - 1667.9) < 1, f"{t[-1]:.2f} s, {ss[-1]:.1f} m")
    w = 4.0 * np.ones(3600)
    ang = np.arange(3600) / 3600 * 2 * np.pi
    f = aero_force(20 * np.ones(3600), ang, w, 0 * w, 1.2, replace(v, yaw_k=0.0)).mean() / (.6 * v.cda * 400)
    say("circle, r = 0.2, C_T constant: 1 + r^2 (body-axis convention, mean of V_r^2)", abs(f - 1.04) < 1e-3, f"{f:.4f}")
    for seed in range(12):
        rng = np.random.default_rng([7, seed])
        veh = draw_vehicle(rng)
        route, stops = draw_course(rng)
        day = draw_day(rng, 0.0, "farmland", 100)
        tr = drive(route, veh, draw_style(rng, stops), day, veh.mass, rng)
        z = np.zeros(len(tr.t))
        st = State(air.RHO_REF, z, z, 20.0, 1.0, 0.0, veh.mass, veh.pressure)
        rate, p = fuel_rate(tr, st, veh)
        say("calm = no wind, 20 C, warm", abs(total_g(tr, calm_state(st, len(z)), veh) / (rate.sum() * tr.dt) - 1) < 1e-12, "same fuel")
        # balance at the crank: fuel power x efficiency = work of all forces, friction and pumping, recomputed from the parts
        ratio = np.concatenate([[0.0], np.asarray(veh.gears)])[tr.gear] * veh.final
        pull = (tr.gear > 0) & (tr.v > 8) & (p["torque"] > 5)
        w_crank = p["rpm"] * 2 * np.pi / 60
        wheel = (p["aero"] + p["roll"] + p["hub"] + p["gear"] + p["grade"]) + (veh.mass + veh.wheel_mass) * tr.a * tr.v
        side = np.where(wheel > 0, wheel / veh.eta, wheel * veh.eta) + veh.engine_inertia * (tr.a / veh.radius * ratio) * w_crank + veh.engine.accessory_w
        r = float(np.sum(side[pull]) / np.sum((p["torque"] * w_crank)[pull]))
        say("crank work = road work + losses", abs(r - 1) < 1e-6, f"{r:.7f}")
        ke = float(np.sum((veh.mass + veh.wheel_mass) * tr.a * tr.v) * tr.dt)
        pe = float(np.sum(p["grade"]) * tr.dt)
        path = float(np.hypot(np.diff(tr.x), np.diff(tr.y)).sum())
        s = float(np.trapezoid(tr.v, tr.t))
        demand = sum(float(np.sum(p[k]) * tr.dt) for k in ("aero", "roll", "hub"))
        fuel = float(rate.sum() * tr.dt)
        drv = tr.v > 1
        moved = p["fuel_w"][drv]
        say("kinetic energy returns to zero", abs(ke) < .01 * demand, f"{ke / 1e3:.1f} kJ of {demand / 1e6:.1f} MJ")
        say("distance", abs(path / s - 1) < 6e-4, f"path {path:.1f} m, integral of speed {s:.1f} m")
        net = demand / (fuel / 1000 * veh.engine.lhv)
        say("road work / fuel energy", .1 < net < .4, f"{net:.3f}; {fuel / s * 1000:.1f} g/km; mean {s / tr.t[-1] * 3.6:.0f} km/h; neutral {np.mean(tr.gear[drv] == 0):.3f}; gears {np.bincount(tr.gear[drv], minlength=6) / drv.sum()}; "
            f"load>1.05 {np.mean(p['load'] > 1.05):.4f}; rpm {np.mean(p['rpm'][drv]):.0f}; {veh.body} {veh.engine.kind} {veh.engine.displacement * 1e3:.1f} L {veh.mass:.0f} kg; "
            f"climb returns {pe / 1e3:.0f} kJ; fuel while moving {moved.sum() * tr.dt / 1e6:.1f} MJ")
        idle = rate[(tr.gear == 0) & (tr.v == 0) & tr.running]
        say("idle", .05 < float(np.median(idle)) < .5, f"{float(np.median(idle)) * 3.6:.2f} kg/h")
        say("limits", float(np.max(np.abs(tr.a))) < 4.5, f"a {tr.a.min():.1f}..{tr.a.max():.1f} m/s2, v max {tr.v.max() * 3.6:.0f} km/h, steps {np.abs(np.diff(tr.z)).max():.2f} m, grade {tr.grade.min():.3f}..{tr.grade.max():.3f}")
    return int(bad > 0)
