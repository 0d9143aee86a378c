"""One drive: driver, wind field met along the road, forces, gears, and the fuel that the map engine burns.

Forward in time (0.5 s steps): the driver's wish, limited by the engine; then every 'what if' (calm, standard air, warm)
is computed for exactly the same speed, gear and road samples."""
from __future__ import annotations
import math
from dataclasses import dataclass, replace
import numpy as np
from . import air
from .air import G, ar1
from .road import Road, STEP
from .vehicle import Vehicle

DT = 0.5     # s


@dataclass(frozen=True)
class Day:
    """The true weather over the road, at the 10 m airfield-mast equivalent."""
    u10: float            # m/s mean
    wind_from: float      # deg
    temp: float           # degC
    qnh: float            # Pa
    rh: float
    elevation: float      # m of the road's base
    terrain: str
    channel: float        # 0..0.3: loss of the component across the road (hedges, cuttings)
    gust_scale: float = 1.0

    @property
    def pressure(self) -> float: return air.pressure_at(self.qnh, self.elevation)


@dataclass(frozen=True)
class Driver:
    cruise: float         # m/s
    lateral: float        # m/s2 in bends
    accel: float
    decel: float
    wander: float         # m/s sd
    stops_per_10km: float
    idle_start: float     # s engine running before moving
    idle_end: float


@dataclass
class Trace:
    """What happened, every DT."""
    s: np.ndarray
    v: np.ndarray
    a: np.ndarray
    gear: np.ndarray          # 0 = neutral/clutch down
    along: np.ndarray         # wind along the direction of travel, from ahead positive, at the vehicle
    across: np.ndarray
    grade: np.ndarray
    curv: np.ndarray
    surf: np.ndarray
    east: np.ndarray
    north: np.ndarray
    height: np.ndarray
    regional: np.ndarray      # (n, 2) slow 10 m wind blowing FROM components east, north
    distance: float


def regional_wind(day: Day, n: int, dt: float, rng: np.random.Generator) -> np.ndarray:
    """Slow wind at 10 m as the vector it comes FROM (east, north): trend plus meso-scale wander, 12 % and 8 min (assumed)."""
    d = math.radians(day.wind_from)
    e, nn = math.sin(d), math.cos(d)
    k = max(1, int(10 / dt)); m = n // k + 2
    lo = lambda tau: np.interp(np.arange(n), np.arange(m) * k, ar1(rng, m, 10.0, tau))
    trend = np.linspace(-0.5, 0.5, n) * rng.normal(0, 0.10)
    f = 1 + 0.12 * lo(480) + trend
    x = 0.12 * lo(480) + np.linspace(-0.5, 0.5, n) * rng.normal(0, 0.12)
    return np.stack([day.u10 * (f * e + x * nn), day.u10 * (f * nn - x * e)], 1)


