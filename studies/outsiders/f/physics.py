"""Forces, gears and fuel. `Conditions` chooses which effects are on."""
from dataclasses import dataclass
import math
import numpy as np
from .randoms import Array
from .road import DT, Trace
from .vehicle import G, Vehicle
from .weather import RHO_REF, Day, RoadWind, density, isa_pressure

YAW_SAT = 0.45  # rad, where the yaw rise flattens; assumed (rise levels off past 25 deg)
T_HOT = 90.0    # degC, warm oil; assumed


@dataclass(frozen=True)
class Conditions:
    """Switches for the penalties: True = as the day was, False = as the calm day has it."""
    wind: bool = True; air: bool = True; engine: bool = True; tyres: bool = True


CALM = Conditions(False, False, False, False)


@dataclass(frozen=True)
class Start:
    """State at the start: engine coldness 0 (warm) .. 1, tyre warmth as a share of equilibrium."""
    engine: float; tyre: float


def drag_factor(psi: Array, k: float) -> Array:
    """C_T(psi)/C_T(0), body axis: 1 + k psi^2 at small yaw, levelling off."""
    return 1 + k * YAW_SAT**2 * (1 - np.exp(-(psi / YAW_SAT) ** 2))


def tyre_warmth(v: Array, tau: float, w0: float) -> Array:
    """Tyre temperature rise as a share of that at 80 km/h; heats with speed (exponent 0.8 assumed)."""
    goal = ((np.maximum(v, 0) / 22.2) ** 0.8).tolist(); k = DT / tau; w = w0; out = []
    for g in goal:
        w += k * (g - w); out.append(w)
    return np.array(out)


def rolling_coefficient(v: Vehicle, speed: Array, pressure_kpa: float, air_c: float, warmth: Array) -> Array:
    """C_rr of the tyres: speed, pressure [R 4.2] and tyre temperature against 20 degC air and 80 km/h."""
    hot = air_c - 20.0 + v.tyre_rise_k * (warmth - 1.0)
    return v.crr * (v.pressure_kpa / pressure_kpa) ** v.pressure_exp * np.exp(-v.tyre_temp_k * hot) * (
        1 + v.crr_v * ((speed / 22.2) ** 2 - 1) * 0.5)


def road_force(v: Vehicle, tr: Trace, mass: float, wind: RoadWind, day: Day, pressure_kpa: float, start: Start,
               on: Conditions) -> dict[str, Array]:
    """Forces at the wheel without inertia of the driveline, N."""
    moving = tr.v > 0.02
    h = tr.heading
    wp = wind.north * np.cos(h) + wind.east * np.sin(h) if on.wind else np.zeros_like(h)
    wc = -wind.north * np.sin(h) + wind.east * np.cos(h) if on.wind else np.zeros_like(h)
    u = tr.v - wp; vr2 = u * u + wc * wc
    psi = np.arctan2(np.abs(wc), np.abs(u) + 1e-9)
    rho = density(day.t_c, isa_pressure(day.qnh_pa, tr.ele), day.rh) if on.air else np.full_like(h, RHO_REF)
    aero = 0.5 * rho * v.cda * drag_factor(psi, v.yaw_k) * vr2 * np.sign(u) * np.minimum(1, np.abs(u) / (0.3 * np.sqrt(vr2) + 1e-9))
    mean_v = float(np.mean(tr.v[tr.v > 1])); eq = (mean_v / 22.2) ** 0.8
    warm = tyre_warmth(tr.v, v.tyre_tau_s, eq * (start.tyre if on.tyres else 1.0))
    roll = rolling_coefficient(v, tr.v, pressure_kpa, day.t_c if on.tyres else 20.0, warm) * mass * G * np.cos(np.arctan(tr.grade))
    climb = mass * G * np.sin(np.arctan(tr.grade))
    spin = v.spin_n * (1 + v.spin_v * tr.v)
    return {"aero": aero * moving, "roll": roll * moving, "grade": climb * moving, "spin": spin * moving,
            "inertia": (mass + v.wheel_inertia_kg) * tr.a, "rho": rho}


