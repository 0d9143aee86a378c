"""Road load and fuel. One function gives the fuel of a trace for a chosen set of effects, so truth and penalties share it."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np
from .air import G, RHO_REF
from .drive import DT, Trace
from .vehicles import Vehicle

YAW_SAT = math.radians(25.0)   # drag stops rising near here (wind-tunnel practice)


@dataclass(frozen=True)
class Conditions:
    wind_e: np.ndarray; wind_n: np.ndarray      # blowing TO, m/s
    rho: float; t_c: float
    engine_cold: float                          # 0 warm .. about 1 (70 K below warm) at the start
    tyre_cold: float                            # share of the cold excess present at the start
    pressure_ratio: float                       # test over usual


@dataclass(frozen=True)
class Effects:
    wind: bool = True; density: bool = True; engine: bool = True; tyres: bool = True


CALM = Effects(False, False, False, False)


def aero_force(cda: float, yaw_k: float, rho: float, head: np.ndarray, cross: np.ndarray) -> np.ndarray:
    """Along-vehicle drag, N. head: axial air speed; cross: transverse. F = rho/2 CdA(psi) Vr u (reference.md 4.3)."""
    vr = np.hypot(head, cross)
    psi = np.arctan2(np.abs(cross), np.maximum(np.abs(head), 1e-6))
    ps = YAW_SAT * np.tanh(psi / YAW_SAT)
    return 0.5 * rho * cda * (1 + yaw_k * ps * ps) * vr * head


def rolling_coefficient(v: Vehicle, speed: np.ndarray | float, t_c: float, pressure_ratio: float = 1.0) -> np.ndarray | float:
    return (v.crr * (1 + v.crr_speed * (np.asarray(speed) * 3.6 / 100) ** 2) * (1 - v.crr_temp * (t_c - 20.0))
            * pressure_ratio ** -v.crr_pexp)


def wheel_force(v: Vehicle, tr: Trace, c: Conditions, e: Effects, mass: float) -> dict[str, np.ndarray]:
    sh, ch = np.sin(tr.heading), np.cos(tr.heading)
    if e.wind:
        along, across = c.wind_e * sh + c.wind_n * ch, c.wind_e * ch - c.wind_n * sh
    else:
        along = across = np.zeros_like(tr.v)
    th = np.arctan(tr.grade)
    air = aero_force(v.cda, v.yaw_k, c.rho if e.density else RHO_REF, tr.v - along, across)
    cr = rolling_coefficient(v, tr.v, c.t_c if e.tyres else 20.0, c.pressure_ratio)
    if e.tyres:
        moving = np.cumsum(tr.v > 0.5) * DT
        cr = cr * (1 + v.tyre_cold * c.tyre_cold * np.exp(-moving / v.tau_tyre))
    mov = tr.v > 0.05
    return {"air": air * mov, "roll": cr * mass * G * np.cos(th) * mov, "grade": mass * G * np.sin(th) * mov,
            "inertia": mass * (1 + v.rot_frac) * tr.a, "spin": v.spin_n * mov}


def fuel_rate(v: Vehicle, tr: Trace, gear: np.ndarray, c: Conditions, e: Effects, mass: float) -> np.ndarray:
    """Fuel mass flow, kg/s."""
    f = wheel_force(v, tr, c, e, mass)
    force = f["air"] + f["roll"] + f["grade"] + f["inertia"]
    ratio = np.array(v.gears)[gear] * v.final
    # driveline: torque-proportional loss both ways, plus a constant drag; engine inertia by gear
    w_engine_per_v = ratio * 2 * math.pi / v.circumference
    at_engine = np.where(force > 0, force / v.eta, force * v.eta) + f["spin"]
    torque = at_engine / w_engine_per_v + v.engine_inertia * w_engine_per_v * tr.a
    w_geared = tr.v * w_engine_per_v
    w_idle = v.idle_rpm * math.pi / 30
    clutch_in = w_geared < w_idle * 1.02
    w = np.where(clutch_in, np.where((torque > 0) & (tr.v > 0.3), 1.35 * w_idle, w_idle), w_geared)   # slip at launch
    torque = np.where(clutch_in & (torque < 0), 0.0, torque)
    torque = np.where(tr.v > 0.05, torque, 0.0)
    p = torque * w + v.accessories_w
    rpm = w * 30 / math.pi
    bmep_unit = 4 * math.pi / v.displacement            # Pa per N m
    bmep = p / w * bmep_unit
    fm = v.fmep(rpm)
    imax = v.peak_bmep + fm
    rich = np.zeros_like(p)
    if e.engine and c.engine_cold > 0:
        fm = fm * (1 + v.cold_friction * c.engine_cold * np.exp(-tr.t / v.tau_engine))
        rich = v.enrich * c.engine_cold * np.exp(-tr.t / v.tau_enrich)
    load = np.clip((bmep + fm) / imax, 0, 1)
    pump = v.pmep * (1 - 0.9 * load)                    # throttling fades towards full load
    imep = np.maximum(bmep + fm + pump, 0.0)
    x = imep / imax
    eff = v.e_i / (1 + v.curvature * x * x)             # slight curvature of the Willans line
    flow = imep * v.displacement * rpm / 120 / (eff * v.lhv) * (1 + rich)
    if not v.overrun_cut:                               # carburettor: about idle mixture flow per revolution on overrun
        idle_imep = v.fmep(np.array([v.idle_rpm]))[0] + v.pmep
        least = 0.6 * idle_imep * v.displacement * rpm / 120 / (v.e_i * v.lhv)
        flow = np.maximum(flow, least)
    return flow


def fuel_mass(v: Vehicle, tr: Trace, gear: np.ndarray, c: Conditions, e: Effects, mass: float) -> float:
    return float(np.sum(fuel_rate(v, tr, gear, c, e, mass)) * DT)


def penalties(v: Vehicle, tr: Trace, gear: np.ndarray, c: Conditions, mass: float) -> tuple[float, float, dict[str, float]]:
    """As driven kg, calm day kg, and shares in % of calm: mean of the two orders of switching one at a time; they add up."""
    names = [("wind", "wind"), ("density", "air_density"), ("engine", "cold_engine"), ("tyres", "cold_tyres")]
    total: dict[str, float] = {b: 0.0 for _, b in names}
    full = calm = 0.0
    for order in (names, names[::-1]):
        on = dict(wind=False, density=False, engine=False, tyres=False)
        last = calm = fuel_mass(v, tr, gear, c, Effects(**on), mass)
        for a, b in order:
            on[a] = True
            now = fuel_mass(v, tr, gear, c, Effects(**on), mass)
            total[b] += 50 * (now - last) / calm
            last = now
        full = last
    return full, calm, total
