"""Hidden vehicles: the engine of one vehicle in the body of another, and what the tester knows of them."""
from __future__ import annotations
from dataclasses import dataclass, replace
import math
import numpy as np
from .air import G

Rng = np.random.Generator


@dataclass(frozen=True)
class Vehicle:
    """The truth, SI. ``crr`` is at 20 degC, warm, usual pressure, speed towards zero."""
    name: str; body: str
    mass: float; width: float; height: float; area: float; cd: float
    yaw_k: float                 # C(psi) = C0 (1 + k psi_s^2), 1/rad^2
    crr: float; crr_speed: float # C = crr (1 + crr_speed (V/100 km/h)^2)
    crr_temp: float              # 1/K, C = ... (1 - crr_temp (T - 20))
    crr_pexp: float              # C ~ p^-crr_pexp
    tyre: str; circumference: float; pressure_kpa: float
    gears: tuple[float, ...]; final: float
    eta: float; spin_n: float; rot_frac: float
    # engine
    fuel: str; injection: str; induction: str
    displacement: float; cylinders: int; stroke: float
    idle_rpm: float; gov_rpm: float; peak_bmep: float; peak_rpm: float
    e_i: float; curvature: float; fric_scale: float; pmep: float
    engine_inertia: float; accessories_w: float; overrun_cut: bool
    lhv: float; rho15: float
    # warm-up
    cold_friction: float; tau_engine: float; enrich: float; tau_enrich: float
    tyre_cold: float; tau_tyre: float

    @property
    def cda(self) -> float:
        return self.cd * self.area

    def full_torque(self, rpm: np.ndarray | float) -> np.ndarray | float:
        """Full-load torque, N m: parabola about the peak (assumed shape)."""
        bmep = self.peak_bmep * (1 - 0.32 * ((rpm - self.peak_rpm) / self.peak_rpm) ** 2)
        return np.maximum(bmep, 0.2e5) * self.displacement / (4 * math.pi)

    def full_power(self, rpm: np.ndarray | float) -> np.ndarray | float:
        return self.full_torque(rpm) * np.asarray(rpm) * math.pi / 30

    @property
    def max_power(self) -> float:
        return float(np.max(self.full_power(np.linspace(self.idle_rpm, self.gov_rpm, 60))))

    def fmep(self, rpm: np.ndarray) -> np.ndarray:
        """Warm friction mean effective pressure, Pa."""
        n = rpm / 1000.0
        if self.fuel == "petrol":   # Heywood/Barnes-Moss (reference.md 5.3), less the idling pumping kept apart
            bar = 0.97 + 0.15 * n + 0.05 * n * n - 0.25
        else:                       # Millington & Hartles (reference.md 5.3), motoring, so pumping included
            c1 = 75.0 if self.injection == "direct" else 110.0
            sp = 2 * self.stroke * rpm / 60
            bar = (c1 + 48 * n + 0.4 * sp * sp) / 100
            bar = 0.85 * bar        # fired against motored, assumed
        return self.fric_scale * bar * 1e5


