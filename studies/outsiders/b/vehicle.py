"""Hidden vehicles and their engines (map-type), drawn from what handbooks call usual, and what the builder knows of them."""
from __future__ import annotations
import math
from dataclasses import dataclass, replace
from typing import Any
import numpy as np
from .air import G

# body: width m, height m, mass kg (each a range), drag coefficient mean & sd, shape factor range (area / width x height),
# rise of axial coefficient at 10 deg yaw (mean, sd), weight in the mix.
# C_D ranges: reference.md 4.4 (Heisler-type table; 1970-80s pick-ups); shape factors 0.81-0.85 cars, near 0.9-1 boxes (4.4);
# yaw rise: low-drag saloons up to +10 %, vans and pick-ups +10-20 % at 10 deg (4.3). Masses and sizes: assumed, common vehicles.
BODIES: dict[str, tuple[Any, ...]] = {
    "hatchback": ((1.60, 1.76), (1.38, 1.50), (930, 1350), 0.345, 0.025, (0.80, 0.85), (0.07, 0.020), 0.13),
    "saloon":    ((1.65, 1.80), (1.38, 1.47), (1050, 1600), 0.325, 0.030, (0.80, 0.85), (0.07, 0.020), 0.19),
    "estate":    ((1.66, 1.82), (1.42, 1.52), (1150, 1700), 0.345, 0.025, (0.80, 0.85), (0.08, 0.020), 0.14),
    "roadster":  ((1.50, 1.68), (1.15, 1.28), (720, 1100), 0.47, 0.060, (0.78, 0.86), (0.05, 0.020), 0.10),
    "pickup":    ((1.65, 1.82), (1.55, 1.75), (1300, 2000), 0.46, 0.045, (0.82, 0.89), (0.12, 0.030), 0.16),
    "van":       ((1.65, 1.95), (1.85, 2.30), (1350, 2300), 0.42, 0.040, (0.87, 0.94), (0.13, 0.035), 0.20),
    "lorry":     ((1.90, 2.15), (2.20, 2.80), (2300, 4200), 0.58, 0.060, (0.90, 0.98), (0.13, 0.035), 0.08),
}

# engine kind: fuel, induction, injection, peak indicated efficiency (mean, sd), fmep base [bar], peak bmep range [bar],
# governed speed range, peak-torque speed, displacement range L, weight.
# Efficiencies: a little above the Willans slopes of reference.md 5.3; fmep: Barnes-Moss less wide-open pumping (petrol),
# Millington & Hartles x 0.85 (diesel, fired, pump included).  bmep: handbook class values, assumed.
ENGINES: dict[str, tuple[Any, ...]] = {
    "carb":  ("petrol", "natural", "carburettor", 0.350, 0.012, 0.85, (8.6, 9.8), (5000, 6000), 2900, (1.2, 2.6), 0.15),
    "port":  ("petrol", "natural", "port", 0.378, 0.012, 0.75, (9.5, 11.5), (5800, 6600), 3800, (1.3, 3.0), 0.25),
    "gdit":  ("petrol", "turbocharged", "direct", 0.388, 0.012, 0.75, (15.0, 20.0), (5700, 6300), 2300, (1.2, 2.0), 0.12),
    "idi":   ("diesel", "natural", "indirect", 0.395, 0.012, 1.10, (6.9, 7.9), (4200, 4900), 2200, (1.6, 3.2), 0.20),
    "idit":  ("diesel", "turbocharged", "indirect", 0.405, 0.012, 1.10, (9.3, 11.5), (4200, 4700), 2200, (1.6, 3.0), 0.10),
    "dit":   ("diesel", "turbocharged", "direct", 0.452, 0.012, 0.70, (13.5, 18.5), (4200, 4700), 1900, (1.5, 3.0), 0.18),
}


