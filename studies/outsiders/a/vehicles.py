"""Hidden vehicles and the build sheet their owner would write.

Ranges: Cd, areas, rolling, driveline, Willans figures from reference.md sections 4-5; the rest is marked assumed.
"""
from __future__ import annotations
from dataclasses import dataclass, replace
import math
import numpy as np

# body: mass kg, width m, height m, Cd old, Cd new, area factor, yaw growth k 1/rad2 (body axis), weight of draw.
# Cd: Heisler-type table and notes, reference.md 4.4; area factor 0.81-0.85 cars, up to 1.0 lorries, 4.4;
# k: +5..10 % at 10 deg for saloons, +10..20 % vans and pickups, 4.3; masses and sizes assumed.
BODIES = {
    "saloon":    ((950, 1600), (1.60, 1.80), (1.36, 1.47), (0.36, 0.45), (0.28, 0.34), (0.80, 0.85), (1.6, 3.6), 5),
    "hatchback": ((750, 1350), (1.52, 1.77), (1.36, 1.50), (0.36, 0.44), (0.29, 0.35), (0.80, 0.85), (1.6, 3.8), 4),
    "estate":    ((1050, 1750), (1.65, 1.82), (1.40, 1.52), (0.36, 0.44), (0.30, 0.35), (0.80, 0.86), (2.0, 4.5), 4),
    "coupe":     ((900, 1500), (1.58, 1.80), (1.25, 1.38), (0.34, 0.42), (0.29, 0.35), (0.80, 0.85), (1.4, 3.2), 2),
    "roadster":  ((620, 1150), (1.45, 1.70), (1.10, 1.28), (0.45, 0.65), (0.38, 0.50), (0.78, 0.86), (1.0, 3.0), 3),
    "pickup":    ((1250, 2200), (1.65, 1.86), (1.58, 1.80), (0.45, 0.56), (0.38, 0.46), (0.81, 0.87), (2.8, 5.5), 4),
    "van":       ((1400, 2600), (1.70, 2.02), (1.90, 2.45), (0.40, 0.50), (0.33, 0.40), (0.86, 0.93), (3.0, 6.0), 4),
    "lorry":     ((2200, 3500), (1.90, 2.10), (2.10, 2.60), (0.58, 0.75), (0.50, 0.62), (0.88, 0.97), (3.0, 6.0), 2),
}
TYRES = {  # usual sizes by body, assumed
    "saloon": ("185/65 R14", "195/65 R15", "205/55 R16"), "hatchback": ("155/80 R13", "175/70 R13", "185/60 R15"),
    "estate": ("185/70 R14", "195/65 R15", "205/60 R16"), "coupe": ("185/60 R14", "205/55 R16"),
    "roadster": ("165/80 R14", "175/70 R14", "185/60 R14"), "pickup": ("215/75 R15", "205/80 R16", "235/75 R15"),
    "van": ("195/70 R15", "205/75 R16", "215/75 R16"), "lorry": ("225/75 R16", "235/85 R16"),
}


@dataclass(frozen=True)
class Engine:
    kind: str
    fuel: str
    injection: str
    induction: str
    displacement: float   # m3
    cylinders: int
    e0: float             # peak indicated efficiency
    c_hi: float           # loss of efficiency above 75 % load
    c_lo: float           # loss at light load (slow burn, residual gas)
    c_n: float            # loss away from the best speed
    n_opt: float          # rpm
    fmep: tuple[float, float, float]  # bar: a + b N + c N^2, N in 1000 rpm
    pump: float           # bar, pumping at closed throttle
    t_max: float          # N m
    n_t: float            # rpm of greatest torque
    droop: float          # shape of the torque curve
    n_idle: float
    n_max: float
    cut: bool             # overrun fuel cut
    accessory_w: float    # shaft power of alternator etc.
    cold_friction: float  # extra friction, start at 20 degC, relative
    cold_efficiency: float  # loss of efficiency, start at 20 degC, relative
    warm_up_j: float      # fuel energy in which the cold effect falls to 1/e
    lhv: float            # J/kg
    rho15: float          # kg/m3

    def full_torque(self, n: float) -> float:
        return self.t_max * max(0.25, 1 - self.droop * (n / self.n_t - 1) ** 2)