# body: mass kg, width m, height m, area factor, Cd, yaw k, share. Cd: reference.md 4.4; the rest is common knowledge.
BODIES = {
    "saloon":    ((950, 1550), (1.62, 1.80), (1.38, 1.46), 0.83, (0.30, 0.40), (2.5, 5.0), 0.20),
    "estate":    ((1000, 1650), (1.64, 1.82), (1.40, 1.50), 0.83, (0.32, 0.41), (2.5, 5.0), 0.14),
    "hatchback": ((800, 1350), (1.58, 1.76), (1.38, 1.50), 0.83, (0.31, 0.40), (2.5, 5.0), 0.14),
    "roadster":  ((700, 1100), (1.50, 1.70), (1.15, 1.30), 0.83, (0.42, 0.60), (1.0, 3.5), 0.10),
    "pickup":    ((1250, 2000), (1.65, 1.85), (1.60, 1.78), 0.84, (0.42, 0.54), (3.0, 6.0), 0.14),
    "van":       ((1350, 2400), (1.68, 2.00), (1.75, 2.40), 0.90, (0.34, 0.46), (3.0, 6.5), 0.18),
    "lorry":     ((2400, 4200), (1.95, 2.20), (2.20, 2.80), 0.92, (0.55, 0.72), (3.5, 6.5), 0.10),
}
# kind: fuel, injection, induction, e_i, peak bmep bar, specific n_gov, best rpm, curvature, pmep bar
# e_i and bmep from reference.md 5.3-5.4 (Heywood, Guzzella & Onder as remembered there).
ENGINES = {
    "idi_na":   ("diesel", "indirect", "natural", (0.375, 0.415), (6.6, 7.4), (4200, 4800), (2100, 2500), (0.02, 0.06), 0.0),
    "idi_t":    ("diesel", "indirect", "turbocharged", (0.385, 0.425), (8.8, 10.5), (4200, 4700), (2100, 2500), (0.02, 0.06), 0.0),
    "di_na":    ("diesel", "direct", "natural", (0.415, 0.450), (7.0, 7.8), (2900, 3800), (1700, 2100), (0.02, 0.06), 0.0),
    "di_t":     ("diesel", "direct", "turbocharged", (0.425, 0.465), (13., 17.), (4000, 4600), (1900, 2200), (0.01, 0.05), 0.0),
    "si_carb":  ("petrol", "carburettor", "natural", (0.330, 0.370), (8.6, 9.6), (5200, 6000), (2800, 3400), (0.03, 0.09), 0.50),
    "si_port":  ("petrol", "port", "natural", (0.360, 0.395), (9.8, 11.2), (5600, 6500), (3200, 4000), (0.02, 0.07), 0.55),
    "si_dit":   ("petrol", "direct", "turbocharged", (0.370, 0.405), (16., 19.), (5600, 6200), (2200, 2800), (0.02, 0.07), 0.45),
}
ENGINE_SHARE = {"idi_na": .16, "idi_t": .12, "di_na": .10, "di_t": .24, "si_carb": .12, "si_port": .18, "si_dit": .08}
NAMES_A = ["Fen", "Marl", "Heron", "Tarn", "Wold", "Brack", "Sedge", "Holt", "Quarry", "Lark", "Moss", "Copper", "Pike", "Alder"]
NAMES_B = ["Hauler", "Special", "Runner", "Carrier", "Carter", "Roamer", "Drifter", "Wagon", "Tourer", "Mule"]


def _lognormal(rng: Rng, median: float, sd: float) -> float:
    return float(median * math.exp(rng.normal(0, sd)))


