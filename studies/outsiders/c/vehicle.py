"""Hidden vehicle: what it really is, and what its owner writes in the build sheet.

Distributions are by body and engine family. Sources: reference.md 4.2 (rolling), 4.3-4.4
(drag, yaw), 4.7 (driveline), 5.3-5.4 (engine); "assumed" = this author's judgement.
"""
from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from .noise import clipped

RIM_INCH = 0.0254  # m, exact


@dataclass(frozen=True)
class Body:
    """Ranges by body class."""

    mass: tuple[float, float]  # kg as driven
    width: tuple[float, float]  # m
    height: tuple[float, float]  # m
    fill: tuple[float, float]  # mean, sd of area / (width*height)
    cd: tuple[float, float]  # mean, sd
    yaw: tuple[float, float]  # mean, sd of the relative rise of axial drag at its peak
    tyres: tuple[str, ...]
    rear_drive: float  # probability


# cd, fill: reference.md 4.4; yaw peak rise: 4.3 (10 deg: saloon +5..10 %, box +10..20 %); masses assumed
BODIES: dict[str, Body] = {
    "saloon": Body((950, 1650), (1.62, 1.80), (1.38, 1.48), (0.83, 0.015), (0.345, 0.035), (0.30, 0.08),
                   ("175/70 R13", "185/65 R14", "195/65 R15", "205/55 R16"), 0.35),
    "estate": Body((1050, 1750), (1.64, 1.80), (1.42, 1.52), (0.835, 0.015), (0.36, 0.03), (0.34, 0.08),
                   ("185/65 R14", "195/65 R15", "205/55 R16"), 0.3),
    "hatchback": Body((850, 1400), (1.58, 1.76), (1.38, 1.50), (0.83, 0.015), (0.355, 0.03), (0.32, 0.08),
                      ("155/80 R13", "175/70 R13", "185/60 R14", "195/65 R15"), 0.05),
    "roadster": Body((700, 1150), (1.58, 1.72), (1.12, 1.26), (0.82, 0.02), (0.47, 0.06), (0.25, 0.08),
                     ("185/60 R14", "195/50 R15"), 1.0),
    "pickup": Body((1250, 2100), (1.66, 1.86), (1.58, 1.80), (0.84, 0.02), (0.48, 0.04), (0.38, 0.09),
                   ("195/75 R14", "205/75 R15", "215/75 R15"), 1.0),
    "van": Body((1350, 2400), (1.68, 1.98), (1.85, 2.40), (0.885, 0.02), (0.41, 0.035), (0.50, 0.10),
                ("195/75 R16", "205/65 R16", "215/75 R16"), 0.4),
    "lorry": Body((2600, 4200), (2.00, 2.20), (2.40, 2.95), (0.90, 0.02), (0.60, 0.05), (0.50, 0.10),
                  ("205/75 R17.5", "215/75 R17.5"), 1.0),
}
BODY_WEIGHT = {"saloon": 0.24, "estate": 0.15, "hatchback": 0.16, "roadster": 0.10, "pickup": 0.15, "van": 0.15,
               "lorry": 0.05}


@dataclass(frozen=True)
class Family:
    """Engine family. eta: reference.md 5.3 Willans slopes; fmep split assumed to give its totals at 2000 rpm."""

    fuel: str
    induction: str
    injection: str
    eta: tuple[float, float]
    fmep2000: tuple[float, float]  # bar, mechanical, warm
    bmep_max: tuple[float, float]  # bar
    n_torque: tuple[float, float]  # rpm of peak torque
    n_max: tuple[float, float]  # rpm not to exceed
    idle: tuple[float, float]  # rpm


FAMILIES: dict[str, Family] = {
    "idi": Family("diesel", "natural", "indirect", (0.385, 0.012), (1.85, 0.18), (7.0, 7.8), (2000, 2500), (4300, 4900), (780, 880)),
    "idi_t": Family("diesel", "turbocharged", "indirect", (0.390, 0.012), (1.85, 0.18), (10.0, 12.0), (2000, 2400), (4300, 4700), (780, 880)),
    "di_t": Family("diesel", "turbocharged", "direct", (0.440, 0.013), (1.40, 0.15), (14.0, 17.5), (1800, 2200), (4200, 4600), (780, 880)),
    "di": Family("diesel", "natural", "direct", (0.425, 0.013), (1.60, 0.15), (7.3, 8.2), (1700, 2100), (2900, 3600), (700, 800)),
    "carb": Family("petrol", "natural", "carburettor", (0.345, 0.012), (1.15, 0.13), (9.0, 10.0), (2800, 3500), (5500, 6200), (800, 900)),
    "pfi": Family("petrol", "natural", "port", (0.375, 0.012), (1.10, 0.13), (10.0, 11.3), (3200, 4200), (6000, 6600), (750, 850)),
    "pfi_t": Family("petrol", "turbocharged", "port", (0.370, 0.012), (1.10, 0.13), (13.0, 16.0), (2200, 3000), (5800, 6300), (750, 850)),
}


