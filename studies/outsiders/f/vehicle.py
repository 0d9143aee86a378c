"""Hidden vehicles, and the build sheet their owner writes."""
from dataclasses import dataclass, field, replace
import math
import numpy as np
from .randoms import lognormal, normal, Array

G = 9.80665  # m/s^2, exact

# body: mass kg (mean, sd), C_D (mean, sd), frontal area m^2 (mean, sd), height/width, area/(w h),
# yaw coefficient k rad^-2 (body axis), usual tyres, displacement factor.
# C_D, area: [R 4.4]; k: [R 4.3] "k 3..6, saloons less"; masses, tyres: assumed (trade catalogues)
BODIES = {
    "saloon":    ((1270, 170), (0.34, 0.030), (2.05, 0.10), 0.82, 0.84, 3.2, ["185/65 R15", "195/65 R15"], 235),
    "estate":    ((1390, 170), (0.35, 0.030), (2.12, 0.10), 0.83, 0.84, 3.5, ["195/65 R15", "205/55 R16"], 240),
    "hatchback": ((1090, 150), (0.34, 0.030), (2.00, 0.10), 0.85, 0.84, 3.3, ["175/65 R14", "185/60 R14"], 225),
    "coupe":     ((1180, 130), (0.34, 0.030), (1.90, 0.08), 0.76, 0.84, 3.0, ["195/60 R15", "205/55 R16"], 230),
    "roadster":  ((900, 120), (0.48, 0.050), (1.62, 0.10), 0.74, 0.84, 3.0, ["175/70 R13", "185/60 R14"], 195),
    "pickup":    ((1720, 200), (0.46, 0.040), (2.70, 0.18), 0.97, 0.86, 4.5, ["215/75 R15", "225/70 R16"], 260),
    "van":       ((1780, 260), (0.40, 0.040), (3.30, 0.40), 1.08, 0.92, 4.6, ["195/75 R16", "205/65 R16"], 340),
    "lorry":     ((3300, 400), (0.60, 0.050), (5.20, 0.50), 1.18, 0.93, 4.8, ["215/75 R17.5", "225/75 R16"], 450),
}
BODY_WEIGHTS = {"saloon": .2, "estate": .14, "hatchback": .16, "coupe": .06, "roadster": .1, "pickup": .12,
                "van": .16, "lorry": .06}

# engine kinds: Willans slope e, fmep (c0, c1, c2) bar per krpm powers without throttling, bmep max bar,
# rpm at peak torque, governed rpm.  [R 5.3]: slopes 0.33-0.36 carburetted, 0.36-0.40 injected SI,
# 0.36-0.40 IDI, 0.42-0.47 DI turbo; friction [R 5.3] Barnes-Moss less pumping, Millington & Hartles.
ENGINES = {
    ("petrol", "carburettor", "natural"):     (0.350, (0.75, 0.12, 0.045), 9.2, 2900, 5600),
    ("petrol", "port", "natural"):            (0.378, (0.70, 0.11, 0.045), 10.6, 3500, 6200),
    ("diesel", "indirect", "natural"):        (0.388, (1.15, 0.38, 0.03), 7.4, 2300, 4600),
    ("diesel", "indirect", "turbocharged"):   (0.393, (1.10, 0.36, 0.03), 10.2, 2200, 4500),
    ("diesel", "direct", "turbocharged"):     (0.435, (0.75, 0.34, 0.02), 14.5, 2000, 4300),
}
ENGINE_WEIGHTS = [0.15, 0.33, 0.17, 0.12, 0.23]
LHV = {"petrol": (43.3e6, 0.2e6), "diesel": (42.8e6, 0.2e6)}  # J/kg [R 2.3]
RHO15 = {"petrol": (745.0, 7.0), "diesel": (836.0, 4.0)}      # kg/m^3 [R 2.1]
COLD_G = {"petrol": 80.0, "diesel": 50.0}                     # g from 20 degC [R 5.4] centres of 50-120, 30-80
COLD_SIGMA = 0.20          # log; those ranges read as 95 %
YAW_SD = 0.9               # rad^-2, [R 4.3] spread
CRR_WARM_K = 0.0086        # 1/K [R 4.2]
TYRE_RISE_K = 22.0         # K, running tyre above air at 80 km/h; assumed (handbook 15-30)
TYRE_TAU_S = 1100.0        # s; assumed (warm in about half an hour)