@dataclass(frozen=True)
class Vehicle:
    """Everything true about a vehicle (SI; speeds of the engine in rpm)."""
    body: str
    kind: str
    width: float
    height: float
    area: float
    cd: float
    yaw_rise10: float      # rise of axial coefficient at 10 deg
    yaw_peak: float        # rad, where the rise is complete
    mass: float
    crr: float             # tyre, warm in equilibrium at 80 km/h, 20 degC ambient, usual pressure, limit of zero speed
    crr_v1: float          # relative growth per 100 km/h
    crr_v2: float          # relative growth per (100 km/h)^2
    crr_kt: float          # per K of ambient
    tyre_rise: float       # K above ambient at 80 km/h, equilibrium
    tyre_tau: float        # s
    tyre_kq: float         # per K of tyre temperature below equilibrium
    tyre: str
    circumference: float
    pressure: float        # usual cold pressure, Pa
    wheel_inertia: float   # kg equivalent of all wheels
    gears: tuple[float, ...]
    final: float
    mesh: float            # efficiency of gear meshes, torque-proportional
    spin_n: float          # N at the wheel: axle, bearings, brake pads: present even in neutral
    spin_nv: float         # N per m/s
    box_nm: float          # Nm at engine: gearbox churning, in gear, warm
    disp: float            # m3
    cyl: int
    eta: float
    fmep_scale: float
    fmep_base: float       # bar
    bmep_peak: float       # Pa
    n_peak: float
    n_gov: float
    n_idle: float
    eta_load_curv: float
    eta_speed_curv: float
    engine_inertia: float  # kg m2
    accessories: float     # W
    warm_tau: float        # s
    cold_fric: float       # log rise of fmep for 70 K below warm
    cold_eta: float        # relative loss for 70 K below warm
    cold_rich: float       # relative extra fuel at start, 70 K cold
    cold_rich_tau: float
    t_warm: float          # degC
    lhv: float             # J/kg
    rho15: float           # kg/m3

    @property
    def fuel(self) -> str: return str(ENGINES[self.kind][0])
    @property
    def cut(self) -> bool: return self.kind != "carb"
    @property
    def stroke(self) -> float: return 1.05 * (self.disp / self.cyl * 4 / math.pi) ** (1 / 3)
    @property
    def cda(self) -> float: return self.cd * self.area

    # ---- air
    def axial(self, u: np.ndarray, w: np.ndarray) -> np.ndarray:
        """C_T(beta) / C_T(0) times V_r^2, with sign: u is axial air speed (+ from ahead), w across."""
        beta = np.abs(np.arctan2(np.abs(w), u))
        a = self.yaw_rise10 / math.sin(math.pi / 18 * math.pi / (2 * self.yaw_peak)) ** 2
        inside = np.minimum(beta, self.yaw_peak)
        rise = 1 + a * np.sin(math.pi / 2 * inside / self.yaw_peak) ** 2
        over = np.maximum(beta - self.yaw_peak, 0) / (math.pi - self.yaw_peak) * math.pi
        tail = np.where(over > 0, np.cos(over), 1.0)
        scale = np.where(over > math.pi / 2, 1 + (rise - 1) * 0.3, rise)
        return scale * tail * (u * u + w * w)

    # ---- tyres
    def crr_at(self, v: np.ndarray, t_amb: float, theta: np.ndarray, p_rel: float) -> np.ndarray:
        """theta: tyre temperature above ambient. p_rel: cold pressure / usual."""
        x = np.asarray(v) / 27.7778
        return (self.crr * (1 + self.crr_v1 * x + self.crr_v2 * x * x) * (1 + self.crr_kt * (20 - t_amb))
                * (1 + self.tyre_kq * (self.tyre_rise - theta)) * p_rel ** -0.45)

    def theta_eq(self, v: np.ndarray) -> np.ndarray:
        """Equilibrium rise ~ v^0.7 (assumed; heat ~ v, convection ~ v^0.3)."""
        return self.tyre_rise * (np.maximum(v, 0.0) / 22.222) ** 0.7

    # ---- engine
    def bmep_max(self, n: np.ndarray) -> np.ndarray:
        x = (np.asarray(n) - self.n_peak) / self.n_gov
        low, high = (1.5, 0.75) if "t" == self.kind[-1] and self.kind != "port" else (0.9, 0.9)
        return self.bmep_peak * (1 - np.where(x < 0, low, high) * x * x)

    def fmep(self, n: np.ndarray) -> np.ndarray:
        """Warm rubbing and accessory-free friction, Pa."""
        k = np.asarray(n) / 1000.0
        if self.fuel == "petrol":
            bar = self.fmep_base + 0.15 * k + 0.05 * k * k       # after Barnes-Moss (Heywood)
        else:
            sp = 2 * self.stroke * np.asarray(n) / 60.0
            bar = 0.85 * (self.fmep_base + 0.48 * k + 0.004 * sp * sp)   # after Millington & Hartles
        return self.fmep_scale * bar * 1e5

    def fuel_rate(self, torque: np.ndarray, n: np.ndarray, cold: np.ndarray, t: np.ndarray, p_amb: float
                  ) -> tuple[np.ndarray, np.ndarray]:
        """kg/s and the torque that the engine can really absorb (overrun limit), from wanted brake torque (Nm).
        cold: (t_warm - t_engine)/70 K per sample; t: s since start."""
        vd = self.disp
        bmep = 4 * math.pi * torque / vd
        f = self.fmep(n) * np.exp(self.cold_fric * cold)
        imax = self.bmep_max(n) + self.fmep(n)
        if self.fuel == "petrol":
            # throttle: manifold pressure proportional to load, at least 0.28 of ambient; boost does not pump. Work 0.9 (p - p_man).
            x0 = np.clip((bmep + f) / imax, 0, 1.2)
            natural = np.minimum(1.0, imax / 12.5e5)     # load at which manifold = ambient
            lam = np.clip(x0 / natural, 0, 1)
            pm = 0.9 * (p_amb - np.maximum(0.28 * 100_000.0, 100_000.0 * (0.22 + 0.78 * lam)))
            pm = np.maximum(pm, 0.02e5) + 0.04e5 * (np.asarray(n) / 3000.0) ** 2
        else:
            pm = (0.12 + 0.10 * (np.asarray(n) / 2500.0) ** 2) * 1e5 * np.ones_like(bmep)
        imep = bmep + f + pm
        x = np.clip(imep / imax, 0, 1.2)
        if self.fuel == "petrol":
            eta = 1 - self.eta_load_curv * (x - 0.60) ** 2 - np.where(x > 0.85, 1.3 * (x - 0.85), 0.0)
            n0 = 2600.0
        else:
            eta = 1 - self.eta_load_curv * (x - 0.35) ** 2
            n0 = 2100.0
        eta = self.eta * eta * (1 - self.eta_speed_curv * ((np.asarray(n) - n0) / n0) ** 2) * (1 - self.cold_eta * cold)
        rich = 1 + self.cold_rich * cold * np.exp(-t / self.cold_rich_tau)
        rate = np.maximum(imep, 0) * vd * np.asarray(n) / 120.0 / (eta * self.lhv) * rich
        absorbed = np.where(imep < 0, -(f + pm), bmep) * vd / (4 * math.pi)
        if not self.cut:   # the carburettor's idle jet flows on in overrun, at about the idle rate (assumed 0.9)
            fi = float(self.fmep(np.array([self.n_idle]))[0]) + 0.7e5
            rate = np.maximum(rate, 0.9 * fi * vd * self.n_idle / 120.0 / (0.9 * self.eta * self.lhv))
        return rate, absorbed