@dataclass(frozen=True)
class Vehicle:
    """The hidden truth."""

    name: str
    body: str
    family: str
    fuel: str
    induction: str
    injection: str
    mass: float
    width: float
    height: float
    area: float
    cd: float
    yaw_gain: float  # axial drag rises by this fraction at yaw_peak
    yaw_peak: float  # rad
    crr80: float  # tyre rolling coefficient, 80 km/h, equilibrium tyre at 20 degC, usual pressure
    crr_v1: float  # 1/(km/h), relative, at constant tyre temperature
    crr_v2: float  # 1/(km/h)^2
    crr_temp: float  # 1/K of tyre temperature
    tyre_rise: float  # K above air, equilibrium at 80 km/h and 20 degC
    tyre_tau: float  # s at 80 km/h
    corner_stiffness: float  # N/rad, all wheels
    bearing_n: float  # N, bearings and brake rub
    tyre: str
    radius: float  # m rolling
    pressure_kpa: float
    gears: tuple[float, ...]
    final_drive: float
    wheel_inertia: float  # kg m2, all wheels
    engine_inertia: float  # kg m2
    mesh: float  # load-proportional efficiency
    spin0: float  # N at the wheel, warm
    spin1: float  # N/(m/s)
    displacement: float  # m3
    cylinders: int
    eta_i: float
    eta_curve: float  # indicated efficiency lost per (x-0.45)^2, x = imep/imep_max
    eta_speed: float  # heat loss at low speed
    fmep0: float  # bar
    fmep1: float  # bar/krpm
    fmep2: float  # bar/krpm2
    pump_phi: float  # share of throttle depression paid as pumping work (petrol)
    bmep_max: float
    n_torque: float
    n_max: float
    n_idle: float
    fuel_cut: bool
    accessory_w: float
    fan_w: float  # at 4000 rpm, cubic
    coolant_kj_k: float
    oil_kj_k: float
    cold_combustion: float  # relative extra fuel at coolant 20 degC
    thermostat_c: float
    lhv: float  # J/kg
    density15: float  # kg/m3

    @property
    def cda(self) -> float:
        """Drag area at zero yaw, m2."""
        return self.cd * self.area

    def yaw_factor(self, psi: np.ndarray) -> np.ndarray:
        """Axial coefficient over its zero-yaw value (body axis); smooth rise to yaw_peak, then fall (assumed shape)."""
        x = np.abs(psi)
        rise = 1 + self.yaw_gain * 0.5 * (1 - np.cos(np.pi * np.minimum(x, self.yaw_peak) / self.yaw_peak))
        fall = (1 + self.yaw_gain) * np.cos(np.pi * (x - self.yaw_peak) / (np.pi - self.yaw_peak))
        return np.where(x <= self.yaw_peak, rise, fall)

    def fmep(self, n_rpm: np.ndarray) -> np.ndarray:
        """Warm mechanical friction, bar."""
        k = n_rpm / 1000.0
        return self.fmep0 + self.fmep1 * k + self.fmep2 * k * k

    def full_torque(self, n_rpm: np.ndarray) -> np.ndarray:
        """Full-load torque, N m: a parabola in log speed about the peak (assumed shape)."""
        x = np.log(np.maximum(np.asarray(n_rpm, float), 400.0) / self.n_torque)
        droop = np.where(x < 0, 0.42, 0.55 if self.fuel == "diesel" else 0.40)
        return self.bmep_max * 1e5 * self.displacement / (4 * np.pi) * np.maximum(1 - droop * x * x, 0.3)


def tyre_radius(size: str) -> float:
    """Rolling radius: 3.05 x diameter / 2 pi (ETRTO factor, reference.md 7)."""
    width, rest = size.split("/")
    aspect, rim = rest.split(" R")
    return 3.05 * (float(rim) * RIM_INCH + 2 * float(width) / 1000 * float(aspect) / 100) / (2 * np.pi)


_A = ["Fen", "Moor", "Alder", "Brack", "Heron", "Otter", "Quarry", "Copper", "Marsh", "Harl", "Tarn", "Wold"]
_B = ["Hauler", "Runner", "Mongrel", "Wagon", "Hybrid Body", "Special", "Mule", "Tourer", "Magpie", "Express"]