@dataclass(frozen=True)
class Vehicle:
    name: str
    body: str
    old: bool
    mass: float           # kg, as driven, without payload
    width: float
    height: float
    area: float
    cda: float            # m2 at zero yaw
    yaw_k: float          # 1/rad2
    c_roll: float         # tyres only: 80 km/h, warm, 20 degC, usual pressure
    roll_lin: float       # relative growth with speed, see physics.rolling_shape
    roll_quad: float
    tyre_beta: float      # 1/K, rolling resistance with tyre temperature
    tyre_rise: float      # K above air at a steady 80 km/h
    tyre_tau: float       # s
    tyre: str
    radius: float         # m, effective rolling radius
    pressure: float       # Pa, usual cold
    pressure_exp: float
    gears: tuple[float, ...]
    final: float
    eta: float            # load-proportional efficiency gearbox x axle
    drag_neutral: float   # N at the wheels, hubs, axle, brakes; always there
    drag_gearbox: float   # N at the wheels, more when in gear
    wheel_mass: float     # kg, equivalent mass of wheels
    engine_inertia: float # kg m2
    engine: Engine

    def declare(self, **kw: object) -> "Vehicle":
        return replace(self, **kw)  # type: ignore[arg-type]


# kind: fuel, injection, induction, e0, fmep, pump, bmep_max bar, n_t, n_max, idle, rpm at 80 km/h, litres per tonne,
#       cold friction, cold efficiency
# e0 and fmep: reference.md 5.3 (Willans ranges; Barnes-Moss SI; Millington & Hartles diesel); bmep/speeds assumed usual.
ENGINES = {
    "carburettor": ("petrol", "carburettor", "natural", (.335, .372), (.85, .13, .045), (.50, .70), (8.3, 9.5), (2400, 3200), (4600, 5600), (750, 900), (2200, 3000), (1.15, 1.9), (.7, 1.2), (.10, .22)),
    "port":        ("petrol", "port", "natural", (.362, .400), (.75, .12, .042), (.50, .68), (9.5, 11.2), (2800, 4000), (5500, 6300), (700, 850), (2100, 2900), (1.05, 1.6), (.6, 1.1), (.05, .12)),
    "dit":         ("petrol", "direct", "turbocharged", (.372, .408), (.75, .13, .040), (.40, .60), (14, 18), (1800, 2600), (5500, 6000), (700, 800), (1900, 2500), (.75, 1.05), (.6, 1.1), (.04, .10)),
    "idi":         ("diesel", "indirect", "natural", (.368, .405), (.88, .38, .050), (.10, .20), (7.2, 8.4), (2000, 2600), (4000, 4600), (780, 880), (1900, 2600), (1.3, 1.95), (.5, .9), (.03, .08)),
    "idit":        ("diesel", "indirect", "turbocharged", (.370, .408), (.88, .38, .050), (.12, .25), (9.5, 11.5), (2000, 2500), (4000, 4500), (780, 880), (1800, 2400), (1.1, 1.6), (.5, .9), (.03, .08)),
    "tdi":         ("diesel", "direct", "turbocharged", (.422, .460), (.66, .32, .050), (.10, .25), (13, 17), (1800, 2200), (4000, 4500), (780, 860), (1650, 2150), (.85, 1.35), (.5, .9), (.02, .06)),
    "di":          ("diesel", "direct", "natural", (.405, .440), (.74, .38, .050), (.10, .20), (7.5, 8.5), (1500, 2000), (2600, 3600), (700, 800), (1500, 2000), (1.4, 2.0), (.5, .9), (.03, .07)),
}
FIT = {  # which engines an amateur puts into which body, weights assumed
    True: {"carburettor": 3, "idi": 3, "idit": 1, "di": 2, "tdi": 1, "port": 1},
    False: {"port": 3, "dit": 1, "tdi": 3, "idit": 1, "idi": 1},
}
NAMES_A = ("Fen", "Larch", "Otter", "Quarry", "Heron", "Tansy", "Moss", "Kestrel", "Bramble", "Cobalt", "Harbour", "Tarn", "Sorrel", "Marl")
NAMES_B = ("Hauler", "Runner", "Special", "Wagon", "Miller", "Express", "Drifter", "Carter", "Tourer", "Mule", "Lark")


def _u(rng: np.random.Generator, lohi: tuple[float, float]) -> float:
    return float(rng.uniform(*lohi))


def _ln(rng: np.random.Generator, s: float) -> float:
    return float(np.exp(rng.normal(0, s)))


def tyre_diameter(tyre: str) -> float:
    w, rest = tyre.split("/")
    a, rim = rest.split(" R")
    return float(rim) * 0.0254 + 2 * float(w) / 1000 * float(a) / 100


