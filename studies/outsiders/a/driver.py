"""An ordinary driver on a route: speed trace, gears, stops. Limited by what the engine can pull in the wind of the day."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np
from . import air
from .physics import Trace
from .routes import DS, Route
from .vehicles import Vehicle
from .wind import Day, ou

DT = 0.2


@dataclass(frozen=True)
class Style:
    pace: float          # of the limit
    a_max: float
    brake: float
    corner: float        # m/s2 sideways
    wander: float        # m/s, slow wander of the right foot
    stop_share: float    # junctions where he has to stop
    up_rpm: float        # share of governed speed


def draw_style(rng: np.random.Generator, stops: float) -> Style:
    return Style(pace=float(rng.uniform(.86, 1.03)), a_max=float(rng.uniform(.8, 1.8)), brake=float(rng.uniform(.8, 1.4)), corner=float(rng.uniform(1.8, 3.0)),
                 wander=float(rng.uniform(.4, .9)), stop_share=stops, up_rpm=float(rng.uniform(.5, .64)))


def drive(route: Route, veh: Vehicle, style: Style, day: Day, mass: float, rng: np.random.Generator) -> Trace:
    L = route.laps
    n1 = len(route.x)
    top = veh.engine.n_max * .92 / 60 * 2 * math.pi * veh.radius / (veh.final * veh.gears[-1])
    lim = np.minimum(route.limit * style.pace, top)
    lim = np.minimum(lim, np.sqrt(style.corner / np.maximum(route.corner, 1e-5)))
    lim = np.tile(lim, L)
    n = len(lim)
    stops = []
    for lap in range(L):
        for j in route.junctions:
            u = rng.random()
            i = lap * n1 + j
            if 50 < i < n - 50:
                if u < style.stop_share:
                    stops.append((i, float(rng.exponential(9) + 2)))
                elif u < style.stop_share + .3:
                    lim[max(0, i - 3):i + 3] = np.minimum(lim[max(0, i - 3):i + 3], rng.uniform(4, 9))  # give way
    for i, _ in stops:
        lim[i] = 0.0
    lim[-1] = 0.0
    stops.append((n - 1, float(rng.uniform(3, 25))))
    lv = lim.tolist()
    b2 = 2 * style.brake * DS
    for i in range(n - 2, -1, -1):
        m = math.sqrt(lv[i + 1] ** 2 + b2)
        if lv[i] > m:
            lv[i] = m
    # road geometry per grid point
    if route.closed:
        ex, ey = np.append(route.x, route.x[0]), np.append(route.y, route.y[0])
        gz = (np.roll(route.z, -1) - np.roll(route.z, 1)) / (2 * DS)
    else:
        ex, ey = np.append(route.x, 2 * route.x[-1] - route.x[-2]), np.append(route.y, 2 * route.y[-1] - route.y[-2])
        gz = np.gradient(route.z) / DS
    head = np.arctan2(np.diff(ex), np.diff(ey))
    wf = day.u10 * day.factor(.55 * veh.height + .1)
    we, wn = -wf * math.sin(math.radians(day.direction)), -wf * math.cos(math.radians(day.direction))
    par = (we * np.sin(head) + wn * np.cos(head)).tolist()
    gl = gz.tolist()
    e = veh.engine
    ratios = [g * veh.final for g in veh.gears]
    ng = len(ratios)
    me = mass + veh.wheel_mass
    wander = (ou(rng, 25000, DT, 25) * style.wander).tolist()
    dens = day.rho / air.density(25, 99000, 0)
    kw = 60 / (2 * math.pi * veh.radius)
    n_low, n_up0 = max(1.5 * e.n_idle, .28 * e.n_max), style.up_rpm * e.n_max
    tf = [e.full_torque(i * 10.0) * min(1.0, dens) for i in range(0, 800)]
    lead = rng.uniform(4, 20)
    V: list[float] = []
    A: list[float] = []
    GR: list[int] = []
    S: list[float] = []
    k0 = int(lead / DT)
    s = v = a = 0.0
    gear, shift, hold, dwell, si = 0, 0, 0, k0, 0
    for step in range(24000):
        S.append(s); V.append(v); GR.append(0 if shift > 0 else gear)
        i = int(s / DS)
        if si < len(stops) and i >= stops[si][0] - 1 and v < 1.2:
            if si == len(stops) - 1 and dwell <= 0:
                dwell = int(stops[si][1] / DT) + 1
                si += 1
                v = 0.0
            else:
                dwell = int(stops[si][1] / DT) + 1
                v = 0.0
                si += 1
                s = max(s, stops[si - 1][0] * DS + .1)
        if dwell > 0:
            dwell -= 1
            v = 0.0
            a = 0.0
            gear = 0
            A.append(0.0)
            if dwell == 0 and si >= len(stops):
                break
            continue
        if i >= n - 1:
            lim_here = 0.0
        else:
            f = s / DS - i
            lim_here = lv[i] * (1 - f) + lv[i + 1] * f
        il = i % n1
        goal = lim_here + wander[step] * min(1.0, lim_here / 15) if lim_here > 3 else lim_here
        goal = min(max(goal, .8), lim_here + 1.5)
        want = (goal - v) / 1.6
        am = style.a_max * (1 - .6 * v / 35)
        want = max(-1.35 * style.brake, min(am, want))
        if v < 1.0 and goal > 1.5:
            want = max(want, .5)
        # forces
        g = gl[il]
        u = v - par[il]
        fr = mass * air.G * (g + .012) + .5 * day.rho * veh.cda * u * abs(u) * 1.1
        need = fr + me * want
        if shift > 0:
            shift -= 1
            am2 = -fr / me
            want = min(want, am2)
        else:
            if gear == 0:
                gear = 1
                while gear < ng and v * ratios[gear - 1] * kw > n_up0:
                    gear += 1
            rpm = v * ratios[gear - 1] * kw
            fmax = tf[min(799, int(max(rpm, 1.25 * e.n_idle) / 10))] * ratios[gear - 1] * veh.eta / veh.radius
            load = max(0.0, want) / max(am, .1)
            hold -= 1
            if gear < ng and hold <= 0 and rpm > n_up0 * (.82 + .35 * load):
                r2 = v * ratios[gear] * kw
                f2 = tf[min(799, int(r2 / 10))] * ratios[gear] * veh.eta / veh.radius
                if (r2 > n_low and f2 > 1.08 * fr + me * max(.06, min(want, .25))) or rpm > .95 * e.n_max:
                    gear += 1
                    shift, hold = 4, 15
            elif gear > 1 and ((rpm < n_low * .90 and (want < 0 or hold <= 0)) or (hold <= 0 and fmax < fr + me * .04 and v < goal - 1.5)):
                r2 = v * ratios[gear - 2] * kw
                if r2 < .9 * e.n_max:
                    gear -= 1
                    shift, hold = 4, 25
            if need > fmax:
                want = (fmax - fr) / me
            if want < -.2 and rpm < 1.15 * e.n_idle and gear > 0:
                gear = 0
                shift = 0
        # limited jerk
        a += (want - a) * .35
        nv = v + a * DT
        if nv < .0:
            nv = 0.0
        aa = (nv - v) / DT
        A.append(aa)
        s += .5 * (v + nv) * DT
        v = nv
    m = len(V)
    v_, s_ = np.array(V), np.minimum(np.array(S), (n - 1) * DS)
    a_ = np.gradient(v_, DT)
    t_ = np.arange(m) * DT
    ls = s_ % (n1 * DS) if route.closed else s_
    q = np.arange(n1 + 1) * DS
    zz = np.append(route.z, route.z[0] if route.closed else route.z[-1])
    hd = np.unwrap(np.append(head, head[0] if route.closed else head[-1]))
    running = t_ >= min(3.0, lead / 2)
    return Trace(t_, v_, a_, np.array(GR[:m], int), s_, ls, np.interp(ls, q, ex), np.interp(ls, q, ey), np.interp(ls, q, zz),
                 np.interp(ls, q, np.append(gl, gl[0] if route.closed else gl[-1])), np.interp(ls, q, hd), running, DT)