def draw_vehicle(rng: Generator) -> Vehicle:
    """Draw one vehicle from the distributions above."""
    body = str(rng.choice(list(BODY_WEIGHT), p=list(BODY_WEIGHT.values())))
    b = BODIES[body]
    u = rng.uniform
    mass = u(*b.mass)
    heavy = mass > 1500
    if body == "lorry":
        family = str(rng.choice(["di", "di_t", "idi_t"], p=[0.35, 0.45, 0.2]))
    elif body in ("van", "pickup"):
        family = str(rng.choice(["idi", "idi_t", "di_t", "di", "carb", "pfi"], p=[0.24, 0.16, 0.24, 0.12, 0.10, 0.14]))
    elif body == "roadster":
        family = str(rng.choice(["carb", "pfi", "pfi_t", "idi_t", "di_t"], p=[0.3, 0.35, 0.1, 0.1, 0.15]))
    else:
        family = str(rng.choice(["idi", "idi_t", "di_t", "carb", "pfi", "pfi_t"], p=[0.22, 0.13, 0.20, 0.17, 0.22, 0.06]))
    f = FAMILIES[family]
    bmep = u(*f.bmep_max)
    n_t, n_m = u(*f.n_torque), u(*f.n_max)
    # rated power wanted: 24..58 W/kg, petrol higher, with heavier vehicles lower (assumed), sets the swept volume
    want = mass * u(24, 31) if body == "lorry" else mass * (u(38, 58) if f.fuel == "petrol" else u(30, 46))
    litres = want / (bmep * 1e5 * 0.83 * n_m * 0.88 / 120.0) * 1000
    litres = float(np.clip(round(litres, 1), 1.1, 4.4 if body == "lorry" else 3.2))
    cyl = 4 if litres < 2.6 else int(rng.choice([4, 5, 6]))
    tyre = str(rng.choice(b.tyres))
    radius = tyre_radius(tyre) * (1 + clipped(rng, -0.004, 0.006))
    five = rng.random() < 0.85
    gears = tuple(round(g * float(np.exp(rng.normal(0, 0.02))), 2) for g in
                  ((3.6, 2.05, 1.36, 1.0, 0.80) if five else (3.6, 2.05, 1.38, 1.0)))
    # top gear km/h per 1000 rpm: diesel 36-44, petrol 30-38, slow-revving lorry engines more (assumed)
    kmh = u(35, 43) if f.fuel == "diesel" else u(30, 37)
    if family == "di":
        kmh = u(38, 44)
    if not five:
        kmh *= 0.88
    fd = round(2 * np.pi * radius * 60 / (kmh * gears[-1]), 2)
    rear = rng.random() < b.rear_drive
    w, h = round(u(*b.width), 2), round(u(*b.height), 2)
    area = clipped(rng, *b.fill) * w * h
    modern = f.injection == "direct" and f.induction == "turbocharged" or family.startswith("pfi")
    if body in ("van", "pickup"):
        crr = clipped(rng, 0.0118, 0.0013)  # LT tyres, reference.md 4.2
    elif body == "lorry":
        crr = clipped(rng, 0.0095, 0.0010)
    else:
        crr = clipped(rng, 0.0108 if modern else 0.0118, 0.0012)
    fm = clipped(rng, *f.fmep2000)
    scale = fm / 1.0
    petrol = f.fuel == "petrol"
    return Vehicle(
        name=f"{rng.choice(_A)} {rng.choice(_B)}", body=body, family=family, fuel=f.fuel, induction=f.induction,
        injection=f.injection, mass=mass, width=w, height=h, area=area, cd=max(0.26, clipped(rng, *b.cd)),
        yaw_gain=max(0.08, clipped(rng, *b.yaw)), yaw_peak=np.radians(u(26, 36)),
        crr80=crr, crr_v1=u(0.0008, 0.0020), crr_v2=u(3e-6, 9e-6),  # J2452-like growth, assumed
        crr_temp=clipped(rng, 0.0098, 0.0013),  # gives about 0.8 %/K of air at equilibrium (WLTP K0 8.6e-3)
        tyre_rise=u(20, 30), tyre_tau=u(600, 1100), corner_stiffness=mass * u(85, 120),  # assumed
        bearing_n=mass / 1400 * u(3, 11),  # assumed: bearings, light brake rub
        tyre=tyre, radius=radius, pressure_kpa=float(round(u(190, 250) if body not in ("van", "pickup", "lorry") else u(250, 400) if body != "lorry" else u(450, 600), -1)),
        gears=gears, final_drive=fd, wheel_inertia=(0.025 + 0.012 * rng.random()) * mass * radius**2,
        engine_inertia=0.09 + 0.05 * litres * (1.3 if not petrol else 0.9) * u(0.8, 1.2),
        mesh=clipped(rng, 0.945, 0.010) if rear else clipped(rng, 0.966, 0.007),  # reference.md 4.7
        spin0=mass / 1400 * u(4, 10), spin1=mass / 1400 * u(0.2, 0.6),  # assumed: 10-20 N at 80 km/h per 1400 kg
        displacement=litres / 1000, cylinders=cyl, eta_i=clipped(rng, *f.eta),
        eta_curve=u(0.12, 0.30), eta_speed=u(0.02, 0.07),
        fmep0=0.58 * scale, fmep1=0.15 * scale, fmep2=0.03 * scale,
        pump_phi=u(0.75, 1.0) if petrol else 0.0, bmep_max=bmep, n_torque=n_t, n_max=n_m, n_idle=u(*f.idle),
        fuel_cut=f.injection != "carburettor", accessory_w=u(300, 800), fan_w=u(300, 1500) if (rear and not modern) else 0.0,
        coolant_kj_k=litres * u(26, 36) + 12, oil_kj_k=litres * u(4, 6) + 3,
        cold_combustion=u(0.10, 0.22) if petrol else u(0.03, 0.09), thermostat_c=u(83, 91),
        lhv=1e6 * (clipped(rng, 43.2, 0.25) if petrol else clipped(rng, 42.85, 0.20)),  # reference.md 2.3
        density15=clipped(rng, 745, 7) if petrol else clipped(rng, 835, 5),
    )