def draw_vehicle(rng: np.random.Generator) -> Vehicle:
    names = list(BODIES)
    wt = np.array([BODIES[b][-1] for b in names], float)
    body = str(rng.choice(names, p=wt / wt.sum()))
    m, w, h, cd_old, cd_new, af, yk, _ = BODIES[body]
    old = bool(rng.random() < 0.6)
    mass, width, height = _u(rng, m), _u(rng, w), _u(rng, h)
    area = width * height * _u(rng, af)
    cd = _u(rng, cd_old if old else cd_new)
    fit = dict(FIT[old])
    if body == "lorry":
        fit = {"di": 3, "idit": 1, "tdi": 2}
    if body in ("van", "pickup"):
        fit["di"] = fit.get("di", 0) + 1
    if body in ("roadster", "coupe"):
        fit.pop("di", None)
    kinds = list(fit)
    p = np.array([fit[k] for k in kinds], float)
    kind = str(rng.choice(kinds, p=p / p.sum()))
    fuel, inj, ind, e0, fm, pump, bm, nt, nmax, idle, r80, lpt, cf, ce = ENGINES[kind]
    disp = float(np.clip(_u(rng, lpt) * mass / 1000 * (1.0 if mass < 1700 else 0.85), 0.8, 4.2))
    disp = round(disp, 1)
    cyl = 3 if disp < 1.1 else (6 if disp > 3.0 and rng.random() < 0.5 else 4)
    s = _ln(rng, 0.09)  # friction spread of one engine, assumed
    bmep = _u(rng, bm)
    n_max = round(_u(rng, nmax), -2)
    tyre = str(rng.choice(TYRES[body]))
    circ = 3.05 * tyre_diameter(tyre) * _ln(rng, 0.006)  # ETRTO 3.05 D, reference.md 7; spread assumed
    radius = circ / (2 * math.pi)
    rpm80 = min(_u(rng, r80), n_max * 80 / 105)
    five = (not old) or rng.random() < 0.5
    top = _u(rng, (0.76, 0.90)) if five else 1.0
    final = round(rpm80 * 2 * math.pi / 60 * radius / (80 / 3.6) / top, 2)
    first = _u(rng, (3.3, 4.1))
    ng = 5 if five else 4
    f = np.linspace(0, 1, ng)
    gears = tuple(round(float(g), 2) for g in np.exp(np.log(first) * (1 - f ** 0.8) + np.log(top) * f ** 0.8))
    diesel = fuel == "diesel"
    eng = Engine(
        kind=kind, fuel=fuel, injection=inj, induction=ind, displacement=disp / 1000, cylinders=cyl,
        e0=_u(rng, e0) * (1.03 if not diesel else 1.02),  # the peak lies above the Willans slope; curvature takes it back
        c_hi=_u(rng, (.3, 1.0)), c_lo=_u(rng, (.04, .10) if not diesel else (.0, .05)), c_n=_u(rng, (.01, .05)), n_opt=0.5 * n_max,
        fmep=(fm[0] * s, fm[1] * s, fm[2] * s), pump=_u(rng, pump), t_max=bmep * 1e5 * disp / 1000 / (4 * math.pi),
        n_t=round(_u(rng, nt), -2), droop=_u(rng, (.25, .45) if diesel else (.18, .32)), n_idle=round(_u(rng, idle), -1), n_max=n_max,
        cut=(kind != "carburettor"), accessory_w=_u(rng, (300, 900)),  # 150-450 W electrical at 50 %, assumed
        cold_friction=_u(rng, cf), cold_efficiency=_u(rng, ce),
        warm_up_j=_u(rng, (2.3e6, 3.9e6)) * disp ** 0.8 * (1.4 if not diesel else 1.05),  # assumed, so that the excess is 30-120 g (reference.md 5.4)
        lhv=float(rng.normal(42.8e6 if diesel else 43.3e6, 0.22e6)), rho15=float(rng.normal(836, 5) if diesel else rng.normal(746, 7)))
    base = _u(rng, (.0110, .0148)) if old else _u(rng, (.0085, .0118))  # reference.md 4.2
    if body in ("van", "lorry", "pickup"):
        base *= 0.93
    rwd = body in ("roadster", "pickup", "lorry") or (old and rng.random() < 0.5)
    eta = _u(rng, (.935, .965)) if rwd else _u(rng, (.955, .98))  # 4.7: hypoid 90-93 % all told, gears 97-99 %
    dn = mass * 9.81 * _u(rng, (.0003, .0010))   # hubs, seals, brake pads: 3-10 % of rolling, assumed
    dg = mass * 9.81 * _u(rng, (.0003, .0009)) * (1.3 if rwd else 1.0)  # churning in gear, assumed
    kpa = _u(rng, (180, 230)) if mass < 1100 else _u(rng, (210, 270)) if mass < 1800 else _u(rng, (280, 420))
    return Vehicle(
        name=f"{rng.choice(NAMES_A)} {rng.choice(NAMES_B)}", body=body, old=old, mass=mass, width=width, height=height, area=area,
        cda=area * cd, yaw_k=_u(rng, yk), c_roll=base, roll_lin=_u(rng, (0, .06)), roll_quad=_u(rng, (.02, .09)),
        tyre_beta=float(rng.normal(.0088, .0010)), tyre_rise=_u(rng, (16, 26)), tyre_tau=_u(rng, (420, 780)),
        tyre=tyre, radius=radius, pressure=round(kpa / 5) * 5e3, pressure_exp=_u(rng, (.38, .5)), gears=gears, final=final, eta=eta,
        drag_neutral=dn, drag_gearbox=dg, wheel_mass=mass * _u(rng, (.022, .036)), engine_inertia=_u(rng, (.09, .14)) * disp ** 0.7,
        engine=eng)