def gears(v: Vehicle, tr: Trace, force: Array, n_low: float) -> Array:
    """Highest gear that keeps the revs and has a torque reserve, at least three seconds in each."""
    step = int(1 / DT); vs = tr.v[::step]; fs = np.convolve(np.pad(force, 6, "edge"), np.ones(13) / 13, "valid")[::step]
    n = np.outer(np.array(v.ratios) * v.final / v.circumference_m * 60, vs)
    need = np.maximum(fs, 0) * v.circumference_m / (2 * math.pi) / (np.array(v.ratios)[:, None] * v.final * v.drive_eff)
    ok = (n >= n_low) & (n <= 0.97 * v.n_max) & (need <= 0.78 * v.full_torque(n))
    best = np.where(ok.any(0), len(v.ratios) - 1 - np.argmax(ok[::-1], 0), 0)
    over = n > v.n_max
    out, g, held = [], 0, 9
    for i, b in enumerate(best.tolist()):
        if vs[i] < 1.5: b = 0
        if not ok[:, i].any() and vs[i] > 1.5:
            b = int(np.argmax(np.where(over[:, i], -n[:, i], v.full_torque(n[:, i]) * np.array(v.ratios))))
        held += 1
        slow = n[g, i] < 0.8 * n_low or over[g, i]
        if b != g and (held >= 4 or slow):
            g, held = (g + 1 if b > g and held < 8 and not over[g, i] else b), 0
        out.append(g)
    return np.repeat(np.array(out), step)[: len(tr.v)] if len(out) * step >= len(tr.v) else np.pad(np.repeat(out, step), (0, len(tr.v) - len(out) * step), "edge")


def fuel_rate(v: Vehicle, tr: Trace, f: dict[str, Array], gear: Array, day: Day, start: Start, on: Conditions) -> Array:
    """Fuel, kg/s. Indicated work pays brake work, friction and (petrol) throttling; curved efficiency."""
    i_tot = np.array(v.ratios)[gear] * v.final
    n = np.maximum(v.n_idle, tr.v / v.circumference_m * i_tot * 60)
    locked = tr.v / v.circumference_m * i_tot * 60 >= v.n_idle * 0.98
    rot = np.where(locked, v.engine_inertia * (2 * math.pi * i_tot / v.circumference_m) ** 2, 0) * tr.a
    wheel = (f["aero"] + f["roll"] + f["grade"] + f["spin"] + f["inertia"]) * tr.v
    p_road = np.where(wheel > 0, wheel / v.drive_eff, wheel * v.drive_eff)
    p_road = np.where(locked, p_road + rot * tr.v, np.maximum(p_road, 0))
    p_b = p_road + v.acc_w
    cyc = v.displacement_m3 * n / 120.0          # swept volume per second, four-stroke
    krpm = n / 1000
    fmep = (v.fmep[0] + v.fmep[1] * krpm + v.fmep[2] * krpm**2) * 1e5
    bmep = p_b / cyc
    load = np.clip((bmep + fmep) / (v.bmep_max * 1e5 + fmep), 0, 1.1)
    if v.fuel == "petrol":                        # throttle: manifold pressure rises with charge needed
        p_amb = isa_pressure(day.qnh_pa, tr.ele) if on.air else np.full_like(n, 1e5)
        pmep = v.pump_k * np.maximum(0.03e5, 0.62 * (p_amb - np.clip(0.26 + 0.76 * load, 0.28, 1.0) * 1e5))
    else:
        pmep = np.full_like(n, 0.12e5) * (1.6 if v.induction == "turbocharged" else 1.0)
    work = (bmep + fmep + pmep) * cyc
    eta = v.e * (1 - 0.015 * np.minimum(((krpm - 2.3) / 1.5) ** 2, 8.0) - 0.035 * np.exp(-load / 0.18) - 0.5 * np.maximum(0, load - 0.82) ** 2 * 2)
    q = np.maximum(work, 0) / (eta * v.lhv)
    low = 0.5 * fmep * cyc / (eta * v.lhv)        # without a cut some fuel flows on the overrun
    burn = np.where((n > 1.35 * v.n_idle) & locked & v.cut, q, np.maximum(q, low))
    if on.engine and start.engine > 0:
        mean = float(np.mean(burn))
        tau = np.cumsum(0.5 * DT / v.cold_tau_s + 0.5 * burn * DT / (mean * v.cold_tau_s))
        size = v.cold_g20 * 1e-3 * (T_HOT - day.t_c) / 70.0 * start.engine
        shape = np.where(burn > 0, 0.5 * n / np.mean(n) + 0.5 * burn / mean, 0.0)
        burn = burn + size * np.exp(-tau) / v.cold_tau_s * shape
    return burn