def _u(rng: np.random.Generator, r: tuple[float, float]) -> float:
    return float(rng.uniform(*r))


def draw_vehicle(rng: np.random.Generator) -> Vehicle:
    """A body, and an engine that may come from anything with a believable power for the mass."""
    names = list(BODIES)
    w = np.array([BODIES[b][-1] for b in names])
    body = names[int(rng.choice(len(names), p=w / w.sum()))]
    wid, hei, mas, cdm, cds, shp, yaw, _ = BODIES[body]
    width, height = _u(rng, wid), _u(rng, hei)
    f = rng.uniform()
    mass = mas[0] + (mas[1] - mas[0]) * float(np.clip(0.6 * rng.uniform() + 0.4 * f, 0, 1)) + 75.0
    kinds = list(ENGINES)
    kw = np.array([ENGINES[k][-1] for k in kinds])
    while True:
        kind = kinds[int(rng.choice(len(kinds), p=kw / kw.sum()))]
        fuel, ind, inj, em, es, fb, bp, gov, npk, dis, _ = ENGINES[kind]
        disp = _u(rng, dis) * 1e-3
        bpk, ngov = _u(rng, bp) * 1e5, round(_u(rng, gov), -2)
        power = bpk * 0.8 * disp * 0.9 * ngov / 120 / 1e3      # kW, rough
        if 25 <= power / (mass / 1000) <= 75 or (body == "lorry" and 20 <= power / (mass / 1000) <= 45):
            break
    old = kind in ("carb", "idi") or rng.uniform() < 0.25
    # tyres: cars 0.010-0.015 on asphalt, replacement tyres 0.007-0.017 mean 0.010, old or light-truck 0.013-0.020 (reference.md 4.2)
    base = {"lorry": 0.0105, "van": 0.0115, "pickup": 0.0130, "roadster": 0.0125}.get(body, 0.0110)
    crr = base * (1.06 if old else 0.98) * math.exp(rng.normal(0, 0.11))
    if body in ("lorry",): tyre, p0 = "215/75 R16", 450e3
    elif body in ("van", "pickup"): tyre, p0 = str(rng.choice(["195/75 R16", "205/75 R16", "215/65 R16"])), 310e3
    else: tyre, p0 = str(rng.choice(["175/70 R13", "185/65 R14", "195/65 R15", "205/55 R16"])), 225e3
    wd, rest = tyre.split("/"); asp, rim = rest.split(" R")
    dia = float(rim) * 0.0254 + 2 * float(wd) * 1e-3 * float(asp) / 100
    circ = 3.05 * dia * (1 + rng.normal(0, 0.008))      # ETRTO 3.05, wear and load +-0.8 %
    ng = int(rng.choice([4, 5] if old else [5, 6], p=[0.35, 0.65] if old else [0.65, 0.35]))
    g1, gt = rng.uniform(3.3, 4.0), {4: 1.0, 5: rng.uniform(0.76, 0.88), 6: rng.uniform(0.66, 0.76)}[ng]
    q = (gt / g1) ** (1 / (ng - 1))
    prog = 1.06                                          # progressive spacing (assumed)
    gears = [g1]
    for i in range(1, ng):
        gears.append(gears[-1] * q * prog ** (i - ng / 2))
    gears = [g * 1.0 for g in gears]; gears[-1] = gt
    gears = [round(float(g), 3) for g in gears]
    top = {"petrol": rng.uniform(29, 38), "diesel": rng.uniform(34, 47)}[fuel]     # km/h per 1000 rpm (assumed)
    if ng == 4: top *= 0.85
    if body == "lorry": top *= 0.8
    final = round(60 * circ / (top * gears[-1]), 2)
    cyl = 3 if disp < 0.0013 and kind == "gdit" else (6 if disp > 0.0027 and rng.uniform() < 0.5 else 4)
    return Vehicle(
        body=body, kind=kind, width=width, height=height, area=width * height * _u(rng, shp),
        cd=max(0.25, cdm + cds * float(rng.standard_normal())) * (1.04 if old else 1.0),
        yaw_rise10=max(0.02, rng.normal(*yaw)), yaw_peak=math.radians(rng.uniform(24, 36)), mass=mass,
        crr=crr, crr_v1=rng.uniform(0.02, 0.09), crr_v2=rng.uniform(0.03, 0.11), crr_kt=rng.uniform(0.0065, 0.0100),
        tyre_rise=rng.uniform(18, 28), tyre_tau=rng.uniform(480, 900), tyre_kq=rng.uniform(0.006, 0.010),
        tyre=tyre, circumference=circ, pressure=p0 * rng.uniform(0.92, 1.1),
        wheel_inertia=mass * rng.uniform(0.020, 0.034),
        gears=tuple(gears), final=final, mesh=rng.uniform(0.945, 0.978) if body not in ("hatchback",) else rng.uniform(0.955, 0.98),
        spin_n=mass * rng.uniform(0.003, 0.009), spin_nv=rng.uniform(0.1, 0.5), box_nm=rng.uniform(0.6, 1.6),
        disp=disp, cyl=cyl, eta=em + es * float(rng.standard_normal()), fmep_scale=math.exp(rng.normal(0, 0.09)),
        fmep_base=fb, bmep_peak=bpk, n_peak=npk * rng.uniform(0.92, 1.08), n_gov=ngov,
        n_idle=float(round(rng.uniform(720, 900), -1)), eta_load_curv=rng.uniform(0.08, 0.22) if fuel == "petrol" else rng.uniform(0.05, 0.15), eta_speed_curv=rng.uniform(0.02, 0.07),
        engine_inertia=0.05 + 50 * disp * rng.uniform(0.9, 1.3), accessories=rng.uniform(200, 600),
        warm_tau=rng.uniform(230, 390), cold_fric=rng.uniform(0.28, 0.50), cold_eta=rng.uniform(0.02, 0.05),
        cold_rich={"carb": 0.25, "port": 0.12, "gdit": 0.10}.get(kind, 0.03) * rng.uniform(0.7, 1.3),
        cold_rich_tau={"carb": 100.0}.get(kind, 55.0) * rng.uniform(0.8, 1.3), t_warm=rng.uniform(85, 95),
        lhv=(rng.normal(43.2, 0.2) if fuel == "petrol" else rng.normal(42.8, 0.2)) * 1e6,
        rho15=rng.normal(745, 7) if fuel == "petrol" else rng.normal(836, 4))