def changed(v: Vehicle, kind: str, factor: float) -> Vehicle:
    """The same vehicle after a change of one property by a factor."""
    if kind == "tyres":
        return replace(v, crr80=v.crr80 * factor)
    if kind == "drag":
        return replace(v, cd=v.cd * factor)
    if kind == "engine":
        return replace(v, eta_i=v.eta_i * factor)
    if kind == "axle":
        return replace(v, final_drive=v.final_drive * factor)
    raise ValueError(kind)


def build_sheet(v: Vehicle, rng: Generator, measured: bool = False) -> tuple[str, str | None]:
    """TOML text of vehicle.toml as the owner would write it, and full_load.csv or None."""
    mass = v.mass + clipped(rng, 0, 5 if measured else 10)  # weighbridge +-10..20 kg (needs B3)
    step = 5 if measured else 10
    mass = round(mass / step) * step
    out = ["[vehicle]", f'name = "{v.name}"', f'body = "{v.body}"']
    out.append(f'test_mass = {{ value = "{mass} kg", pm = "10 kg" }}' if measured else
               f'test_mass = {{ value = "{mass} kg", pm = "20 kg" }}' if rng.random() < 0.4 else f'test_mass = "{mass} kg"')
    area = v.area * (1 + clipped(rng, 0, 0.025))
    if rng.random() < 0.5:
        out.append(f'frontal_area = "{area:.2f} m^2"')
    else:
        out += [f'width = "{v.width:.2f} m"', f'height = "{v.height:.2f} m"']
    if rng.random() < 0.40:  # published for the body, now with other wheels, ride height, mirrors
        out.append(f"drag_coefficient = {v.cd * (1 + clipped(rng, 0, 0.05)):.2f}")
    if rng.random() < 0.25:
        out.append(f"rolling_resistance = {v.crr80 * (1 + clipped(rng, 0, 0.08)):.4f}")
    if rng.random() < 0.75:
        out.append(f'tyre = "{v.tyre}"')
    else:  # roll-out over some turns: 0.3 %
        out.append(f'rolling_circumference = "{2 * np.pi * v.radius * (1 + clipped(rng, 0, 0.003)):.3f} m"')
    out.append(f'tyre_pressure = "{v.pressure_kpa:.0f} kPa"')
    out.append(f"gear_ratios = [{', '.join(f'{g:.2f}' for g in v.gears)}]")
    out.append(f"final_drive = {v.final_drive:.2f}")
    if rng.random() < 0.2:
        out.append(f"driveline_efficiency = {v.mesh - 0.02 + clipped(rng, 0, 0.012):.2f}")
    out += ["[engine]", f'displacement = "{v.displacement * 1000:.1f} L"', f"cylinders = {v.cylinders}",
            f'fuel = "{v.fuel}"', f'induction = "{v.induction}"']
    if rng.random() < 0.85:
        out.append(f'injection = "{v.injection}"')
    out.append(f'idle_speed = "{round(v.n_idle + rng.normal(0, 20), -1):.0f} rpm"')
    out.append(f'governed_speed = "{round(v.n_max, -2):.0f} rpm"')
    csv = None
    if rng.random() < 0.7:
        out.append('full_load = "full_load.csv"')
        gain = 1 + clipped(rng, 0, 0.025)
        rpm = np.arange(1000, round(v.n_max, -2) + 1, 500)
        csv = "speed_rpm,torque_Nm\n" + "".join(
            f"{r:.0f},{t * gain * (1 + rng.normal(0, 0.008)):.0f}\n" for r, t in zip(rpm, v.full_torque(rpm)))
    if rng.random() < 0.4:
        out.append(f"overrun_fuel_cut = {'true' if v.fuel_cut else 'false'}")
    return "\n".join(out) + "\n", csv
