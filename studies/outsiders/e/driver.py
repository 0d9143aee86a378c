"""An ordinary driver: looks ahead, wanders a little, slows for bends and junctions, shifts by habit."""
from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from .air import G_MPS2
from .physics import Trace
from .route import Route
from .vehicle import Vehicle

DT_S = 0.25


@dataclass(frozen=True)
class Style:
    """Habits, ordinary spread [A]."""
    pace: float            # of the limit
    accel: float           # m/s2
    brake: float
    bend: float            # lateral m/s2
    shift: float           # upshift engine speed / rated

    @staticmethod
    def draw(rng: Generator, fuel: str) -> "Style":
        return Style(rng.normal(.985, .035), rng.uniform(.7, 1.4), rng.uniform(.8, 1.4), rng.uniform(2.0, 3.2),
                     rng.uniform(.42, .56) if fuel == "petrol" else rng.uniform(.50, .62))

    def today(self, rng: Generator) -> "Style":
        """The same driver on another day."""
        return Style(self.pace * rng.normal(1, .012), self.accel * rng.normal(1, .08), self.brake * rng.normal(1, .08),
                     self.bend * rng.normal(1, .05), self.shift * rng.normal(1, .03))


def drive(veh: Vehicle, route: Route, style: Style, mass_kg: float, headwind_mps: float, rng: Generator) -> Trace:
    """Speed, distance and gear against time from standstill to standstill."""
    ds = 4.0
    dist = np.arange(0, route.total + ds, ds)
    pos, sign = route.fold(dist)
    target = np.minimum(np.interp(pos, route.s, route.limit) * style.pace,
                        np.sqrt(style.bend * np.interp(pos, route.s, route.curve_radius)))
    grade = np.interp(pos, route.s, route.grade) * sign
    stop_at = [route.total]
    if route.kind == "out_and_back":
        stop_at += [route.length * k for k in range(1, 2 * route.repeats)]
    legs = route.repeats * (2 if route.kind == "out_and_back" else 1)
    for q in route.stops:
        for leg in range(legs):
            if rng.random() < .7:
                back = route.kind == "out_and_back" and leg % 2 == 1
                stop_at.append(route.length * leg + (route.length - q if back else q))
    waits: dict[int, float] = {}
    for q in stop_at:
        i = min(int(round(q / ds)), len(dist) - 1)
        target[max(0, i - 1):i + 1] = 0.0
        if q == route.total:
            target[max(0, i - 1):] = 0.0
        waits[i] = rng.uniform(3, 12) if rng.random() < .6 else rng.uniform(12, 45)
    for i in range(len(target) - 2, -1, -1):               # look ahead: braking curve
        m = math.sqrt(target[i + 1] ** 2 + 2 * style.brake * ds)
        if target[i] > m:
            target[i] = m
    tg, gr = target.tolist(), grade.tolist()
    last = len(tg) - 1
    final = min(int(round(route.total / ds)), last)
    radius = veh.circumference_m / (2 * math.pi)
    ratios = [g * veh.final_drive / radius * 30 / math.pi for g in veh.gears]   # rpm per m/s
    up, down = style.shift * veh.rated_rpm, max(1.35 * veh.idle_rpm, .27 * veh.rated_rpm)
    pmax = veh.max_power_w * .78
    cal = 0.5 * 1.2 * veh.cda * 1.1
    roll = mass_kg * G_MPS2 * veh.crr0 * 1.25 + veh.spin_n0
    v = x = wander = 0.0
    gear, last_shift, t = 0, -9.0, 0.0
    vs, gears, xs = [], [], []
    noise = rng.normal(0, 1, 60_000)
    k = 0
    wait_left, served = 0.0, 0
    queue = sorted(j for j in waits if 5 < j < final - 8)
    lead = int(8 / DT_S)
    for _ in range(lead):                                    # idling before moving off
        vs.append(0.0), gears.append(-1), xs.append(0.0)
    acc, steady = 0.0, 0
    while k < 40_000:
        i = min(int(x / ds), last)
        wander += -wander * DT_S / 25 + noise[k] * .022 * math.sqrt(2 * DT_S / 25)
        if i >= final - 1 and v <= 1.2 and k > 100:
            break
        goal = min(tg[i], tg[min(int((x + 1.0 * v) / ds), last)])
        if goal > 6:
            goal *= 1 + wander
        gap = queue[served] * ds - x if served < len(queue) else 1e9
        if gap < v * v / (2 * style.brake) + 1.5:            # braking to the line
            acc = -min(max(v * v / (2 * max(gap, .6)), .4), 2.2 * style.brake)
            v += acc * DT_S
            if v <= .15:
                wait_left, served, v = waits[queue[served]], served + 1, 0.0
            else:
                x += v * DT_S
                vs.append(v), gears.append(gear if v * ratios[gear] > 1.1 * veh.idle_rpm else -1), xs.append(x)
                t, k = t + DT_S, k + 1
                continue
        elif goal < .5:
            goal = .8
        if wait_left > 0:
            wait_left -= DT_S
            v, acc = 0.0, 0.0
            vs.append(0.0), gears.append(-1), xs.append(x)
            gear, k = 0, k + 1
            continue
        if served and goal < 4 and i < final - 2 and abs(queue[served - 1] - i) < 3:
            goal = 4.0                                       # away from the line
        want = (goal - v) / 1.6
        u = max(v + headwind_mps, 0)
        avail = (pmax / max(v, 3.0) - roll - cal * u * u - mass_kg * G_MPS2 * gr[i]) / (mass_kg * 1.06)
        want = max(min(want, style.accel * max(.35, 1 - v / 45), avail), -style.brake * 1.6)
        acc += (want - acc) * DT_S / .6
        v = max(v + acc * DT_S, 0.15)
        x += v * DT_S
        n = v * ratios[gear]
        if t - last_shift > 2.0:
            demand = (mass_kg * (max(acc, 0) + G_MPS2 * gr[i]) + roll + cal * u * u) * v
            full = float(veh.peak_bmep) * 1e5 * veh.displacement_l * 1e-3 / (4 * math.pi) * .85
            hold = demand / max(n * math.pi / 30, 30) / full
            steady = steady + 1 if abs(acc) < .18 else 0      # cruising: anyone takes the next gear if it does not lug
            cruise = steady > 10 and v * ratios[min(gear + 1, len(ratios) - 1)] > 1.12 * down
            if gear < len(ratios) - 1 and (n > up or cruise) and (n > .98 * veh.rated_rpm or hold * ratios[gear] / ratios[gear + 1] < .88) and v * ratios[gear + 1] > down:
                gear, last_shift = gear + 1, t
            elif gear > 0 and (n < down * (.8 if acc < 0 else 1) or (hold > .92 and v * ratios[gear - 1] < .9 * veh.rated_rpm)):
                gear, last_shift = gear - 1, t
        clutch_out = n < 1.05 * veh.idle_rpm and acc < 0
        vs.append(v), gears.append(-1 if clutch_out else gear), xs.append(x)
        t += DT_S
        k += 1
    for _ in range(lead // 2):
        vs.append(0.0), gears.append(-1), xs.append(x)
    speed = np.array(vs)
    speed = np.convolve(np.pad(speed, 2, mode="edge"), np.ones(5) / 5, "valid")    # jerk-limited
    s = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2 * DT_S)])
    pos, sign = route.fold(np.clip(s, 0, route.total - 1e-6))
    heading = np.interp(pos, route.s, route.heading) + np.where(sign < 0, np.pi, 0)
    return Trace(DT_S, speed, np.gradient(speed, DT_S), s, np.interp(pos, route.s, route.grade) * sign, heading, np.array(gears))