@dataclass(frozen=True)
class Vehicle:
    """Everything true about a vehicle (SI)."""
    body: str; fuel: str; injection: str; induction: str
    mass_kg: float; cd: float; area_m2: float; width_m: float; height_m: float; yaw_k: float
    crr: float; crr_v: float; pressure_kpa: float; pressure_exp: float
    tyre_rise_k: float; tyre_tau_s: float; tyre_temp_k: float
    tyre: str; circumference_m: float; ratios: tuple; final: float
    drive_eff: float; spin_n: float; spin_v: float; wheel_inertia_kg: float
    displacement_m3: float; cylinders: int; e: float; fmep: tuple; bmep_max: float
    n_peak: float; n_max: float; n_idle: float; cut: bool; acc_w: float; lhv: float; rho15: float
    pump_k: float; cold_g20: float; cold_tau_s: float; engine_inertia: float

    @property
    def cda(self) -> float:
        return self.cd * self.area_m2

    def full_torque(self, rpm: Array) -> Array:
        """Full-load torque N m: flat parabola about its peak (assumed shape)."""
        x = (np.asarray(rpm, float) - self.n_peak) / (self.n_max - self.n_peak)
        shape = np.where(x > 0, 1 - 0.20 * x**2, 1 - 0.16 * x**2 / 0.36)
        return self.bmep_max * 1e5 * self.displacement_m3 / (4 * math.pi) * np.clip(shape, 0.35, 1)


def tyre_circumference(size: str) -> float:
    """ETRTO rolling circumference 3.05 D [R 7]."""
    wide, rest = size.split("/"); aspect, rim = rest.split(" R")
    return 3.05 * (float(rim) * 0.0254 + 2 * float(wide) * 1e-3 * float(aspect) / 100)


def draw(rng: np.random.Generator) -> Vehicle:
    """One random vehicle: body of one, engine of another."""
    body = str(rng.choice(list(BODY_WEIGHTS), p=list(BODY_WEIGHTS.values())))
    (m0, ms), (c0, cs), (a0, as_), aspect, fill, k0, tyres, p0 = BODIES[body]
    kinds = list(ENGINES)
    while True:
        kind = kinds[int(rng.choice(len(kinds), p=ENGINE_WEIGHTS))]
        if body != "lorry" or kind[0] == "diesel":
            break
    fuel, injection, induction = kind
    e, fm, bmep, npk, nmax = ENGINES[kind]
    mass = normal(rng, m0, ms)
    area = normal(rng, a0, as_)
    width = math.sqrt(area / (fill * aspect))
    per_t = {"petrol": 1.38, "diesel": 1.40}[fuel] * (1.15 if bmep < 8 else 0.86 if bmep > 12 else 1.0)
    litres = float(np.clip(round(lognormal(rng, per_t * (mass / 1000) ** 0.75, 0.15), 1), 0.9, 3.9))
    tyre = str(rng.choice(tyres)); circ = tyre_circumference(tyre) * normal(rng, 1.0, 0.005)
    five = rng.random() < 0.75 and body != "roadster" or rng.random() < 0.4
    base = [3.6, 2.05, 1.37, 1.0, 0.82] if five else [3.6, 2.1, 1.38, 1.0]
    ratios = tuple(round(r * normal(rng, 1, 0.02), 2) if r != 1.0 else 1.0 for r in base)
    rpm90 = (normal(rng, 2850, 200) if fuel == "petrol" else normal(rng, 2400, 180)) * (1.0 if five else 1.12)
    final = round(rpm90 / 60 * circ / 25.0 / ratios[-1], 2)
    crr0 = {"roadster": 0.0125, "pickup": 0.0122, "van": 0.0112, "lorry": 0.0100}.get(body, 0.0110)  # [R 4.2]
    f = lognormal(rng, 1.0, 0.08)
    front = body in ("saloon", "hatchback", "estate")
    return Vehicle(
        body, fuel, injection, induction, mass, normal(rng, c0, cs), area, width, width * aspect,
        max(1.2, normal(rng, k0, YAW_SD)), lognormal(rng, crr0, 0.10), max(0.0, normal(rng, 0.06, 0.02)),
        float(p0), normal(rng, 0.45, 0.05), normal(rng, TYRE_RISE_K, 3.0), lognormal(rng, TYRE_TAU_S, 0.18),
        normal(rng, CRR_WARM_K, 0.0008), tyre, circ, ratios, final,
        normal(rng, 0.945 if front else 0.925, 0.012), mass * G * normal(rng, 0.00045, 0.0001),
        normal(rng, 0.012, 0.003), mass * normal(rng, 0.030, 0.003),  # spin loss, wheels: [R 4.1, 4.7], assumed
        litres * 1e-3, 3 if litres < 1.1 else 4, e * normal(rng, 1.0, 0.03), tuple(f * c for c in fm),
        bmep * normal(rng, 1.0, 0.04), npk * normal(rng, 1, 0.05), nmax * normal(rng, 1, 0.03),
        round(normal(rng, 830, 35), -1), injection != "carburettor" and (injection != "indirect" or rng.random() < .9),
        normal(rng, 320, 70) * (1.8 if body in ("lorry",) else 1.0), *(normal(rng, *LHV[fuel]), normal(rng, *RHO15[fuel])),
        normal(rng, 1.0, 0.10), lognormal(rng, COLD_G[fuel], COLD_SIGMA) * (litres / 1.8) ** 0.5,
        lognormal(rng, 330.0, 0.18), 0.12 + 0.05 * litres)


