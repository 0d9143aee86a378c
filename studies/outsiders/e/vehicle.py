"""Vehicles: hidden properties drawn from what is usual for the sort, and the build sheet a tester writes."""
from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.random import Generator

# body: share, mass mean/sd kg, width m, height m, area/(w h), Cd mean/sd, yaw growth k rad^-2,
#       displacement range L.  Cd and area factor [R 4.4]; yaw k [R 4.3: 3..6]; rest [H]
BODIES: dict[str, tuple[float, ...]] = {
    "hatchback": (0.15, 1080, 120, 1.66, 1.43, 0.83, 0.345, 0.030, 3.0, 1.2, 1.9),
    "saloon": (0.22, 1360, 170, 1.74, 1.43, 0.83, 0.315, 0.030, 2.8, 1.6, 2.5),
    "estate": (0.15, 1460, 160, 1.75, 1.47, 0.84, 0.340, 0.030, 3.2, 1.6, 2.4),
    "coupe": (0.06, 1250, 140, 1.70, 1.32, 0.82, 0.335, 0.030, 2.6, 1.6, 2.6),
    "roadster": (0.08, 880, 120, 1.60, 1.18, 0.86, 0.500, 0.055, 2.2, 1.3, 2.0),
    "pickup": (0.14, 1620, 190, 1.75, 1.70, 0.86, 0.470, 0.040, 4.0, 2.0, 3.0),
    "van": (0.14, 1780, 230, 1.90, 2.10, 0.88, 0.400, 0.035, 4.8, 1.9, 2.8),
    "lorry": (0.06, 3200, 350, 2.05, 2.60, 0.92, 0.580, 0.055, 4.5, 2.8, 4.0),
}
# engine sort: fuel, induction, injection, gross indicated efficiency, fmep f0 f1 f2 (bar, per krpm),
#   peak bmep bar, rated rpm, idle rpm, overrun cut.  Slopes/levels to give the bsfc of [R 5.3, 5.4]; [H]
ENGINES: dict[str, tuple] = {
    "carburettor": ("petrol", "natural", "carburettor", 0.360, 0.58, 0.12, 0.040, 9.0, 5300, 850, False),
    "port": ("petrol", "natural", "port", 0.385, 0.52, 0.12, 0.040, 10.3, 5600, 800, True),
    "idi": ("diesel", "natural", "indirect", 0.420, 1.15, 0.30, 0.045, 7.8, 4300, 820, True),
    "idi_turbo": ("diesel", "turbocharged", "indirect", 0.420, 1.12, 0.30, 0.045, 10.5, 4200, 820, True),
    "di_turbo": ("diesel", "turbocharged", "direct", 0.465, 0.78, 0.25, 0.045, 15.5, 4000, 820, True),
}
LHV_J_PER_G = {"diesel": (42_800.0, 250.0), "petrol": (43_000.0, 300.0)}   # mean, sd [R 2.3]
TYRES = {"hatchback": ("175/65 R14", 1.766), "saloon": ("195/65 R15", 1.935), "estate": ("205/65 R15", 1.975),
         "coupe": ("195/60 R15", 1.875), "roadster": ("185/60 R14", 1.761), "pickup": ("215/75 R15", 2.147),
         "van": ("195/70 R15", 1.995), "lorry": ("225/75 R16", 2.247)}   # 3.05 x nominal diameter [R 7]


@dataclass(frozen=True)
class Vehicle:
    """Hidden truth of one vehicle."""
    body: str
    engine_sort: str
    fuel: str
    induction: str
    injection: str
    mass_kg: float
    width_m: float
    height_m: float
    area_m2: float
    drag_coefficient: float
    yaw_k: float
    crr0: float              # tyre+bearing, 20 degC ambient, warm, usual pressure, v -> 0
    crr_v2: float            # relative growth at 100 km/h, on v^2
    crr_temp: float          # per K of tyre temperature
    pressure_exponent: float
    tyre_kpa: float
    tyre_tau_s: float
    circumference_m: float
    gears: tuple[float, ...]
    final_drive: float
    mesh_efficiency: float
    spin_n0: float           # N at the wheel, warm oil; final drive and shafts turn in neutral too
    spin_n1: float           # N per m/s
    neutral_share: float     # share of spin loss still there with the gearbox in neutral
    wheel_inertia_kg: float  # all wheels, equivalent mass
    engine_inertia: float    # kg m2
    displacement_l: float
    rated_rpm: float
    idle_rpm: float
    peak_bmep: float
    eta: float
    f0: float
    f1: float
    f2: float
    eta_curve: float
    enrich_cold: float
    overrun_cut: bool
    accessory_w: float
    lhv_j_per_g: float
    fuel_density15: float
    heat_capacity_j_per_k: float
    aero_height_m: float
    declared: dict = field(default_factory=dict)

    @property
    def cda(self) -> float:
        return self.drag_coefficient * self.area_m2

    def full_torque(self, n_rpm: np.ndarray | float) -> np.ndarray:
        """Full-load torque, N m: gentle hump for natural engines, plateau for turbocharged ones [H]."""
        x = np.asarray(n_rpm) / self.rated_rpm
        if self.induction == "turbocharged":
            shape = np.clip(0.45 + 1.35 * x, 0.0, 1.0) - 0.24 * np.clip(x - 0.6, 0, None) / 0.4
        else:
            shape = 1.0 - 0.75 * (x - 0.60) ** 2 - 0.35 * np.clip(x - 0.8, 0, None)
        return self.peak_bmep * 1e5 * self.displacement_l * 1e-3 / (4 * math.pi) * np.clip(shape, 0.25, 1.0)

    @property
    def max_power_w(self) -> float:
        n = np.linspace(1000, self.rated_rpm, 60)
        return float(np.max(self.full_torque(n) * n * math.pi / 30))


