"""Invented vehicles whose figures are known exactly: one draw, everything as stated, so that closed forms can be held
against the program."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import numpy as np

from calmday.procedures.gears_forces import Conditions
from calmday.procedures.gears_vehicle import GearVehicle, prior_of
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, FullLoadCurve, Vehicle

RPM = 1 / 60


def curve(**points: float) -> FullLoadCurve:
    """A full-load curve from n1200=128 and so on (rpm, N m)."""
    return FullLoadCurve(tuple(int(n[1:]) * RPM for n in points), tuple(float(t) for t in points.values()))


def build_sheet(
    *,
    mass: float,
    drag_area: float,
    rolling: float,
    radius: float,
    efficiency: float,
    gears: tuple[float, ...],
    axle: float,
    full_load: FullLoadCurve | None,
    governed: float,
    litres: float = 2.0,
    **engine: Any,
) -> Vehicle:
    """A build sheet that states everything."""
    return Vehicle(
        name="Invented",
        body="van",
        test_mass_kg=Declared(mass),
        frontal_area_m2=Declared(2.0),
        drag_coefficient=Declared(drag_area / 2.0),
        rolling_resistance=Declared(rolling),
        rolling_circumference_m=Declared(2 * math.pi * radius),
        gear_ratios=gears,
        final_drive=axle,
        driveline_efficiency=Declared(efficiency),
        engine=Engine(
            displacement_m3=Declared(litres * 1e-3),
            governed_speed_rps=Declared(governed * RPM),
            idle_speed_rps=Declared(700 * RPM),
            full_load=full_load,
            **({"fuel": "diesel", "injection": "direct", "induction": "natural"} | engine),
        ),
    )


def exactly(vehicle: Vehicle, *, accessories: float = 0.0, smooth: float | None = None, **values: float) -> GearVehicle:
    """One draw with every figure as stated, no growth of rolling with speed, no churning, the chart's own air."""
    made = prior_of(vehicle, 2, 1, smooth_rps=None if smooth is None else smooth * RPM)
    centre = {p.key: np.array([p.centre]) for p in made.model.parameters.parameters}
    centre |= {"rolling_growth": np.array([0.0]), "driveline_drag": np.array([0.0])}
    centre |= {"accessory_power": np.array([accessories]), "full_load_scale": np.array([1.0])}
    centre |= {key: np.array([value]) for key, value in values.items()}
    one = np.ones(1)
    return msgspec.structs.replace(
        made,
        values=centre,
        smooth_rps=made.smooth_rps[:1] * 0 + (made.smooth_rps.mean() if smooth is None else smooth * RPM),
        thinning=0 * one,
        chart_air_kgpm3=1.2 * one,
        engine_inertia_kgm2=0 * one,
        wheels_kg=0 * one,
    )


def day(density: float, **fields: float) -> Conditions:
    """Air of a stated density at 20 degC."""
    return Conditions(air_density_kgpm3=density, **fields)


BREAD_VAN = build_sheet(
    mass=2050, drag_area=1.89, rolling=0.011, radius=0.335, efficiency=0.90, governed=3000, litres=2.3, cylinders=3,
    gears=(4.1, 2.3, 1.45, 1.0, 0.80), axle=3.55,
    full_load=curve(n1200=128, n1600=138, n1800=140, n2200=137, n2600=128, n3000=115),
)  # fmt: skip
"""Delivery van with a marine diesel: accessories 0.4 kW, air 1.22 kg/m3."""

FLATBED = build_sheet(
    mass=1550, drag_area=1.3, rolling=0.020, radius=0.31, efficiency=0.88, governed=3000, litres=1.1, cylinders=3,
    gears=(3.6, 2.1, 1.35, 1.0), axle=5.3, injection="indirect",
    full_load=curve(n1600=62, n2000=66, n2400=66, n2800=62, n3000=59, n3180=0),
)  # fmt: skip
"""Farm flatbed, loaded, on gravel: accessories 0.3 kW, air 1.15 kg/m3."""

_CAMPER = {
    "mass": 1780, "drag_area": 1.30, "rolling": 0.011, "radius": 0.325, "efficiency": 0.90, "governed": 4000,
    "gears": (3.9, 2.1, 1.37, 0.97), "axle": 4.86, "injection": "indirect",
}  # fmt: skip
CAMPER = build_sheet(
    full_load=curve(n1500=108, n2000=117, n2200=118, n2600=116, n3000=112, n3500=107, n4000=100),
    **_CAMPER,  # type: ignore[arg-type]
)
CAMPER_TURBO = build_sheet(
    full_load=curve(n1500=112, n2000=135, n2400=142, n2800=140, n3200=136, n3600=131, n4000=124),
    **{**_CAMPER, "induction": "turbocharged"},  # type: ignore[arg-type]
)
"""Camper before and after a turbocharger: accessories 0.5 kW; the pass is in air of 1.05 kg/m3."""

PLAINS_TRUCK = build_sheet(
    mass=1680, drag_area=1.15, rolling=0.011, radius=0.33, efficiency=0.90, governed=2600, litres=2.8, cylinders=4,
    gears=(4.2, 2.4, 1.5, 1.0, 0.76), axle=3.23,
    full_load=curve(n1200=165, n1400=172, n1600=174, n1800=172, n2000=168, n2200=162, n2400=154, n2600=143),
)  # fmt: skip
"""Light truck with a forklift diesel: accessories 0.4 kW, air 1.20 kg/m3."""

CANAL_LORRY = build_sheet(
    mass=2600, drag_area=2.9, rolling=0.014, radius=0.39, efficiency=0.86, governed=1800, litres=2.7, cylinders=3,
    gears=(6.0, 3.2, 1.7, 1.0), axle=4.1,
    full_load=curve(n800=128, n1000=142, n1200=146, n1400=146, n1600=142, n1800=134),
)  # fmt: skip
"""Vintage lorry: accessories 0.3 kW, air 1.22 kg/m3."""
