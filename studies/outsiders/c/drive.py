"""The driver: holds a target speed with a lagging PI controller on the pedal, brakes for bends and stops, changes gear.

Gives the true trace (speed, position, gear) at DT. The force and fuel of any trace come from energy.py.
"""
from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, pi, sqrt

import numpy as np
from numpy.random import Generator

from .air import G_N
from .noise import ou
from .route import DS, Route
from .vehicle import Vehicle
from .weather import DT, MAX_STEPS, Day


@dataclass(frozen=True)
class Driver:
    """Style; every figure assumed (ordinary drivers)."""

    accel: float = 1.3  # m/s2 at pull-away
    brake: float = 1.1  # m/s2
    lateral: float = 2.3  # m/s2 in bends
    kp: float = 0.30  # 1/s
    ki: float = 0.035  # 1/s2
    wander: float = 0.022  # relative sd of the speed held
    factor: float = 1.0  # on the target speed
    lug: float = 0.30  # lowest speed used, share between idle and governed


def draw_driver(rng: Generator) -> Driver:
    """One ordinary driver."""
    u = rng.uniform
    return Driver(u(0.9, 1.6), u(0.8, 1.4), u(1.7, 2.8), u(0.2, 0.4), u(0.02, 0.05), u(0.012, 0.032), 1.0, u(0.20, 0.32))


@dataclass(frozen=True)
class Trace:
    """Truth at DT; n intervals, n+1 nodes."""

    s: np.ndarray  # nodes, m
    v: np.ndarray  # nodes, m/s
    gear: np.ndarray  # per interval: 1.., 0 neutral or declutched

    @property
    def distance(self) -> float:
        """m."""
        return float(self.s[-1])

    @property
    def seconds(self) -> float:
        """s."""
        return len(self.gear) * DT


def sustainable(v: Vehicle) -> float:
    """Speed held with ease: 62 % of rated power on the level, m/s."""
    p = 0.62 * v.full_torque(np.array(0.88 * v.n_max)) * 0.88 * v.n_max * 2 * pi / 60 * 0.9
    sp = 15.0
    while sp < 45 and (v.crr80 * v.mass * G_N + 0.6 * v.cda * sp * sp) * sp < p:
        sp += 0.2
    rev = 0.85 * v.n_max / 60 * 2 * pi * v.radius / (v.gears[-1] * v.final_drive)
    return min(sp, rev)