def build_sheet(v: Vehicle, rng: np.random.Generator, name: str, mass_sd: float = 10.0) -> tuple[str, str, dict[str, Any]]:
    """(vehicle.toml, full_load.csv, what was declared).  Errors a careful home builder has:
    weighbridge 10 kg (1 sd) and 5 kg steps, sizes by tape, area +-3 %, published C_D +-4 %, tyre class figure +-9 %, chart 2 %."""
    m = 5 * round((v.mass + rng.normal(0, mass_sd)) / 5)
    know: dict[str, Any] = {"test_mass_kg": m}
    L = ["[vehicle]", f'name = "{name}"', f'body = "{v.body}"', f'test_mass = "{m:.0f} kg"']
    if rng.uniform() < 0.5:
        a = v.area * math.exp(rng.normal(0, 0.03)); L.append(f'frontal_area = "{a:.2f} m^2"'); know["frontal_area_m2"] = round(a, 2)
    else:
        L += [f'width = "{v.width + rng.normal(0, .01):.2f} m"', f'height = "{v.height + rng.normal(0, .01):.2f} m"']
    if rng.uniform() < 0.45:
        c = v.cd * math.exp(rng.normal(0, 0.04)); L.append(f"drag_coefficient = {c:.2f}"); know["drag_coefficient"] = round(c, 2)
    if rng.uniform() < 0.25:
        c = v.crr * (1 + .8 * v.crr_v1 + .64 * v.crr_v2) * math.exp(rng.normal(0, 0.09))
        L.append(f"rolling_resistance = {c:.4f}"); know["rolling_resistance"] = round(c, 4)
    if rng.uniform() < 0.6: L.append(f'tyre = "{v.tyre}"')
    else: L.append(f'rolling_circumference = "{v.circumference * (1 + rng.normal(0, .003)):.3f} m"')
    L.append(f'tyre_pressure = "{v.pressure / 1e3:.0f} kPa"')
    L += [f"gear_ratios = [{', '.join(f'{g:g}' for g in v.gears)}]", f"final_drive = {v.final:g}", "[engine]",
          f'displacement = "{v.disp * 1e3:.2f} L"', f"strokes = 4", f"cylinders = {v.cyl}", f'fuel = "{v.fuel}"',
          f'induction = "{ENGINES[v.kind][1]}"', f'injection = "{ENGINES[v.kind][2]}"', f'idle_speed = "{v.n_idle:.0f} rpm"',
          f'governed_speed = "{v.n_gov:.0f} rpm"', 'full_load = "full_load.csv"']
    if rng.uniform() < 0.5: L.append(f"overrun_fuel_cut = {'true' if v.cut else 'false'}")
    k = 1 + rng.normal(0, 0.02)
    rows = ["speed_rpm,torque_Nm"]
    for n in np.arange(1000, v.n_gov + 1, 500):
        rows.append(f"{n:.0f},{float(v.bmep_max(np.array([n]))[0]) * v.disp / (4 * math.pi) * k * (1 + rng.normal(0, .006)):.1f}")
    return "\n".join(L) + "\n", "\n".join(rows) + "\n", know


def changed(v: Vehicle, what: str, x: float) -> Vehicle:
    """The vehicle after a change of the given kind and size (x relative)."""
    if what == "engine": return replace(v, eta=v.eta * (1 + x))
    if what == "tyres": return replace(v, crr=v.crr * (1 + x))
    if what == "body": return replace(v, cd=v.cd * (1 + x))
    if what == "final": return replace(v, final=round(v.final * (1 + x), 3))
    raise ValueError(what)
