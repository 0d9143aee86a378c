"""Forces, engine and fuel for a prescribed trace. SI units; fuel in g/s."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np
from . import air
from .vehicles import Vehicle

YAW_SCALE = 0.45  # rad, the yaw growth saturates towards this (assumed; measured curves flatten beyond 20-25 deg)
DENSITY_OF_TYRE_REF_C = 20.0


@dataclass(frozen=True)
class Trace:
    """The drive as it happened, every DT seconds. gear 0 = clutch open or neutral."""
    t: np.ndarray
    v: np.ndarray        # m/s, along the plan
    a: np.ndarray        # m/s2
    gear: np.ndarray
    s: np.ndarray        # m
    lap_s: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    grade: np.ndarray
    heading: np.ndarray  # rad from north, clockwise
    running: np.ndarray  # engine on
    dt: float


@dataclass(frozen=True)
class State:
    """What the world does to the vehicle during the drive."""
    rho: float
    wind_e: np.ndarray
    wind_n: np.ndarray
    t_amb: float         # for the tyres
    tyre_start: float    # share of the warm excess temperature at the start
    cold: float          # engine cold fraction at the start: 1 = 20 degC, 0 = warm
    mass: float
    pressure: float      # Pa, tyre, cold
    roll_factor: float = 1.0   # road surface of the day
    accessory: float = 0.0     # W more, lights and fan of the day


def rolling_shape(v: np.ndarray | float, veh: Vehicle) -> np.ndarray | float:
    """Tyre rolling resistance relative to 80 km/h: a + b V + c V^2 as in SAE J2452 (reference.md 4.2)."""
    q = np.asarray(v) / (80 / 3.6)
    return 1 + veh.roll_lin * (q - 1) + veh.roll_quad * (q * q - 1)


def yaw_drag(psi: np.ndarray, k: float) -> np.ndarray:
    """Axial-force coefficient relative to zero yaw (body-axis convention, C = C0 (1 + k psi^2) for small yaw)."""
    return (1 + k * YAW_SCALE ** 2 * (1 - np.exp(-(psi / YAW_SCALE) ** 2))) * np.tanh(3 * np.cos(psi)) / math.tanh(3)


def aero_force(v: np.ndarray, heading: np.ndarray, we: np.ndarray, wn: np.ndarray, rho: float, veh: Vehicle) -> np.ndarray:
    par = we * np.sin(heading) + wn * np.cos(heading)
    per = we * np.cos(heading) - wn * np.sin(heading)
    u = v - par
    vr2 = u * u + per * per
    psi = np.arctan2(np.abs(per), u)
    return .5 * rho * veh.cda * yaw_drag(psi, veh.yaw_k) * vr2


def tyre_temperature(v: np.ndarray, dt: float, t_amb: float, start: float, veh: Vehicle) -> np.ndarray:
    """First-order warm-up towards air + rise (v/80 km/h)^0.8."""
    v1 = v[:: max(1, int(1 / dt))]
    step = dt * max(1, int(1 / dt))
    moving = v[v > 1]
    vm = float(np.mean(moving)) if len(moving) else 0.0
    y = start * veh.tyre_rise * (vm / 22.222) ** .8
    out = []
    goal = (veh.tyre_rise * (v1 / 22.222) ** .8).tolist()
    for g in goal:
        out.append(y)
        y += (g - y) * step / (veh.tyre_tau * (1.0 if g > 2 else 2.0))
    return t_amb + np.interp(np.arange(len(v)) * dt, np.arange(len(out)) * step, out)


def rolling_force(v: np.ndarray, grade: np.ndarray, tyre_t: np.ndarray, st: State, veh: Vehicle) -> np.ndarray:
    c = veh.c_roll * rolling_shape(v, veh) * (st.pressure / veh.pressure) ** -veh.pressure_exp
    c = c * np.exp(-veh.tyre_beta * (tyre_t - (DENSITY_OF_TYRE_REF_C + veh.tyre_rise))) * st.roll_factor
    return np.where(v > .05, c * st.mass * air.G / np.sqrt(1 + grade ** 2), 0.0)


def engine_speed(v: np.ndarray, gear: np.ndarray, veh: Vehicle) -> np.ndarray:
    """rpm; idle when the clutch is open; the clutch slips below 1.2 idle in gear."""
    r = np.concatenate([[0.0], np.asarray(veh.gears)])[gear] * veh.final
    n = v / veh.radius * r * 60 / (2 * math.pi)
    return np.where(gear == 0, veh.engine.n_idle, np.maximum(n, 1.25 * veh.engine.n_idle))


def fuel_rate(tr: Trace, st: State, veh: Vehicle) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """g/s of fuel at every sample, and the parts of the energy balance (W)."""
    e = veh.engine
    v, g = tr.v, tr.grade
    f_aero = np.where(v > .05, aero_force(v, tr.heading, st.wind_e, st.wind_n, st.rho, veh), 0.0)
    tt = tyre_temperature(v, tr.dt, st.t_amb, st.tyre_start, veh)
    f_roll = rolling_force(v, g, tt, st, veh)
    f_grade = np.where(v > .05, st.mass * air.G * g / np.sqrt(1 + g * g), 0.0)
    # driveline drag, thicker oil when cold; counted as "cold engine"
    hours = np.cumsum(np.where(v > 1, tr.dt, 0.0))
    y = st.cold * np.exp(-hours / 900.0)  # gearbox and axle oil warm in about 15 min (assumed)
    moving = v > .05
    f_hub = np.where(moving, veh.drag_neutral, 0.0)
    f_gear = np.where(moving & (tr.gear > 0), veh.drag_gearbox * (1 + 1.0 * y), 0.0)  # doubled at 20 degC start (assumed)
    m_eff = st.mass + veh.wheel_mass
    f_acc = m_eff * tr.a
    f_wheel = f_acc + f_aero + f_roll + f_grade + f_hub
    ratio = np.concatenate([[0.0], np.asarray(veh.gears)])[tr.gear] * veh.final
    n = engine_speed(v, tr.gear, veh)
    w = n * 2 * math.pi / 60
    ft = f_wheel + f_gear
    torque = np.where(tr.gear > 0, np.where(ft > 0, ft / veh.eta, ft * veh.eta) * veh.radius / np.maximum(ratio, 1e-9), 0.0)
    slip = v / veh.radius * ratio * 60 / (2 * math.pi) < 1.25 * e.n_idle
    dw = np.where((tr.gear > 0) & ~slip, tr.a / veh.radius * ratio, 0.0)
    torque = torque + veh.engine_inertia * dw
    torque = torque + (e.accessory_w + st.accessory) / np.maximum(w, 1)
    bmep = torque * 4 * math.pi / e.displacement / 1e5  # bar
    N = n / 1000
    fm = e.fmep[0] + e.fmep[1] * N + e.fmep[2] * N * N
    tmax = e.t_max * np.maximum(.25, 1 - e.droop * (n / e.n_t - 1) ** 2)
    full = tmax * 4 * math.pi / e.displacement / 1e5 + fm
    warm, _, _ = _burn(bmep, fm, full, n, e, 0.0, np.zeros_like(n))
    warm = _floor(warm, n, tr, e, st)
    x = st.cold * np.exp(-np.concatenate([[0], np.cumsum(warm * tr.dt)[:-1]]) / e.warm_up_j)
    p, fmc, pm = _burn(bmep, fm, full, n, e, st.cold, x)
    if st.cold > 0:
        p = _floor(p, n, tr, e, st, x)
    else:
        p = warm
    p = np.where(tr.running, p, 0.0)
    rate = p / e.lhv * 1000
    parts = {"aero": f_aero * v, "roll": f_roll * v, "hub": f_hub * v, "gear": f_gear * v, "grade": f_grade * v, "acc": f_acc * v,
             "torque": torque, "fuel_w": p, "load": (bmep + fm) / full, "tyre_t": tt, "rpm": n}
    return rate, parts


def _burn(bmep, fm, full, n, e, cold, x):  # type: ignore[no-untyped-def]
    """Fuel power W before the overrun floor: curved Willans line with throttling."""
    fmx = fm * (1 + e.cold_friction * x ** 1.2)
    load = np.clip((bmep + fmx) / full, 0.02, 1.15)
    pm = e.pump * (1 - np.clip(load, 0, 1))
    eff = e.e0 * (1 - e.c_hi * np.maximum(0, load - .75) ** 2 - e.c_lo * (1 - np.clip(load, 0, 1)) ** 2 - e.c_n * ((n - e.n_opt) / e.n_opt) ** 2)
    eff = eff * (1 - e.cold_efficiency * x)
    p = (bmep + fmx + pm) * 1e5 * e.displacement * n / 120 / eff
    return p, fmx, pm


def _floor(p, n, tr, e, st, x=None):  # type: ignore[no-untyped-def]
    """Overrun: fuel cut above idle speed, or for a carburettor what the idle jet passes; idling never below idle fuel."""
    xx = np.zeros_like(n) if x is None else x
    one = np.full_like(n, e.n_idle)
    fi = e.fmep[0] + e.fmep[1] * one / 1000 + e.fmep[2] * (one / 1000) ** 2
    bi = (e.accessory_w + st.accessory) / (one * 2 * math.pi / 60) * 4 * math.pi / e.displacement / 1e5
    fulli = e.full_torque(e.n_idle) * 4 * math.pi / e.displacement / 1e5 + fi
    idle, _, _ = _burn(bi, fi, fulli, one, e, 0, xx)
    if e.cut:
        return np.where(n > 1.3 * e.n_idle, np.maximum(p, 0), np.maximum(p, .9 * idle))
    return np.maximum(p, idle * (n / e.n_idle) ** .3)