def draw_vehicle(rng: Generator) -> Vehicle:
    """One vehicle of the sort people build: an engine of one kind in the body of another."""
    names = list(BODIES)
    p = np.array([BODIES[b][0] for b in names])
    body = names[int(rng.choice(len(names), p=p / p.sum()))]
    _, mm, ms, w, h, af, cd, cds, yk, d_lo, d_hi = BODIES[body]
    weights = {"carburettor": .18, "port": .24, "idi": .22, "idi_turbo": .16, "di_turbo": .20}
    if body in ("van", "lorry", "pickup"):
        weights = {"carburettor": .07, "port": .08, "idi": .30, "idi_turbo": .27, "di_turbo": .28}
    if body == "lorry":
        weights = {"idi": .45, "idi_turbo": .25, "di_turbo": .30}
    sort = str(rng.choice(list(weights), p=np.array(list(weights.values())) / sum(weights.values())))
    fuel, ind, inj, eta, f0, f1, f2, bmep, rated, idle, cut = ENGINES[sort]
    if body == "lorry":
        rated *= 0.78
    disp = round(float(rng.uniform(d_lo, d_hi)), 1)
    mass = max(620.0, rng.normal(mm, ms)) + (90 if fuel == "diesel" else 0)
    w, h = w * rng.normal(1, .025), h * rng.normal(1, .03)
    area = w * h * af * rng.normal(1, .015)
    old_tyre = rng.random() < 0.4
    base = {"pickup": .0120, "van": .0108, "lorry": .0100}.get(body, .0105)      # [R 4.2]
    crr0 = float(np.clip(rng.normal(base * (1.12 if old_tyre else .97), .0012), .0070, .0165))
    tyre, nominal = TYRES[body]
    circumference = nominal * rng.normal(0.994, .008)                              # wear, pressure [R 7]
    gears = tuple(round(g * rng.normal(1, .02), 3) for g in
                  ((3.60, 2.05, 1.38, 1.0) if rng.random() < .25 else (3.60, 2.00, 1.32, 0.97, 0.79)))
    v1000 = (32.5 if fuel == "petrol" else 38.5) * rng.normal(1, .05) * (.92 if len(gears) == 4 else 1)
    if body == "lorry":
        v1000 = 31.0 * rng.normal(1, .04)
    final = round(60 * circumference / (v1000 * gears[-1]), 3)
    rear = body in ("pickup", "lorry", "roadster") or rng.random() < .35
    lhv = rng.normal(*LHV_J_PER_G[fuel])
    density = rng.normal(836, 5) if fuel == "diesel" else rng.normal(745, 6)       # [R 2.1]
    scale = (mass / 1400) ** 0.8
    kpa = float(rng.choice([210, 220, 230, 240])) if body not in ("van", "lorry", "pickup") else float(rng.choice([260, 300, 340]))
    v = Vehicle(
        body=body, engine_sort=sort, fuel=fuel, induction=ind, injection=inj, mass_kg=mass, width_m=w, height_m=h,
        area_m2=area, drag_coefficient=float(np.clip(rng.normal(cd, cds), .24, .75)),
        yaw_k=yk * float(np.exp(rng.normal(0, .25))), crr0=crr0, crr_v2=float(np.clip(rng.normal(.16, .05), .04, .3)),
        crr_temp=rng.normal(.0086, .0010), pressure_exponent=rng.normal(.42, .06), tyre_kpa=kpa,
        tyre_tau_s=1100 * float(np.exp(rng.normal(0, .2))) * (1.5 if body == "lorry" else 1), circumference_m=circumference,
        gears=gears, final_drive=final, mesh_efficiency=rng.normal(.958 if rear else .972, .006),
        spin_n0=rng.uniform(8, 18) * scale * (1.3 if rear else 1), spin_n1=rng.uniform(.25, .6) * scale,
        neutral_share=rng.uniform(.35, .6), wheel_inertia_kg=mass * rng.uniform(.022, .040),
        engine_inertia=(.09 + .05 * disp) * (1.25 if fuel == "diesel" else 1), displacement_l=disp, rated_rpm=float(rated),
        idle_rpm=float(idle + 20 * round(rng.normal(0, 1.2))), peak_bmep=bmep * rng.normal(1, .05),
        eta=eta * rng.normal(1, .030), f0=f0 * rng.normal(1, .12), f1=f1 * rng.normal(1, .12), f2=f2 * rng.normal(1, .12),
        eta_curve=rng.uniform(.05, .22), enrich_cold={"carburettor": .22, "port": .13}.get(sort, 0.0) * rng.uniform(.7, 1.3),
        overrun_cut=cut, accessory_w=rng.uniform(350, 900), lhv_j_per_g=lhv, fuel_density15=density,
        heat_capacity_j_per_k=(38e3 + 17e3 * disp) * rng.normal(1, .1), aero_height_m=.52 * h)
    return replace(v, declared=draw_build_sheet(v, tyre, rng))