def go(v: Vehicle, r: Route, day: Day, d: Driver, rng: Generator, rev_scale: float = 1.0) -> Trace:
    """Drive the route once. rev_scale: keeps the change-up road speeds after a change of axle (habit)."""
    lim = r.limit * d.factor
    prof = np.minimum(lim, np.sqrt(d.lateral / np.maximum(r.curvature, 1e-5)))
    v2 = (prof**2).tolist()
    n = len(v2)
    stop_idx = {min(int(round(p / DS)), n - 1) for p, _ in r.stops}
    for i in stop_idx:
        v2[i] = 0.0
    for i in range(n - 2, -1, -1):
        m = v2[i + 1] + 2 * d.brake * DS
        if v2[i] > m:
            v2[i] = m
    stops = [(int(round(p / DS)) * DS, dwell) for p, dwell in r.stops]
    slope = r.slope.tolist()
    sh, ch = np.sin(r.heading).tolist(), np.cos(r.heading).tolist()
    wind_e, wind_n = (a.tolist() for a in day.at_vehicle(v.height, MAX_STEPS, np.ones(MAX_STEPS)))
    shelter = r.shelter.tolist()
    wander = (1 + d.wander * ou(rng, MAX_STEPS, DT, 35.0)).tolist()
    rho, cda, gain, peak = day.air.density, v.cda, v.yaw_gain, v.yaw_peak
    mass, f_roll = v.mass, v.crr80 * v.mass * G_N * 1.08 + v.bearing_n + v.spin0 + 20 * v.spin1
    ratios = [g * v.final_drive / v.radius for g in v.gears]
    rpm = [x * 60 / (2 * pi) for x in ratios]
    n_lug = (v.n_idle + d.lug * (v.n_max - v.n_idle)) * rev_scale
    ft = [float(v.full_torque(np.array(float(q)))) for q in range(0, int(v.n_max) + 800, 50)]
    m_gear = [mass + v.wheel_inertia / v.radius**2 + v.engine_inertia * x * x for x in ratios]
    s, sp, t, integ, force, gear, shift = 0.0, 0.0, 0, f_roll, 0.0, 0, 0
    hold = int(rng.uniform(5, 20) / DT)
    k_stop, last_stop = 0, -1e9
    out_s, out_v, out_g = [0.0], [0.0], []
    top = len(ratios) - 1
    last_up = 0
    while t < MAX_STEPS - 60:
        if hold > 0:
            hold -= 1
            g_now = 0
            sp = 0.0
        else:
            i = int(s / DS)
            if i >= n - 1:
                i = n - 2
            q = s / DS - i
            a2, b2 = v2[i], v2[i + 1]
            vt = sqrt(a2 + (b2 - a2) * q) if a2 + (b2 - a2) * q > 0 else 0.0
            ff = (b2 - a2) / (2 * DS) if b2 < a2 else 0.0
            if vt > 8:
                vt *= wander[t]
            if s - last_stop < 8 and vt < 3.5:
                vt, ff = 3.5, 0.0
            err = vt - sp
            if err > 1.5:  # far below the brake curve: no braking yet
                ff = 0.0
            want = d.kp * err * 2.0
            a_max = d.accel * (1 - sp / 60)
            want = a_max if want > a_max else -1.6 if want < -1.6 else want
            # resistance met (the driver does not know it; it moves the car)
            u = sp - (wind_e[t] * sh[i] + wind_n[t] * ch[i]) * shelter[i]
            c = (wind_e[t] * ch[i] - wind_n[t] * sh[i]) * shelter[i]
            psi = abs(atan2(c, u))
            yf = 1 + gain * 0.5 * (1 - cos(pi * (psi if psi < peak else peak) / peak))
            res = f_roll + 0.5 * rho * cda * yf * (u * u + c * c) * (1 if u > 0 else -1) + mass * G_N * slope[i]
            if abs(err) < 3.0:
                integ += mass * d.ki * err * DT
                integ = -2000.0 if integ < -2000 else 4000.0 if integ > 4000 else integ
            x = sp * rpm[gear]
            f_max = ft[int(min(max(x, 900), v.n_max) / 50)] * ratios[gear] * 0.92
            if x > v.n_max:
                f_max *= max(0.0, 1 - (x - v.n_max) / 200)
            target = mass * (want + ff) + integ
            target = f_max if target > f_max else -mass * 4 if target < -mass * 4 else target
            force += (target - force) * DT / 0.5
            if shift > 0:
                shift -= 1
                f_now = min(force, 0.0)
                g_now = 0
            else:
                f_now = force
                g_now = gear + 1
                load = force / f_max if f_max > 1 else 1.0
                if gear < top and sp * rpm[gear + 1] > n_lug * (1 + 0.35 * max(load, 0.0)) and t - last_up > 8 and (
                        force < 0.85 * ft[int(min(sp * rpm[gear + 1], v.n_max) / 50)] * ratios[gear + 1] * 0.92 or x > 0.9 * v.n_max):
                    gear, shift, last_up = gear + 1, 4, t
                elif gear > 0 and (x < n_lug * 0.82 or (load > 0.97 and err > 1.2 and sp * rpm[gear - 1] < 0.88 * v.n_max and t - last_up > 40)):
                    gear, shift, last_up = gear - 1, 4, t
            a = (f_now - res) / m_gear[gear]
            pos = stops[k_stop][0]
            if (pos - s < 1.0) or (sp < 0.8 and pos - s < 5.0 and s - last_stop > 10):
                a = -1.2
            nv = sp + a * DT
            if nv < 0.0:
                nv = 0.0
            s_new = s + 0.5 * (sp + nv) * DT
            sp = nv
            if sp == 0.0 and (pos - s_new < 6.0):
                if k_stop == len(stops) - 1:
                    out_s.append(s_new), out_v.append(0.0), out_g.append(g_now)
                    s = s_new
                    break
                hold = int(stops[k_stop][1] / DT) + 1
                k_stop, last_stop, gear, integ, force = k_stop + 1, max(s_new, pos), 0, f_roll, 0.0
            s = s_new
            if sp * rpm[0] < v.n_idle * 0.8 and gear == 0 and f_now <= 0:
                g_now = 0
        out_s.append(s)
        out_v.append(sp)
        out_g.append(g_now)
        t += 1
    else:
        raise RuntimeError("drive did not end")
    for _ in range(int(rng.uniform(3, 10) / DT)):  # engine idles before it is switched off
        out_s.append(s), out_v.append(0.0), out_g.append(0)
    return Trace(np.array(out_s), np.array(out_v), np.array(out_g))
