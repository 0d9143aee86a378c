"""Plans that several test files share. Invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from calmday.files.vehicle_file import read_vehicle
from calmday.records.declared import Declared
from calmday.records.plan import Can, Forecast, Plan
from calmday.records.run import FuelSystem, Scale

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "plan-a-test" / "plan.toml"


def fen_hauler_plan(**changes: Any) -> Plan:
    """A plan of the example's vehicle on a loop of 14.2 km at 80 km/h, three laps at most."""
    plan = Plan(
        label="Fen loop",
        vehicle=read_vehicle(ROOT / "examples" / "fen-hauler" / "vehicle.toml"),
        lap_length_m=Declared(14_200.0),
        most_laps=3,
        speed_mps=80 / 3.6,
        terrain="farmland",
        engine_start="warm",
        fuel_system=FuelSystem(arrangement="test can", repeatability_kg=0.012),
        scale=Scale(resolution_kg=0.005, repeatability_kg=0.004, capacity_kg=10.0),
        can=Can(tare_kg=1.02),
        forecast=(Forecast(wind_speed_mps=4.0, wind_from_deg=240.0, temperature_k=284.0),),
        file="plan.toml",
    )
    return msgspec.structs.replace(plan, **changes)