def draw_build_sheet(v: Vehicle, tyre: str, rng: Generator) -> dict:
    """What such a tester knows, with the errors such figures have [A]."""
    d: dict = {"test_mass": 10 * round((v.mass_kg + rng.normal(0, 10)) / 10)}                    # weighbridge
    if rng.random() < .5:
        d["frontal_area"] = round(v.area_m2 * rng.normal(1, .025), 2)                            # from a photograph
    else:
        d["width"], d["height"] = round(v.width_m * rng.normal(1, .004), 2), round(v.height_m * rng.normal(1, .005), 2)
    if rng.random() < .45:
        d["drag_coefficient"] = round(v.drag_coefficient * rng.normal(1, .05), 2)                # published for the body
    if rng.random() < .30:
        d["rolling_resistance"] = round(v.crr0 * (1 + v.crr_v2 * .3) * rng.normal(1, .08), 4)    # tyre label, guess
    if rng.random() < .5:
        d["rolling_circumference"] = round(v.circumference_m * rng.normal(1, .003), 3)           # roll-out
    else:
        d["tyre"] = tyre
    d["overrun"] = rng.random() < .5
    return d


def write_vehicle(v: Vehicle, folder: Path, name: str, rng: Generator) -> None:
    d = v.declared
    lines = ["[vehicle]", f'name = "{name}"', f'body = "{v.body}"', f'test_mass = "{d["test_mass"]} kg"']
    for key, unit in (("frontal_area", "m^2"), ("width", "m"), ("height", "m")):
        if key in d:
            lines.append(f'{key} = "{d[key]:.2f} {unit}"')
    if "drag_coefficient" in d:
        lines.append(f'drag_coefficient = {d["drag_coefficient"]}')
    if "rolling_resistance" in d:
        lines.append(f'rolling_resistance = {d["rolling_resistance"]}')
    lines.append(f'rolling_circumference = "{d["rolling_circumference"]} m"' if "rolling_circumference" in d else f'tyre = "{d["tyre"]}"')
    lines += [f'tyre_pressure = "{v.tyre_kpa:.0f} kPa"', f"gear_ratios = {list(v.gears)}", f"final_drive = {v.final_drive}",
              "", "[engine]", f'displacement = "{v.displacement_l} L"', f'cylinders = 4', f'fuel = "{v.fuel}"',
              f'induction = "{v.induction}"', f'injection = "{v.injection}"', f'idle_speed = "{v.idle_rpm:.0f} rpm"',
              f'governed_speed = "{v.rated_rpm * (1.08 if v.fuel == "diesel" else 1.12):.0f} rpm"', 'full_load = "full_load.csv"']
    if d["overrun"]:
        lines.append(f"overrun_fuel_cut = {str(v.overrun_cut).lower()}")
    (folder / "vehicle.toml").write_text("\n".join(lines) + "\n")
    n = np.linspace(1000, v.rated_rpm, 9).round(-1)
    t = v.full_torque(n) * rng.normal(1, .03)
    (folder / "full_load.csv").write_text("speed_rpm,torque_Nm\n" + "".join(f"{a:.0f},{b:.1f}\n" for a, b in zip(n, t)))
