"""Class defaults of a vehicle's parameters, each with what it rests on.

Relative spreads are one standard deviation. "reference" is the project's own collection of published values; where a
centre is an estimate of the trade without a document it says "assumed".
"""

from __future__ import annotations

from typing import Final

import msgspec

from calmday.records.vehicle import Engine, FuelKind


class BodyClass(msgspec.Struct, frozen=True):
    """Typical drag coefficient, frontal area (m2), mass (kg), growth of drag with yaw and height (m) of a body
    class."""

    drag_coefficient: float
    drag_spread: float
    frontal_area_m2: float
    area_spread: float
    mass_kg: float
    mass_spread: float
    yaw_growth: float
    height_m: float


BODY_CLASSES: Final[dict[str, BodyClass]] = {
    "saloon": BodyClass(0.38, 0.14, 2.00, 0.10, 1250, 0.18, 3.0, 1.42),
    "estate": BodyClass(0.39, 0.13, 2.05, 0.10, 1300, 0.18, 3.1, 1.45),
    "hatchback": BodyClass(0.38, 0.13, 1.95, 0.10, 1050, 0.18, 3.0, 1.42),
    "coupe": BodyClass(0.37, 0.14, 1.85, 0.10, 1150, 0.18, 2.8, 1.32),
    "roadster": BodyClass(0.50, 0.18, 1.65, 0.12, 850, 0.22, 2.6, 1.20),
    "pickup": BodyClass(0.48, 0.13, 2.50, 0.12, 1550, 0.20, 3.7, 1.70),
    "van": BodyClass(0.43, 0.14, 3.10, 0.18, 1600, 0.22, 4.0, 2.05),
    "lorry": BodyClass(0.65, 0.16, 5.50, 0.22, 3200, 0.30, 4.8, 2.70),
    "other": BodyClass(0.45, 0.20, 2.30, 0.22, 1300, 0.30, 3.4, 1.60),
}
BODY_SOURCE: Final = "class default: Heisler-type drag table and published ranges, reference 4.4; masses assumed"
YAW_SPREAD: Final = 0.33
YAW_SOURCE: Final = "class default: cars up to +10 %, vans and pickups +10 to +20 % drag at 10 degrees, reference 4.3"

ROLLING_COEFFICIENT: Final = 0.0113
ROLLING_SPREAD: Final = 0.22
BIAS_ROLLING_COEFFICIENT: Final = 0.0155
ROLLING_SOURCE: Final = "class default: cars 0.010 to 0.015 on asphalt, bias-ply 0.013 to 0.020, reference 4.2"

GROWTH: Final = (0.18, 0.13)
RADIAL_GROWTH: Final = (0.12, 0.08)
"""Growth of rolling resistance up to 100 km/h, mean and spread: any tyre, and one known to be radial."""
GROWTH_SOURCE: Final = (
    "any tyre from none (a constant coefficient, reference 4.1) to 0.42 (published form at 2.5 bar); radial tyres rise "
    "by 0.1 to 0.2 up to 100 km/h (curves of the SAE J2452 form; from memory)"
)

DRIVELINE_EFFICIENCY: Final = 0.935
DRIVELINE_SPREAD: Final = 0.018
DRIVELINE_SOURCE: Final = (
    "class default: gearbox 92 to 97 %, hypoid axle 90 to 93 %, Joachim et al. 2012, reference 4.7"
)

ENGINE_INERTIA: Final = (0.12, 0.35)
"""Inertia of engine, flywheel, clutch and gearbox input, kg m2 per litre swept, and its logarithmic spread.

Assumed, among 0.12 to 0.24 kg m2 by gear of a car of 120 N m (university course, reference 7; seen), 0.20 kg m2 of a
flywheel set in the trade, and the 0.0025 N^2 m r^2 of text books (Gillespie, ch. 2; from memory): 0.31 at 1400 kg."""

WHEELS_SHARE: Final = (0.04, 0.25)
"""What the wheels add to the mass, as a share of it (the 1.04 of the same rule), and its logarithmic spread."""

DRIVELINE_DRAG_N: Final = 14.0
DRIVELINE_DRAG_SPREAD: Final = 0.50
DRIVELINE_DRAG_SOURCE: Final = (
    "torque-independent churning loss, 14 N at 1.9 L, in proportion to displacement: gearbox and axle are built for "
    "the torque of the engine; assumed"
)

DRIVELINE_THICKENING: Final = (0.003, 0.0045)
"""Growth of that drag for each kelvin of colder air, once driven warm, mean and spread: none where the oil makes its
own warmth, 0.011 where it stays 40 K above the air, thickens by a half over 20 K, and drag takes a part of that."""
DRIVELINE_THICKENING_SOURCE: Final = "between no effect and oil that stays 40 K above the air; assumed"

