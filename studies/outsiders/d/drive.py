"""How the driver drives: a feasible speed trace over the road, and the gears."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np
from .air import G
from .roads import Road
from .vehicles import Vehicle

Rng = np.random.Generator
DT = 0.2    # s, step of the physics


@dataclass(frozen=True)
class Style:
    cruise: float       # m/s
    a_lat: float; a_acc: float; a_brake: float
    wander: float       # share of speed, one s.d.
    stop_share: float   # share of the possible stops taken
    up_rpm: float


@dataclass(frozen=True)
class Trace:
    t: np.ndarray; v: np.ndarray; a: np.ndarray; s: np.ndarray       # s: driven distance from start
    lap_s: np.ndarray
    lat: np.ndarray; lon: np.ndarray; z: np.ndarray; heading: np.ndarray; grade: np.ndarray; shelter: np.ndarray


def make_trace(rng: Rng, v: Vehicle, road: Road, laps: int, st: Style, headwind: float) -> Trace:
    L = road.length
    n = int(L * laps / 4.0)
    s = np.linspace(0, L * laps, n + 1)
    ds = float(s[1] - s[0])
    sl = s % L
    sl[-1] = L
    curv, grade = np.interp(sl, road.s, road.curvature), np.interp(sl, road.s, road.grade)
    k = np.hanning(max(5, int(700 / ds))); k /= np.sqrt(np.sum(k ** 2))
    wander = 1 + st.wander * np.convolve(rng.normal(size=n + 1), k, "same")
    lim = np.minimum(st.cruise * np.clip(wander, .8, 1.2), np.sqrt(st.a_lat / np.maximum(curv, 1e-6)))
    dwell: dict[int, float] = {}
    for lap in range(laps):
        for d, vs in road.slow:
            i = int((lap * L + d) / ds)
            w = int(rng.uniform(10, 40) / ds) + 1
            lim[max(0, i - w):i + w] = np.minimum(lim[max(0, i - w):i + w], vs * rng.uniform(.9, 1.1))
        for d in road.stops:
            if rng.random() < st.stop_share:
                dwell[min(n - 1, max(1, int((lap * L + d) / ds)))] = rng.uniform(4, 40)
        if road.turn is not None:
            dwell[min(n - 1, int((lap * L + road.turn) / ds))] = rng.uniform(5, 15)
            if lap:
                dwell[min(n - 1, int(lap * L / ds))] = rng.uniform(5, 15)
    for i in dwell:
        lim[i] = 0.0
    lim[0] = lim[-1] = 0.0
    # backward: braking; forward: accelerating within the power there is
    lim2 = (lim ** 2).tolist()
    for i in range(n - 1, -1, -1):
        m = lim2[i + 1] + 2 * st.a_brake * ds
        if lim2[i] > m:
            lim2[i] = m
    pw = 0.80 * v.max_power * v.eta
    cda, roll, mass = 0.6 * v.cda, v.crr * 1.15 * v.mass * G, v.mass * 1.12
    gl = grade.tolist()
    out = [0.0] * (n + 1)
    for i in range(n):
        u2 = out[i]
        u = math.sqrt(u2)
        f = pw / max(u, 4.0)
        a = (f - roll - cda * (u + headwind) ** 2 - v.mass * G * gl[i]) / mass
        a = min(a, st.a_acc * max(0.25, 1 - u / 45.0))
        nx = u2 + 2 * a * ds
        nx = min(nx, lim2[i + 1])
        out[i + 1] = max(nx, 4.0 if lim2[i + 1] > 4.0 else min(lim2[i + 1], 4.0))
    sp = np.sqrt(np.array(out))
    sp[0] = 0.0
    tt = np.concatenate([[0], np.cumsum(2 * ds / np.maximum(sp[1:] + sp[:-1], 0.4))])
    lead, tail = rng.uniform(10, 45), rng.uniform(5, 30)
    shift = lead
    segs_t, segs_v = [np.array([0.0])], [np.array([0.0])]
    prev = 0
    for i in sorted(dwell):
        segs_t.append(tt[prev:i + 1] + shift); segs_v.append(sp[prev:i + 1])
        shift += dwell[i]; prev = i
    segs_t.append(tt[prev:] + shift); segs_v.append(sp[prev:])
    segs_t.append(np.array([tt[-1] + shift + tail])); segs_v.append(np.array([0.0]))
    T, V = np.concatenate(segs_t), np.concatenate(segs_v)
    t = np.arange(0, T[-1], DT)
    vel = np.interp(t, T, V)
    kk = np.hanning(13); kk /= kk.sum()                     # limits the jerk
    vel = np.convolve(np.concatenate([np.zeros(6), vel, np.zeros(6)]), kk, "valid")
    vel[vel < 0.02] = 0.0
    dist = np.concatenate([[0], np.cumsum((vel[1:] + vel[:-1]) / 2 * DT)])
    lap_s = dist % L
    f = lambda y: np.interp(lap_s, road.s, y)
    acc = np.gradient(vel, DT)
    return Trace(t, vel, acc, dist, lap_s, f(road.lat), f(road.lon), f(road.z), f(road.heading), f(road.grade), f(road.shelter))


def gears_of(v: Vehicle, tr: Trace, st: Style, wheel_power: np.ndarray) -> np.ndarray:
    """Gear index at each step (0 = first): highest gear above the driver's engine speed that has the torque; held 2 s at least."""
    k = np.ones(15) / 15
    pos = np.maximum(wheel_power, 0)
    p = np.maximum(np.convolve(pos, k, "same"), np.convolve(pos, np.ones(5) / 5, "same")) / v.eta + v.accessories_w
    ratio = np.array(v.gears) * v.final
    rpm = tr.v[:, None] / v.circumference * 60 * ratio[None, :]
    cap = 0.92 * v.full_power(np.maximum(rpm, v.idle_rpm))
    ok = (rpm > st.up_rpm) & (cap > p[:, None])
    over = rpm > 0.97 * v.gov_rpm
    # highest acceptable; if none is acceptable the highest gear not below 1.1 idle with most power
    best = np.where(ok & ~over, np.arange(ratio.size)[None, :], -1).max(axis=1)
    low = np.argmax(np.where(over | (rpm < 1.25 * v.idle_rpm), -1.0, cap), axis=1)
    best = np.where(best < 0, low, best)
    out = np.empty(tr.t.size, int)
    g, since = 0, 99.0
    bl, vl, rl = best.tolist(), tr.v.tolist(), rpm.tolist()
    for i in range(tr.t.size):
        since += DT
        w = bl[i]
        if vl[i] < 0.5:
            g = 0
        elif w != g and (since > (0.6 if w < g else 2.0) or rl[i][g] > v.gov_rpm) and (w < g or rl[i][w] > st.up_rpm * 1.08 or since > 8):
            g = w if w < g else g + 1
            since = 0.0
        out[i] = g
    return out
