"""From a true trace to forces and fuel, with each effect of the day on or off; heat balances of engine and tyres."""
from __future__ import annotations

from dataclasses import dataclass
from math import exp

import numpy as np

from .air import CALM_AIR, G_N, Air
from .drive import Trace
from .route import DS, Route
from .vehicle import Vehicle
from .weather import DT, Day


OIL_CROSS = 220.0  # W/K oil to block and coolant (assumed)
OIL_AIR0, OIL_AIR1 = 8.0, 0.6  # W/K sump to air, standing and per m/s (assumed)


@dataclass(frozen=True)
class Start:
    """Temperatures at the start, degC."""

    coolant: float
    oil: float
    gearbox: float
    tyre: float


@dataclass(frozen=True)
class Result:
    """Fuel and energies of one evaluation (J, g)."""

    fuel_g: float
    terms: dict[str, float]
    wheel_force: np.ndarray
    coolant_end: float
    tyre_end: float
    closure: float  # J, energy book error


def viscosity_factor(t_c: np.ndarray | float, power: float) -> np.ndarray:
    """(nu(T)/nu(95))^power for a 10W-40 class oil; Vogel form, about 95 mm2/s at 40 and 11-14 at 100 degC (handbook)."""
    t = np.clip(np.asarray(t_c, float), -20, 140)
    nu = 0.08 * np.exp(950.0 / (t + 94.2))  # mm2/s: 95 at 40, 10.7..14 at 95..100
    return (nu / (0.08 * np.exp(950.0 / (95 + 94.2)))) ** power


def tyre_reference(v: Vehicle) -> tuple[float, float, float]:
    """Reference tyre temperature, heat loss W/K at 80 km/h, heat capacity J/K."""
    heat = v.crr80 * v.mass * G_N * 80 / 3.6
    ha = heat / v.tyre_rise
    return 20 + v.tyre_rise, ha, ha * v.tyre_tau


def tyre_loss_shape(speed: np.ndarray | float) -> np.ndarray:
    """Heat loss relative to 80 km/h (forced convection, exponent 0.8, plus a still part; assumed)."""
    return 0.35 + 0.65 * (np.maximum(speed, 0) / (80 / 3.6)) ** 0.8


def crr_speed(v: Vehicle, speed: np.ndarray | float) -> np.ndarray:
    """Speed growth at constant tyre temperature, 1 at 80 km/h."""
    k = np.asarray(speed) * 3.6
    return np.maximum(1 + v.crr_v1 * (k - 80) + v.crr_v2 * (k * k - 6400), 0.6)


def tyre_equilibrium(v: Vehicle, speed: float, air_c: float) -> float:
    """Steady tyre temperature."""
    ref, ha, _ = tyre_reference(v)
    t = air_c + v.tyre_rise
    for _ in range(40):
        heat = v.crr80 * np.exp(-v.crr_temp * (t - ref)) * float(crr_speed(v, speed)) * v.mass * G_N * speed
        t = 0.5 * t + 0.5 * (air_c + heat / (ha * float(tyre_loss_shape(speed))))
    return float(t)


def gearbox_equilibrium(speed: float, air_c: float) -> float:
    """Gearbox and axle oil when warm: 35 K above air at 80 km/h (assumed)."""
    return air_c + 35 * (0.3 + 0.7 * speed / 22.2)


def start_state(v: Vehicle, air_c: float, cold: bool, pause_min: float, speed: float) -> Start:
    """Cold: soaked at air temperature. Warm: after a warm-up drive and a pause for weighing."""
    if cold:
        return Start(air_c + 1, air_c + 1, air_c, air_c)
    k = np.exp(-pause_min / 45)  # engine cools with 45 min .. (assumed)
    kt = np.exp(-pause_min / 30)  # tyres standing (assumed)
    te = tyre_equilibrium(v, speed, air_c)
    return Start(air_c + (v.thermostat_c - air_c) * k, air_c + (v.thermostat_c - air_c) * k,
                 air_c + (gearbox_equilibrium(speed, air_c) - air_c) * k, air_c + (te - air_c) * kt)