@dataclass(frozen=True)
class Knowledge:
    """What the owner writes; None where he does not know."""
    name: str; mass_kg: float; area_m2: float; as_width_height: tuple | None
    cd: float | None; crr: float | None; eff: float | None; declare_cut: bool; pm: dict = field(default_factory=dict)


NAMES_A = ["Fallow", "Bracken", "Tarn", "Sallow", "Copper", "Wether", "Larch", "Dunnock", "Quarry", "Osier", "Teasel", "Gorse"]
NAMES_B = ["Hauler", "Special", "Runner", "Wagon", "Tourer", "Mule", "Swap", "Lark", "Carrier", "Hybridless"]


def knowledge(v: Vehicle, rng: np.random.Generator) -> Knowledge:
    """Weighbridge +-15 kg; area from a photograph +-2.5 %; C_D and C_rr from the literature, where at all."""
    fill = BODIES[v.body][4]
    area = v.area_m2 * normal(rng, 1, 0.02)
    wh = None
    if rng.random() < 0.4:
        wh = (round(v.width_m * normal(rng, 1, 0.006), 2), round(v.height_m * normal(rng, 1, 0.006), 2))
        area = fill * wh[0] * wh[1]
    cd = round(v.cd * normal(rng, 1, 0.06), 2) if rng.random() < 0.5 else None
    crr = round(v.crr * normal(rng, 1, 0.08), 4) if rng.random() < 0.25 else None
    eff = round(v.drive_eff * normal(rng, 1, 0.012), 2) if rng.random() < 0.15 else None
    mass = round((v.mass_kg + normal(rng, 0, 10)) / 5) * 5
    pm = {"mass": 20} if rng.random() < 0.4 else {}
    return Knowledge(f"{rng.choice(NAMES_A)} {rng.choice(NAMES_B[:-1])}", mass, area, wh, cd, crr, eff, bool(rng.random() < 0.6), pm)


def as_owner_thinks(v: Vehicle, k: Knowledge) -> Vehicle:
    """The vehicle with owner's figures and class centres: for the self-check's best analyst."""
    (_, _), (c0, _), _, _, _, k0, _, _ = BODIES[v.body]
    e, fm, *_ = ENGINES[(v.fuel, v.injection, v.induction)]
    crr0 = {"roadster": 0.0125, "pickup": 0.0122, "van": 0.0112, "lorry": 0.0100}.get(v.body, 0.0110)
    front = v.body in ("saloon", "hatchback", "estate")
    return replace(v, mass_kg=k.mass_kg, area_m2=k.area_m2, cd=k.cd or c0, yaw_k=k0, crr=k.crr or crr0, crr_v=0.06,
                   pressure_exp=0.45, tyre_rise_k=TYRE_RISE_K, tyre_tau_s=TYRE_TAU_S, tyre_temp_k=CRR_WARM_K,
                   drive_eff=k.eff or (0.945 if front else 0.925), spin_n=v.mass_kg * G * 0.00045, spin_v=0.012,
                   wheel_inertia_kg=v.mass_kg * 0.03, e=e, fmep=fm, acc_w=320 * (1.8 if v.body == "lorry" else 1),
                   pump_k=1.0, cold_g20=COLD_G[v.fuel] * (v.displacement_m3 * 1e3 / 1.8) ** 0.5, cold_tau_s=330.0)