def simulate(veh: Vehicle, road: Road, day: Day, drv: Driver, payload: float, rng: np.random.Generator,
             zone_rng: np.random.Generator | None = None) -> Trace:
    """Drive it.  zone_rng: where the villages are (give the same one to drive the same route on several days)."""
    zr = zone_rng or rng
    N = len(road.east)
    # ---- wish speed along the road
    wish = np.minimum(drv.cruise, np.sqrt(drv.lateral / np.maximum(np.abs(road.curvature), 1e-6)))
    zone = np.ones(N)
    nz = int(zr.poisson(road.lap_length / 7000.0))
    lapn = int(road.lap_length / STEP)
    for _ in range(nz):      # villages: a lower limit for 300-900 m, the same every lap
        a = int(zr.integers(0, lapn)); w = int(zr.uniform(300, 900) / STEP); f = zr.uniform(0.62, 0.8)
        for lap in range(int(math.ceil(road.laps))):
            zone[a + lap * lapn:a + lap * lapn + w] = f
        if road.kind == "out-and-back":
            zone[N - 1 - a - w:N - 1 - a] = f
    wish = wish * zone
    stops: dict[int, float] = {}
    if zone_rng is None:
        pts = [int(i) for i in rng.integers(60, N - 60, rng.poisson(drv.stops_per_10km * road.length / 1e4))]
    else:                    # a known route: the junctions are the same every day, and now and then traffic adds a stop
        pts = [int(i) for i in zr.integers(60, N - 60, zr.poisson(drv.stops_per_10km * road.length / 1e4))]
        pts += [int(i) for i in rng.integers(60, N - 60, rng.poisson(0.4))]
    for p in pts: stops[p] = float(rng.uniform(2, 25))
    if road.kind == "out-and-back": stops[N // 2] = float(rng.uniform(5, 40))
    wish[0] = 3.0
    for p in list(stops) + [N - 2]: wish[p] = 0.7
    w = wish.tolist(); b2 = 2 * drv.decel * STEP
    for i in range(N - 2, -1, -1):
        x = math.sqrt(w[i + 1] ** 2 + b2)
        if w[i] > x: w[i] = x
    order = sorted(stops)
    # ---- series
    n = int(3.0 * road.length / drv.cruise / DT) + 4000
    reg = regional_wind(day, n, DT, rng)
    zeff = max(0.8, 0.65 * veh.height)
    k_mean = air.transfer(zeff, day.terrain)
    ust = air.friction_velocity(day.u10, day.terrain) * day.gust_scale
    su, sv = 2.3 * ust, 1.8 * ust          # surface-layer ratios, handbooks: 2.4 and 1.9 u*; a little less below 2 m
    zu = rng.standard_normal((n, 4)).tolist()
    wander = (drv.wander * ar1(rng, n, DT, 45.0)).tolist()
    mass = veh.mass + payload
    rho = air.air_density(day.temp, day.pressure, day.rh)
    # tables for speed
    nrpm = np.arange(0, veh.n_gov + 1500, 25.0)
    tmax = (veh.bmep_max(np.maximum(nrpm, 700)) * veh.disp / (4 * math.pi)).tolist()
    ratios = [g * veh.final for g in veh.gears]
    rpm_per = [60 * r / veh.circumference for r in ratios]      # rpm per m/s
    frc_per = [r * 2 * math.pi / veh.circumference * veh.mesh for r in ratios]
    meff = [mass + veh.wheel_inertia + veh.engine_inertia * (r * 2 * math.pi / veh.circumference) ** 2 for r in ratios]
    petrol = veh.fuel == "petrol"
    n_low = (1350 if petrol else 1250); n_up0 = veh.n_gov * (0.42 if petrol else 0.48) * float(rng.uniform(0.92, 1.08))
    ngear = len(ratios)
    grade, course, shel, curv, surf = (road.grade.tolist(), road.course.tolist(), road.shelter.tolist(),
                                       road.curvature.tolist(), road.surface.tolist())
    k_roll = veh.crr * (1 + .7 * veh.crr_v1 + .5 * veh.crr_v2) * 1.05 * mass * G
    kd = 0.5 * rho * veh.cda
    S, V, A, GR, AL, AC = [], [], [], [], [], []
    s = 0.0; v = 0.0; gear = 1; hold = drv.idle_start; g1 = g2 = h1 = h2 = 0.0; lock = 0.0; si = 0; ending = False
    g1, g2, h1, h2 = rng.standard_normal(4).tolist()
    L1, L2 = 140.0, 30.0         # m, two eddy sizes sharing the variance (assumed)
    cl = 1 - day.channel
    regl = reg.tolist()
    for k in range(n):
        i = int(s / STEP)
        if i > N - 2: i = N - 2
        c = course[i]; sc, cc = math.sin(c), math.cos(c)
        re, rn = regl[k]
        va = max(2.0, v)
        r1, r2 = math.exp(-va * DT / L1), math.exp(-va * DT / L2)
        q1, q2 = math.sqrt(1 - r1 * r1), math.sqrt(1 - r2 * r2)
        z = zu[k]
        g1 = r1 * g1 + q1 * z[0]; g2 = r2 * g2 + q2 * z[1]; h1 = r1 * h1 + q1 * z[2]; h2 = r2 * h2 + q2 * z[3]
        sh = shel[i]
        # gust along the mean wind and across it -> to road axes
        mg = math.hypot(re, rn) + 1e-9; ue, un = re / mg, rn / mg
        gu, gv = su * .7071 * (g1 + g2) * sh, sv * .7071 * (h1 + h2) * sh
        we, wn = k_mean * sh * re + gu * ue + gv * un, k_mean * sh * rn + gu * un - gv * ue
        al, ac = we * sc + wn * cc, (we * cc - wn * sc) * cl
        if hold > 0:
            hold -= DT; a = 0.0; v2 = 0.0; gr = 0
            if ending and hold <= 0:
                S.append(s); V.append(0.0); A.append(0.0); GR.append(0); AL.append(al); AC.append(ac); break
            gear = 1
        else:
            des = w[i] if w[i] < 2.5 else min(w[i], max(2.5, w[i] + wander[k] - 0.10 * al * 0.5))
            nxt = w[min(N - 1, i + 1 + int(v * 0.5 / STEP))]
            if des > nxt: des = nxt
            a = (des - v) / 2.2
            a = min(a, drv.accel * (1 - 0.35 * v / drv.cruise)); a = max(a, -1.35 * drv.decel)
            # gear
            if lock > 0: lock -= DT
            rpm = rpm_per[gear - 1] * v
            u = v + al
            res = kd * u * math.hypot(u, ac) * 1.06 + k_roll * surf[i] + mass * G * grade[i] + veh.spin_n
            need = res + a * meff[gear - 1]
            fav = tmax[min(len(tmax) - 1, int(max(rpm, 1100) / 25))] * frc_per[gear - 1]
            if lock <= 0:
                if gear < ngear and rpm > n_low * 1.18 and rpm_per[gear] * v > n_low:
                    fup = tmax[min(len(tmax) - 1, int(rpm_per[gear] * v / 25))] * frc_per[gear]
                    if (rpm > n_up0 and need < 0.95 * fup) or need < 0.72 * fup or rpm > 0.92 * veh.n_gov:
                        if rpm > n_up0 or a < 0.25: gear += 1; lock = 3.0
                if lock <= 0 and gear > 1:
                    if rpm < n_low * 0.92 or (need > 0.93 * fav and rpm_per[gear - 2] * v < 0.88 * veh.n_gov):
                        gear -= 1; lock = 2.5
                rpm = rpm_per[gear - 1] * v
                fav = tmax[min(len(tmax) - 1, int(max(rpm, 1100) / 25))] * frc_per[gear - 1]
            if rpm > veh.n_gov: fav = 0.0
            amax = (0.96 * fav - res) / meff[gear - 1]
            if a > amax: a = amax
            v2 = v + a * DT
            if v2 < 0.3 and v > 0.3 and a < 0: v2 = 0.3
            if v2 < 0.0: v2 = 0.0
            gr = gear
        S.append(s); V.append(v); A.append((v2 - v) / DT); GR.append(gr); AL.append(al); AC.append(ac)
        s2 = s + 0.5 * (v + v2) * DT
        v = v2
        if hold <= 0 and not ending:
            if si < len(order) and s2 >= order[si] * STEP:
                hold = stops[order[si]]; A[-1] = (0 - V[-1]) / DT; v = 0.0; s2 = s + 0.5 * V[-1] * DT; si += 1
            elif s2 >= (N - 2) * STEP:
                hold = max(DT, drv.idle_end); ending = True; A[-1] = (0 - V[-1]) / DT; v = 0.0; s2 = s + 0.5 * V[-1] * DT
        s = s2
    else:
        raise RuntimeError("drive did not end")
    S_, V_ = np.array(S), np.array(V)
    grid = np.arange(N) * STEP
    at = lambda arr: np.interp(S_, grid, arr)
    return Trace(S_, V_, np.array(A), np.array(GR), np.array(AL), np.array(AC), at(road.grade), at(road.curvature), at(road.surface),
                 at(road.east), at(road.north), at(road.height), reg[:len(S_)], float(S_[-1]))


@dataclass(frozen=True)
class Conditions:
    """What is switched on in a fuel computation."""
    wind: bool
    rho: float
    p_amb: float
    cold_engine: bool
    cold_tyres: bool
    t_amb: float
    engine_deficit: float = 0.0      # K below warm at the start
    theta0_rel: float = 1.0          # tyre temperature rise at start / equilibrium of the drive
    pressure_rel: float = 1.0
    roll_day: float = 1.0            # the day's unexplained factor on rolling
    acc_day: float = 0.0             # W


def tyre_theta(veh: Vehicle, v: np.ndarray, rel: float, dt: float) -> np.ndarray:
    """First-order tyre temperature, from rel x the drive's own equilibrium."""
    eq = veh.theta_eq(v)
    th = rel * float(np.mean(eq)); r = dt / veh.tyre_tau
    out = np.empty(len(v))
    for i, e in enumerate(eq.tolist()):
        th += (e - th) * r; out[i] = th
    return out


def burn(veh: Vehicle, tr: Trace, mass: float, c: Conditions, warm_rate: np.ndarray | None = None
         ) -> tuple[np.ndarray, dict[str, float]]:
    """Fuel rate kg/s per sample for the trace under the conditions, and the energy ledger (J).
    Speeds at mid-step are used with the step's acceleration, so the kinetic-energy sum closes."""
    v1 = tr.v + tr.a * DT
    v = np.maximum(0.5 * (tr.v + v1), 0.0); a = tr.a
    moving = v > 0
    al = tr.along if c.wind else 0.0; ac = tr.across if c.wind else 0.0
    drag = 0.5 * c.rho * veh.cda * veh.axial(v + al, np.zeros_like(v) + ac)
    th = tyre_theta(veh, v, c.theta0_rel if c.cold_tyres else 1.0, DT)
    t_amb = c.t_amb if c.cold_tyres else 20.0
    theta_cos = 1 / np.sqrt(1 + tr.grade ** 2)
    roll = c.roll_day * mass * G * theta_cos * veh.crr_at(v, t_amb, th, c.pressure_rel) * tr.surf
    ay = v * v * tr.curv
    bend = mass * ay * ay / (10.0 * G)      # side-slip drag; total cornering stiffness 10 m g per rad (handbook order)
    hill = mass * G * tr.grade * theta_cos
    # cold driveline oil belongs to the cold engine
    t = np.arange(len(v)) * DT
    if c.cold_engine and warm_rate is not None:
        x = np.cumsum(0.4 + 0.6 * warm_rate / warm_rate.mean()) * DT
        cold = c.engine_deficit / 70.0 * np.exp(-x / veh.warm_tau)
        oil = c.engine_deficit / 70.0 * np.exp(-x / 900.0)
    else:
        cold = np.zeros(len(v)); oil = cold
    spin = (veh.spin_n + veh.spin_nv * v) * (1 + 0.6 * oil)
    rigid = (mass + veh.wheel_inertia) * a
    wheel = np.where(moving, drag + roll + bend + hill + spin + rigid, 0.0)
    g = np.maximum(tr.gear, 1) - 1
    ratio = np.array(veh.gears)[g] * veh.final * 2 * math.pi / veh.circumference
    n_rig = ratio * v * 60 / (2 * math.pi)
    eng = moving & (tr.gear > 0)
    slipping = eng & (n_rig < 1.15 * veh.n_idle)
    decl = slipping & (wheel < 0)
    coupled = eng & ~decl
    launch = max(1.5 * veh.n_idle, 1200.0)
    n = np.where(coupled, np.where(slipping, np.where(a > 0.05, launch, 1.15 * veh.n_idle), n_rig), veh.n_idle)
    tq = np.where(coupled, np.where(wheel > 0, wheel / (ratio * veh.mesh), wheel * veh.mesh / ratio)
                  + veh.box_nm * (1 + 0.5 * oil) + np.where(slipping, 0, veh.engine_inertia * ratio * a), 0.0)
    acc = (veh.accessories + c.acc_day) / (n * 2 * math.pi / 60)
    rate, absorbed = veh.fuel_rate(tq + acc, n, cold, t, c.p_amb)
    led = {"drag": float(np.sum(np.where(moving, drag, 0) * v) * DT), "rolling": float(np.sum(np.where(moving, roll + bend, 0) * v) * DT),
           "hill": float(np.sum(hill * v) * DT), "kinetic": float(np.sum(rigid * v) * DT), "axle": float(np.sum(np.where(moving, spin, 0) * v) * DT),
           "wheel": float(np.sum(wheel * v) * DT), "fuel_kg": float(rate.sum() * DT),
           "brake_work": float(np.sum(np.where(coupled, np.maximum(tq, 0), 0) * n * 2 * math.pi / 60) * DT),
           "over_full_load": float(np.mean((tq + acc) > 1.02 * veh.bmep_max(n) * veh.disp / (4 * math.pi)))}
    return rate, led


def reduce_truth(veh: Vehicle, tr: Trace, mass: float, day: Day, c: Conditions) -> dict[str, object]:
    """As driven, calm day, and the four penalties (mean of switching off in one order and in the reverse), kg and percent."""
    rho0 = air.air_density(air.REF_T, air.REF_P, air.REF_RH)
    calm = replace(c, wind=False, rho=rho0, p_amb=air.REF_P, cold_engine=False, cold_tyres=False)
    wr, led0 = burn(veh, tr, mass, calm)
    base = led0["fuel_kg"]
    off = {"wind": dict(wind=False), "air_density": dict(rho=rho0, p_amb=air.REF_P), "cold_engine": dict(cold_engine=False),
           "cold_tyres": dict(cold_tyres=False)}
    pen = {k: 0.0 for k in off}
    for order in (list(off), list(off)[::-1]):
        cur = c; last = burn(veh, tr, mass, cur, wr)[1]["fuel_kg"]; full = last
        for k in order:
            cur = replace(cur, **off[k]); f = burn(veh, tr, mass, cur, wr)[1]["fuel_kg"]
            pen[k] += 0.5 * (last - f); last = f
    return {"fuel": full, "calm": base, "penalties": {k: 100 * p / base for k, p in pen.items()},
            "raw": 100 * (full / base - 1), "ledger": led0}