def _tyres(v: Vehicle, vm: np.ndarray, air_c: float, t0: float) -> np.ndarray:
    """Tyre temperature at DT from the heat balance, stepped each second."""
    ref, ha, cap = tyre_reference(v)
    k = int(1 / DT)
    v1 = vm[: len(vm) // k * k].reshape(-1, k).mean(1)
    base = (v.crr80 * crr_speed(v, v1) * v.mass * G_N * v1 / cap).tolist()
    loss = (ha * tyre_loss_shape(v1) / cap).tolist()
    t, out = t0, []
    c = v.crr_temp
    for b, h in zip(base, loss):
        out.append(t)
        t += b * exp(-c * (t - ref)) - h * (t - air_c)
    return np.interp(np.arange(len(vm)) * DT, np.arange(len(out)), out)


def evaluate(v: Vehicle, tr: Trace, r: Route, day: Day, start: Start, *, wind: bool, air: Air,
             engine_cold: bool, tyres_cold: bool, accessory: float = 1.0) -> Result:
    """Fuel of the trace. wind/engine_cold/tyres_cold False = calm-day state of that effect."""
    vm = 0.5 * (tr.v[1:] + tr.v[:-1])
    a = np.diff(tr.v) / DT
    sm = 0.5 * (tr.s[1:] + tr.s[:-1]) / DS
    n = len(vm)
    i = np.clip(sm.astype(int), 0, len(r.x) - 2)
    q = sm - i

    def at(arr: np.ndarray) -> np.ndarray:
        return arr[i] * (1 - q) + arr[i + 1] * q
    slope = at(r.slope)
    sh, ch = np.sin(r.heading), np.cos(r.heading)
    hx, hy = at(sh), at(ch)
    norm = np.maximum(np.hypot(hx, hy), 1e-6)
    hx, hy = hx / norm, hy / norm
    moving = vm > 0.5
    v_mean = float(vm[moving].mean())
    # --- road load
    if wind:
        e, nn = day.at_vehicle(v.height, n, at(r.shelter))
        par, per = e * hx + nn * hy, e * hy - nn * hx
    else:
        par = per = np.zeros(n)
    u = vm - par
    aero = 0.5 * air.density * v.cda * v.yaw_factor(np.arctan2(per, u)) * (u * u + per * per)
    if tyres_cold:
        t_tyre = _tyres(v, vm, day.air.temperature_c, start.tyre)
    else:
        t_tyre = _tyres(v, vm, CALM_AIR.temperature_c, tyre_equilibrium(v, v_mean, CALM_AIR.temperature_c))
    on = (vm > 0.01).astype(float)
    cos_t = np.sqrt(1 - slope**2)
    roll = (v.mass * G_N * cos_t * v.crr80 * crr_speed(v, vm) * np.exp(-v.crr_temp * (t_tyre - tyre_reference(v)[0])) + v.bearing_n) * on
    grade = v.mass * G_N * slope
    corner = (v.mass * vm**2 * at(r.curvature)) ** 2 / v.corner_stiffness  # side force x slip angle
    m_wheels = v.mass + v.wheel_inertia / v.radius**2
    aero, grade = aero * on, grade * on
    force = m_wheels * a + roll + aero + grade + corner
    # --- engine side
    ratio = np.concatenate([[0.0], np.array(v.gears) * v.final_drive / v.radius])[tr.gear]
    geared = tr.gear > 0
    rpm = np.maximum(vm * ratio * 60 / (2 * np.pi), v.n_idle)
    slipping = geared & (vm * ratio * 60 / (2 * np.pi) < v.n_idle)
    warm_c = v.thermostat_c
    gear_warm = gearbox_equilibrium(v_mean, CALM_AIR.temperature_c)
    spin_mult = np.ones(n)
    fr_mult = np.ones(n)
    comb = np.zeros(n)
    acc_p = v.accessory_w * accessory + v.fan_w * (rpm / 4000) ** 3
    spin_w = v.spin0 + v.spin1 * vm
    p_bar, t_in = air.pressure_pa / 1e5, (air.temperature_c + 273.15) / 293.15
    imep_max = v.bmep_max + 2.0
    vd_rate = v.displacement * rpm / 120.0  # m3/s of working swept volume
    fmep_warm = v.fmep(rpm)
    coolant_end = warm_c
    fuel = np.zeros(n)
    for it in range(3 if engine_cold else 1):
        f_tr = force + spin_w * spin_mult * on
        p_wheel = f_tr * vm
        p_eng = np.where(p_wheel > 0, p_wheel / v.mesh, p_wheel * v.mesh)
        inert = np.where(slipping, 0.0, v.engine_inertia * ratio**2 * a * vm)
        p_b = np.where(geared, p_eng + inert, 0.0) + acc_p
        bmep = p_b / vd_rate / 1e5
        fmep = fmep_warm * fr_mult
        if v.fuel == "petrol":
            # pumping = phi (p_ambient - p_manifold); p_man = 0.12 + 0.088 imep T/293 (bar), throttled engine
            b = 0.088 * t_in
            imep = (bmep + fmep + v.pump_phi * (p_bar - 0.12)) / (1 + v.pump_phi * b)
            pm = np.maximum(v.pump_phi * (p_bar - 0.12 - b * np.maximum(imep, 0)), 0.05)
            imep = bmep + fmep + pm
        else:
            imep = bmep + fmep + 0.15 + 0.025 * (rpm / 1000) ** 2 + (0.10 if v.induction != "natural" else 0.0)
        x = imep / imep_max
        eta = v.eta_i * (1 - v.eta_curve * (np.clip(x, 0, 1.2) - 0.45) ** 2) * (1 - v.eta_speed * np.clip(np.sqrt(1800 / rpm) - 1, -0.2, 1.0))
        if v.fuel == "petrol":
            eta = eta * (1 - 0.6 * np.clip(x - 0.85, 0, 0.3))  # full-load enrichment
        rate = np.maximum(imep, 0) * 1e5 * vd_rate / (eta * v.lhv) * (1 + comb)
        if not v.fuel_cut:  # idle jet keeps flowing on overrun: 45 % of warm idle fuel per cycle (assumed)
            jet = (v.fmep(np.array(v.n_idle)) + 0.9) * 0.55 * 1e5 * vd_rate / (v.eta_i * v.lhv)
            rate = np.maximum(rate, jet)
        fuel = rate
        if engine_cold and it < 2:
            k = int(1 / DT)
            w = n // k * k
            heat = (rate * v.lhv)[:w].reshape(-1, k).mean(1)
            rub = (fmep * 1e5 * vd_rate)[:w].reshape(-1, k).mean(1)
            v1 = vm[:w].reshape(-1, k).mean(1)
            tc, to, tg = _engine_heat(v, heat.tolist(), rub.tolist(), v1.tolist(), start, day.air.temperature_c)
            tt = np.arange(n) * DT
            t1 = np.arange(len(tc))
            c_, o_, g_ = (np.interp(tt, t1, z) for z in (tc, to, tg))
            fr_mult = 0.7 * viscosity_factor(o_, 0.37) + 0.3 * viscosity_factor(c_, 0.37)
            lossw = OIL_AIR0 + OIL_AIR1 * float(vm.mean())  # warm oil of the calm day: the same balance, steady, at 20 degC
            rub_calm = float(np.mean(fmep_warm * 1e5 * vd_rate))
            oil_calm = (0.5 * rub_calm + OIL_CROSS * warm_c + lossw * CALM_AIR.temperature_c) / (OIL_CROSS + lossw)
            fr_mult = fr_mult / float(0.7 * viscosity_factor(oil_calm, 0.37) + 0.3 * viscosity_factor(warm_c, 0.37))
            spin_mult = viscosity_factor(g_, 0.35) / float(viscosity_factor(gear_warm, 0.35))
            comb = v.cold_combustion * np.clip((warm_c - 3 - c_) / (warm_c - 20), 0, 1.4) ** 1.3
            coolant_end = float(tc[-1])
    ke = 0.5 * m_wheels * (tr.v[-1] ** 2 - tr.v[0] ** 2)
    terms = {"air drag": aero, "rolling": roll, "grade": grade, "cornering": corner}
    joules = {k: float(np.sum(x * vm) * DT) for k, x in terms.items()}
    closure = float(np.sum(force * vm) * DT) - sum(joules.values()) - float(ke)
    return Result(float(fuel.sum() * DT * 1000), joules, force, coolant_end, float(t_tyre[-1]), closure)


def _engine_heat(v: Vehicle, heat: list[float], rub: list[float], speed: list[float], s: Start, air_c: float
                 ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Coolant+block, oil and gearbox temperatures each second. Shares to coolant 0.24, to oil 0.5 of friction (assumed,
    cf. reference.md 5.3 energy split); loss to air and cabin 20 W/K + 1.2 W/K per m/s (assumed)."""
    cc, co = v.coolant_kj_k * 1e3, v.oil_kj_k * 1e3
    tc, to, tg = s.coolant, s.oil, s.gearbox
    a, b, c = [], [], []
    for h, f, sp in zip(heat, rub, speed):
        a.append(tc), b.append(to), c.append(tg)
        cross = OIL_CROSS * (tc - to)
        dc = (0.24 * h + 0.3 * f - cross - (20 + 1.2 * sp) * (tc - air_c)) / cc
        to += (0.5 * f + cross - (OIL_AIR0 + OIL_AIR1 * sp) * (to - air_c)) / co
        tc = min(tc + dc, v.thermostat_c)
        tg += (air_c + 35 * (0.3 + 0.7 * sp / 22.2) * (1.0 if sp > 0.5 else 0.6) - tg) / 900.0
    return np.array(a), np.array(b), np.array(c)


def chain(v: Vehicle, tr: Trace, r: Route, day: Day, start: Start, accessory: float = 1.0) -> dict[str, float]:
    """Calm day, then wind, air density, cold engine, cold tyres switched on in turn; grams."""
    def f(w: bool, air: Air, e: bool, t: bool) -> Result:
        return evaluate(v, tr, r, day, start, wind=w, air=air, engine_cold=e, tyres_cold=t, accessory=accessory)
    c = f(False, CALM_AIR, False, False)
    w = f(True, CALM_AIR, False, False)
    d = f(True, day.air, False, False)
    e = f(True, day.air, True, False)
    t = f(True, day.air, True, True)
    k = 100 / c.fuel_g
    return {"calm": c.fuel_g, "driven": t.fuel_g, "wind": (w.fuel_g - c.fuel_g) * k, "air_density": (d.fuel_g - w.fuel_g) * k,
            "cold_engine": (e.fuel_g - d.fuel_g) * k, "cold_tyres": (t.fuel_g - e.fuel_g) * k}