def draw_vehicle(rng: Rng) -> Vehicle:
    bodies = list(BODIES)
    body = str(rng.choice(bodies, p=np.array([BODIES[b][6] for b in bodies]) / sum(BODIES[b][6] for b in bodies)))
    mass_r, w_r, h_r, af, cd_r, k_r, _ = BODIES[body]
    mass = rng.uniform(*mass_r) + 100            # driver and load
    width, height = rng.uniform(*w_r), rng.uniform(*h_r)
    area = max(0.76, rng.normal(af, 0.02)) * width * height
    kinds = list(ENGINE_SHARE)
    if body == "lorry":
        kinds = ["di_na", "di_t", "idi_t"]
    kind = str(rng.choice(kinds, p=np.array([ENGINE_SHARE[k] for k in kinds]) / sum(ENGINE_SHARE[k] for k in kinds)))
    fuel, injection, induction, e_r, bmep_r, gov_r, best_r, q_r, pmep = ENGINES[kind]
    gov, best = rng.uniform(*gov_r), rng.uniform(*best_r)
    peak_bmep = rng.uniform(*bmep_r) * 1e5
    # displacement from a power-to-mass an owner would accept (assumed 30 to 60 kW/t, lorries 18 to 28)
    kw_t = rng.uniform(18, 28) if body == "lorry" else rng.uniform(30, 58)
    rpm = np.linspace(1000, gov, 50)
    power_per_m3 = np.max(peak_bmep * (1 - .32 * ((rpm - best) / best) ** 2) / (4 * math.pi) * rpm * math.pi / 30)
    disp = float(np.clip(kw_t * mass / power_per_m3, 0.9e-3, 4.2e-3))
    disp = round(disp, 4)
    cyl = 3 if disp < 1.15e-3 else 4 if disp < 2.8e-3 else int(rng.choice([4, 6]))
    stroke = (disp / cyl * 4 / math.pi) ** (1 / 3) * (1.05 if fuel == "diesel" else 0.97)
    if body == "lorry":
        tw, asp, rim = rng.choice([195, 205, 215]), 75, 16
    elif body in ("van", "pickup"):
        tw, asp, rim = rng.choice([185, 195, 205]), int(rng.choice([65, 70, 75])), int(rng.choice([15, 16]))
    else:
        tw, asp, rim = rng.choice([155, 165, 175, 185, 195]), int(rng.choice([60, 65, 70])), int(rng.choice([13, 14, 15]))
    dia = rim * 0.0254 + 2 * tw * 1e-3 * asp / 100
    circ = 3.05 * dia * (1 - rng.uniform(0, 0.015))          # ETRTO factor, less wear
    six = kind in ("di_t", "si_dit") and rng.random() < 0.5
    if six:
        gears = (3.7, 2.05, 1.36, 1.03, 0.82, 0.68)
    elif rng.random() < 0.75:
        gears = (3.6, 2.05, 1.37, 1.0, 0.82)
    else:
        gears = (3.6, 2.1, 1.37, 1.0)
    gears = tuple(round(g * float(rng.uniform(0.96, 1.04)), 3) for g in gears)
    kmh1000 = rng.uniform(27, 33) if body == "lorry" else (rng.uniform(35, 46) if fuel == "diesel" else rng.uniform(30, 39))
    if injection == "direct" and induction == "natural":
        kmh1000 = max(kmh1000, 110 / (0.9 * gov / 1000))
    final = round(60 * circ / (kmh1000 * gears[-1]), 3)
    radial_old = rng.random() < 0.25
    crr_med = {"lorry": 0.0098, "van": 0.0112, "pickup": 0.0122}.get(body, 0.0112)   # reference.md 4.2
    name = f"{rng.choice(NAMES_A)} {rng.choice(NAMES_B)}"
    return Vehicle(
        name=name, body=body, mass=mass, width=width, height=height, area=area,
        cd=rng.uniform(*cd_r) * math.exp(rng.normal(0, 0.03)), yaw_k=rng.uniform(*k_r),
        crr=_lognormal(rng, crr_med, 0.12), crr_speed=rng.uniform(0.06, 0.12) if radial_old else rng.uniform(0.03, 0.07),  # Wong
        crr_temp=float(np.clip(rng.normal(0.0086, 0.0015), 0.005, 0.012)), crr_pexp=rng.uniform(0.38, 0.52),
        tyre=f"{tw}/{asp} R{rim}", circumference=circ,
        pressure_kpa=float(round((350 if body == "lorry" else 280 if body in ("van", "pickup") else 220) * rng.uniform(0.9, 1.12), -1)),
        gears=gears, final=final,
        eta=float(np.clip(rng.normal(0.935 if body in ("hatchback", "saloon", "estate") else 0.92, 0.013), 0.88, 0.965)),
        spin_n=rng.uniform(0.0006, 0.0014) * mass * G, rot_frac=float(np.clip(rng.normal(0.032, 0.004), 0.02, 0.045)),
        fuel=fuel, injection=injection, induction=induction, displacement=disp, cylinders=cyl, stroke=stroke,
        idle_rpm=float(round(rng.uniform(720, 900), -1)), gov_rpm=float(round(gov, -2)), peak_bmep=peak_bmep, peak_rpm=best,
        e_i=rng.uniform(*e_r), curvature=rng.uniform(*q_r), fric_scale=_lognormal(rng, 1.0, 0.11),
        pmep=pmep * 1e5 * rng.uniform(0.8, 1.2),
        engine_inertia=0.07 + 0.06 * disp / 1e-3 * rng.uniform(0.8, 1.2),
        accessories_w=rng.uniform(250, 700) + (200 if body == "lorry" else 0),
        overrun_cut=injection != "carburettor",
        lhv=rng.normal(42.8e6, 0.2e6) if fuel == "diesel" else rng.normal(42.9e6, 0.3e6),   # reference.md 2.3
        rho15=rng.normal(836, 5) if fuel == "diesel" else rng.normal(745, 6),
        cold_friction=rng.uniform(0.40, 0.75) if fuel == "diesel" else rng.uniform(0.55, 1.0),                 # extra fmep at 70 K below warm, share of warm (assumed)
        tau_engine=_lognormal(rng, 300, 0.25),                # s
        enrich=rng.uniform(0.0, 0.03) if fuel == "diesel" else rng.uniform(0.15, 0.35), tau_enrich=_lognormal(rng, 110, 0.25),
        tyre_cold=rng.uniform(0.18, 0.35), tau_tyre=_lognormal(rng, 600, 0.2),   # 20 to 30 min to settle
    )