ACCESSORY_W: Final = 350.0
ACCESSORY_SPREAD: Final = 0.45
ACCESSORY_POWER: Final = 0.5
"""Power of displacement that accessories go with: lamps and ignition do not grow with the engine, fan and pumps do."""
ACCESSORY_SOURCE: Final = (
    "350 W at 1.9 L, going with the root of displacement: 150 to 300 W below 1.2 L, 300 to 400 W from 2.3 to 2.8 L in "
    "the trade; assumed"
)

DISPLACEMENT_M3: Final = 1.9e-3
DISPLACEMENT_SPREAD: Final = 0.30


def accessory_w(displacement_m3: float) -> float:
    """Usual power of alternator, fan and pumps, W, of an engine of so much displacement (m3)."""
    return float(ACCESSORY_W * (displacement_m3 / DISPLACEMENT_M3) ** ACCESSORY_POWER)


def driveline_drag_n(displacement_m3: float) -> float:
    """Usual churning force, N, of gearbox and axle behind an engine of so much displacement (m3)."""
    return DRIVELINE_DRAG_N * displacement_m3 / DISPLACEMENT_M3


class EngineClass(msgspec.Struct, frozen=True):
    """Willans line and friction of an engine class.

    `indicated_efficiency` slope of the line; `friction_mep_pa` at the reference speed; `pumping_mep_pa` of the throttle
    at no load; `best_mep_pa` brake mean pressure at full load; `cold_enrichment` extra fuel share just after a start at
    20 degC; `overrun_cut` whether the fuel is shut off when the wheels drive the engine.
    """

    indicated_efficiency: float
    efficiency_spread: float
    friction_mep_pa: float
    friction_spread: float
    pumping_mep_pa: float
    best_mep_pa: float
    cold_enrichment: float
    overrun_cut: bool

    @property
    def throttled(self) -> bool:
        """Whether a throttle holds its power down: spark ignition."""
        return self.pumping_mep_pa > 0


ENGINE_SOURCE: Final = "class default: Willans slopes and friction, Heywood ch. 13 and 15, reference 5.3 (estimate)"

_DIESEL_DIRECT = EngineClass(0.438, 0.045, 1.60e5, 0.17, 0.0, 7.0e5, 0.0, True)
_DIESEL_INDIRECT = EngineClass(0.393, 0.045, 1.95e5, 0.17, 0.0, 6.8e5, 0.0, True)
_PETROL_CARBURETTOR = EngineClass(0.343, 0.055, 1.60e5, 0.18, 0.60e5, 8.8e5, 0.07, False)
_PETROL_INJECTED = EngineClass(0.376, 0.055, 1.45e5, 0.18, 0.55e5, 9.8e5, 0.06, True)

SPARK_FUELS: Final = frozenset({"petrol", "e10", "ethanol", "lpg"})


def fuel_of(engine: Engine, run_fuel: FuelKind | None) -> tuple[FuelKind, bool]:
    """The fuel the engine runs on, and whether anybody said so."""
    kind = run_fuel or engine.fuel
    return (kind, True) if kind is not None else ("diesel", False)


def engine_class(engine: Engine, fuel: FuelKind) -> EngineClass:
    """The class an engine belongs to by fuel, injection and induction."""
    if fuel in SPARK_FUELS:
        base = _PETROL_INJECTED if engine.injection in {"port", "direct"} else _PETROL_CARBURETTOR
    elif engine.injection == "direct":
        base = _DIESEL_DIRECT
    elif engine.injection == "indirect":
        base = _DIESEL_INDIRECT
    else:
        base = msgspec.structs.replace(
            _DIESEL_INDIRECT, indicated_efficiency=0.412, efficiency_spread=0.065, friction_mep_pa=1.85e5
        )
    if engine.induction in {"turbocharged", "supercharged"}:
        base = msgspec.structs.replace(
            base,
            best_mep_pa=1.45 * base.best_mep_pa,
            indicated_efficiency=base.indicated_efficiency * (1.01 if engine.induction == "turbocharged" else 0.97),
        )
    return base


IDLE_RPS: Final = 820 / 60
GOVERNED_RPS: Final[dict[bool, float]] = {True: 5600 / 60, False: 4400 / 60}
"""Speed not to exceed by spark ignition (True) or diesel (False), where nobody declared one. Assumed."""

GEAR_RATIOS: Final = (3.65, 2.05, 1.36, 1.0, 0.82)
TOP_GEAR_RPS_PER_MPS: Final[dict[bool, float]] = {True: 1.95, False: 1.65}
"""Engine turns per metre of road in top gear where no gearing is declared (about 31 and 36 km/h per 1000 rpm).
Assumed."""
GEARING_SPREAD: Final = 0.15
CIRCUMFERENCE_M: Final = 1.95
CIRCUMFERENCE_SPREAD: Final = 0.07
"""Rolling circumference of a tyre nobody named: 1.75 m (175/70 R13) to 2.15 m (195/75 R16). Assumed."""
DECLARED_GEARING_SPREAD: Final = 0.01
"""Declared ratios on a declared tyre: wear, load, slip."""
