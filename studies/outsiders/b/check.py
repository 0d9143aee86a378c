"""Self-checks of the physics and of the files (python -m simulator check)."""
from __future__ import annotations
import math
from dataclasses import replace
import numpy as np
from . import air, drive, receiver
from .drive import DT, Conditions, burn
from .road import draw_road
from .runs import conditions, draw_day, draw_driver, observe
from .vehicle import ENGINES, draw_vehicle


def main() -> None:
    # reference.md check values
    assert abs(air.air_density(20, 101325, 0.5) - 1.19888) < 1e-5 and abs(air.pressure_at(101325, 1000) - 89874.6) < 1
    assert abs(air.pressure_at(101600, 1155) - 88440) < 15
    # degrees of latitude and longitude at 45 deg (CV-135)
    la, lo = receiver.degrees(45.0, 0.0, np.array([0.0, 78.84684]), np.array([0.0, 0.0])); assert abs(lo[1] - 0.001) < 1e-8
    la, lo = receiver.degrees(44.9995, 0.0, np.array([0.0, 0.0]), np.array([0.0, 111.13179])); assert abs(la[1] - 45.0005) < 1e-8
    bs: dict[str, list[float]] = {}; idle: dict[str, list[float]] = {}; worst_ke = worst_led = worst_calm = worst_sum = worst_dist = worst_gps = 0.0; cold_g: dict[str, list[float]] = {"petrol": [], "diesel": []}
    for seed in range(40):
        rng = np.random.default_rng([9, seed]); veh = draw_vehicle(rng); day = draw_day(rng); drv = draw_driver(rng, veh.body)
        n, b = np.meshgrid(np.arange(1200, veh.n_gov, 100.0), np.linspace(1e5, veh.bmep_peak, 40)); t = b * veh.disp / (4 * math.pi)
        ok = b <= veh.bmep_max(n); z = np.zeros_like(n)
        r, _ = veh.fuel_rate(t, n, z, z, 1e5); bsfc = r / (t * n * 2 * math.pi / 60) * 3.6e9
        bs.setdefault(veh.kind, []).append(float(bsfc[ok].min()))
        ni = np.array([veh.n_idle]); ri, _ = veh.fuel_rate(veh.accessories / (ni * math.pi / 30), ni, ni * 0, ni * 0, 1e5); idle.setdefault(veh.kind, []).append(float(ri[0] * 3600 / veh.disp / 1e3))
        road = draw_road(rng, "loop" if seed % 2 else "out-and-back", 30e3, 0.012)
        tr = drive.simulate(veh, road, day, drv, 0.0, rng)
        assert abs(tr.s[-1] - np.sum((tr.v + tr.a * DT / 2)[:-1]) * DT) < 0.5
        worst_ke = max(worst_ke, float(np.max(np.abs(np.diff(tr.v) - tr.a[:-1] * DT))))
        c = conditions(veh, day, "cold", rng, 1.0); red = drive.reduce_truth(veh, tr, veh.mass, day, c)
        _, led = burn(veh, tr, veh.mass, replace(c, cold_engine=False))
        worst_led = max(worst_led, abs(led["drag"] + led["rolling"] + led["hill"] + led["kinetic"] + led["axle"] - led["wheel"]) / led["wheel"],
                        abs(led["kinetic"]) / led["wheel"])
        if seed % 2: assert abs(led["hill"]) < 0.01 * led["rolling"], (led["hill"], led["rolling"])
        still = replace(c, wind=True, rho=air.air_density(20, 1e5, .5), p_amb=1e5, engine_deficit=0.0, theta0_rel=1.0, t_amb=20.0)
        tr0 = replace(tr, along=tr.along * 0, across=tr.across * 0)
        worst_calm = max(worst_calm, abs(float(burn(veh, tr0, veh.mass, still, np.ones(len(tr.v)))[0].sum() * DT) / red["calm"] - 1))
        worst_sum = max(worst_sum, abs(sum(red["penalties"].values()) - red["raw"]))
        c20 = replace(c, engine_deficit=70.0); wr = burn(veh, tr, veh.mass, replace(c20, cold_engine=False))[0]; cold_g[veh.fuel].append(float((burn(veh, tr, veh.mass, c20, wr)[0] - wr).sum() * DT * 1e3))
        o = observe(tr, day, rng); worst_dist = max(worst_dist, abs(np.interp(np.arange(o["i"][-1] + 1), o["i"], o["v"])[:-1].sum() / tr.distance - 1))
    print("best bsfc g/kWh:", {k: f"{min(v):.0f}-{max(v):.0f}" for k, v in bs.items()})
    print("idle kg/h per litre:", {k: f"{min(v):.2f}-{max(v):.2f}" for k, v in idle.items()})
    print("cold-start excess from 20 degC, g:", {k: f"{min(v):.0f}-{max(v):.0f}, median {np.median(v):.0f}" for k, v in cold_g.items()})
    print(f"speed step closure {worst_ke:.2e} m/s; energy ledger {worst_led:.2e}; calm = no wind, standard air, warm {worst_calm:.1e}; penalties add up {worst_sum:.1e} points; "
          f"worst plain Doppler sum against true distance {worst_dist * 100:.3f} %")
    from . import coastdowns
    print("coastdown:", coastdowns.check())


if __name__ == "__main__":
    main()