@dataclass(frozen=True)
class Sheet:
    """The build sheet as text lines, with the tester's errors already in it."""
    toml: str
    full_load_csv: str


def q(x: float, unit: str, digits: int = 3) -> str:
    return f'"{x:.{digits}f} {unit}"'


def build_sheet(v: Vehicle, rng: Rng, measured_mass_sd: float = 10.0, extra: str = "") -> Sheet:
    L = ["[vehicle]", f'name = "{v.name}"', f'body = "{v.body}"']
    sd = measured_mass_sd * (1.5 if v.mass > 2500 else 1.0)
    m = round((v.mass + rng.normal(0, sd)) / 5) * 5
    L.append(f'test_mass = {{ value = "{m:.0f} kg", pm = "{2 * sd:.0f} kg" }}' if rng.random() < 0.6 else f'test_mass = "{m:.0f} kg"')
    if rng.random() < 0.35:
        L.append(f"frontal_area = {q(v.area * math.exp(rng.normal(0, 0.03)), 'm^2', 2)}")     # from a photograph
    else:
        L += [f"width = {q(v.width + rng.normal(0, .008), 'm', 2)}", f"height = {q(v.height + rng.normal(0, .01), 'm', 2)}"]
    if rng.random() < 0.40:
        L.append(f"drag_coefficient = {v.cd * math.exp(rng.normal(0, 0.06)):.2f}")            # brochure of the donor body
    if rng.random() < 0.12:
        L.append(f"rolling_resistance = {v.crr * math.exp(rng.normal(0, 0.10)):.4f}")
    L.append(f'tyre = "{v.tyre}"')
    L.append(f'tyre_pressure = "{v.pressure_kpa:.0f} kPa"')
    L.append(f"gear_ratios = [{', '.join(str(g) for g in v.gears)}]")
    L.append(f"final_drive = {v.final}")
    L += ["", "[engine]", f'displacement = "{v.displacement * 1e3:.1f} L"', f"cylinders = {v.cylinders}", f'fuel = "{v.fuel}"',
          f'induction = "{v.induction}"', f'injection = "{v.injection}"', f'idle_speed = "{v.idle_rpm + rng.normal(0, 20):.0f} rpm"',
          f'governed_speed = "{v.gov_rpm:.0f} rpm"', 'full_load = "full_load.csv"']
    if extra:
        L += ["", extra]
    rpm = np.arange(1000, v.gov_rpm + 1, 400)
    k = math.exp(rng.normal(0, 0.02))
    csv = "speed_rpm,torque_Nm\n" + "".join(f"{r:.0f},{float(v.full_torque(r)) * k * math.exp(rng.normal(0, .008)):.1f}\n" for r in rpm)
    return Sheet("\n".join(L) + "\n", csv)


__all__ = ["Vehicle", "draw_vehicle", "build_sheet", "Sheet", "replace", "q"]