def build_sheet(v: Vehicle, rng: np.random.Generator, known_mass: bool = False) -> tuple[str, str | None, dict[str, object]]:
    """vehicle.toml as the owner would write it, full_load.csv if there is one, and what was told."""
    e = v.engine
    told: dict[str, object] = {}
    mass = v.mass * (1 + rng.normal(0, .0015 if known_mass else .006))  # public weighbridge, fuel and luggage vary; assumed
    mass = round(mass / 5) * 5 if known_mass else round(mass / 10) * 10
    out = ["[vehicle]", f'name = "{v.name}"', f'body = "{v.body}"']
    out.append(f'test_mass = "{mass:.0f} kg"' if not known_mass else f'test_mass = {{ value = "{mass:.0f} kg", pm = "{max(5, .003 * mass):.0f} kg" }}')
    told["test_mass"] = mass
    if rng.random() < 0.5:
        a = v.area * (1 + rng.normal(0, .03))  # photograph method, assumed 3 %
        out.append(f'frontal_area = "{a:.2f} m^2"')
        told["frontal_area"] = a
    else:
        out += [f'width = "{v.width * (1 + rng.normal(0, .006)):.2f} m"', f'height = "{v.height * (1 + rng.normal(0, .008)):.2f} m"']
    if rng.random() < 0.4:
        cd = v.cda / v.area * (1 + rng.normal(0, .055))  # a brochure figure for a body since altered, assumed
        out.append(f"drag_coefficient = {cd:.2f}")
        told["drag_coefficient"] = round(cd, 2)
    if rng.random() < 0.25:
        c = (v.c_roll + v.drag_neutral / (v.mass * 9.81)) * (1 + rng.normal(0, .09))  # a label or an old coastdown, assumed
        out.append(f"rolling_resistance = {c:.4f}")
        told["rolling_resistance"] = round(c, 4)
    if rng.random() < 0.7:
        out.append(f'tyre = "{v.tyre}"')
    else:
        out.append(f'rolling_circumference = "{2 * math.pi * v.radius * (1 + rng.normal(0, .004)):.3f} m"')
    out.append(f'tyre_pressure = "{v.pressure / 1e3:.0f} kPa"')
    out.append("gear_ratios = [" + ", ".join(f"{g:g}" for g in v.gears) + "]")
    out.append(f"final_drive = {v.final:g}")
    if rng.random() < 0.25:
        d = round(float(np.clip(v.eta - .015 + rng.normal(0, .015), .85, .97)), 2)
        out.append(f"driveline_efficiency = {d}")
    out += ["[engine]", f'displacement = "{e.displacement * 1e3:.1f} L"', "strokes = 4", f"cylinders = {e.cylinders}", f'fuel = "{e.fuel}"',
            f'induction = "{e.induction}"']
    if rng.random() < 0.9:
        out.append(f'injection = "{e.injection}"')
    out += [f'idle_speed = "{e.n_idle:.0f} rpm"', f'governed_speed = "{e.n_max:.0f} rpm"']
    curve = None
    if rng.random() < 0.7:
        out.append('full_load = "full_load.csv"')
        k = 1 + rng.normal(0, .03)  # a maker's curve, 3 % assumed
        rows = ["speed_rpm,torque_Nm"]
        for n in np.linspace(max(1000, 0.3 * e.n_max), e.n_max, 8):
            n = round(float(n), -2)
            rows.append(f"{n:.0f},{e.full_torque(n) * k * (1 + rng.normal(0, .008)):.0f}")
        curve = "\n".join(dict.fromkeys(rows)) + "\n"
    if rng.random() < 0.4:
        out.append(f"overrun_fuel_cut = {'true' if e.cut else 'false'}")
    return "\n".join(out) + "\n", curve, told
