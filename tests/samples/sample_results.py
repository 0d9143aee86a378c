"""A plausible result of one weighed run, built by hand, for tests of what a person sees."""

from __future__ import annotations

import math
from typing import Any

import msgspec

from calmday.metrology.figure import Figure, exact, from_normal
from calmday.procedures.weighed_run_result import (
    BudgetLine,
    Consumption,
    CruisePoint,
    EnergyShare,
    Flag,
    Lap,
    Leg,
    ParameterEstimate,
    Penalties,
    Provenance,
    Quality,
    RunResult,
)

NOWHERE = Figure(math.nan, math.nan, math.nan, math.nan, "L/100km")


def consumption(litres: float, spread: float, cost: bool = True) -> Consumption:
    """Every unit from litres per hundred kilometres, with the relative spread carried over."""

    def other(value: float, unit: str) -> Figure:
        return from_normal(value, value * spread / litres, unit)

    return Consumption(
        L_per_100km=from_normal(litres, spread, "L/100km"),
        mpg_us=other(235.2146 / litres, "mpg_us"),
        mpg_imp=other(282.4809 / litres, "mpg_imp"),
        km_per_L=other(100 / litres, "km/L"),
        g_per_km=other(8.36 * litres, "g/km"),
        MJ_per_km=other(0.357 * litres, "MJ/km"),
        co2_g_per_km=other(26.4 * litres, "g/km"),
        cost_per_km=other(0.0162 * litres, "EUR/km") if cost else None,
    )


def flag(severity: str = "caution", saw: str = "The wind blew 9 m/s") -> Flag:
    why, remedy = "A correction this large carries its own doubt", "Wait for a calmer hour"
    return Flag(code="sample", severity=severity, message=f"{saw}. {why}. {remedy}.", saw=saw, why=why, remedy=remedy)


def estimate(value: float, spread: float, unit: str, before: Figure, origin: str) -> ParameterEstimate:
    found = from_normal(value, spread, unit)
    return ParameterEstimate(
        value=value,
        standard_uncertainty=spread,
        low=found.low,
        high=found.high,
        unit=unit,
        before=before,
        origin=origin,
        source="class of body: van",
    )


def lap(number: int) -> Lap:
    return Lap(
        number=number,
        start_s=0.0,
        end_s=700.0,
        distance=from_normal(9.65, 0.004, "km"),
        moving_time=exact(688.0, "s"),
        speed=from_normal(50.5, 0.05, "km/h"),
        fuel_share=from_normal(0.25, 0.004, "1"),
        L_per_100km=from_normal(7.1, 0.12, "L/100km"),
    )


def leg(number: int, heading_deg: float, along: float) -> Leg:
    return Leg(
        number=number,
        start_s=0.0,
        end_s=120.0,
        heading_deg=heading_deg,
        wind_along=from_normal(along, 0.6, "m/s"),
        wind_across=from_normal(1.2, 0.5, "m/s"),
        distance=from_normal(2.4, 0.003, "km"),
        speed=from_normal(52.1, 0.1, "km/h"),
        fuel_share=from_normal(0.06, 0.002, "1"),
        L_per_100km=from_normal(7.9, 0.3, "L/100km"),
    )


def cruise(speed: float, litres: float, sustainable: float = 1.0) -> CruisePoint:
    return CruisePoint(
        speed=exact(speed, "km/h"),
        L_per_100km=from_normal(litres, 0.02 * litres, "L/100km"),
        mpg_us=from_normal(235.2 / litres, 0.5, "mpg_us"),
        mpg_imp=from_normal(282.5 / litres, 0.6, "mpg_imp"),
        sustainable=sustainable,
    )


def full_result(**changes: Any) -> RunResult:
    """A result with every part filled in; keyword arguments replace fields."""
    shares = (("air drag", 0.16), ("rolling", 0.09), ("engine friction", 0.22), ("exhaust and cooling", 0.53))
    doubts = (
        ("fuel system", 0.62),
        ("wind", 0.21),
        ("scale, after", 0.12),
        ("density", 0.048),
        ("distance", 0.001),
    )
    result = RunResult(
        label="Loop, four laps, north wind",
        vehicle="Fen Hauler",
        sentence="",
        distance=from_normal(38.61, 0.012, "km"),
        moving_time=exact(2752.0, "s"),
        fuel_mass=from_normal(2.297, 0.012, "kg"),
        fuel_volume=from_normal(2.748, 0.021, "L"),
        fuel_volume_60F=from_normal(2.749, 0.021, "L"),
        fuel_density_15C=from_normal(836.0, 1.5, "kg/m3"),
        as_driven=consumption(7.118, 0.045),
        calm_day=consumption(6.61, 0.11),
        level_cruise=(cruise(50, 5.2), cruise(70, 6.4), cruise(110, 11.8, sustainable=0.2)),
        penalties=Penalties(
            wind=from_normal(5.2, 1.1, "%"),
            air_density=from_normal(-0.1, 0.1, "%"),
            cold_engine=from_normal(2.3, 0.6, "%"),
            cold_tyres=from_normal(0.3, 0.2, "%"),
        ),
        energy=tuple(
            EnergyShare(to=to, energy=from_normal(97 * part, 2, "MJ"), share=from_normal(part, 0.02, "1"))
            for to, part in shares
        ),
        budget=tuple(
            BudgetLine(source=source, contribution=from_normal(0.1, 0.01, "L/100km"), share=share)
            for source, share in doubts
        ),
        laps=tuple(lap(number) for number in range(1, 5)),
        legs=(leg(1, 352.0, 6.1), leg(2, 91.0, 0.4), leg(3, 178.0, -6.0)),
        estimates={
            "drag_area": estimate(1.31, 0.06, "m^2", from_normal(1.28, 0.1, "m^2"), "declared"),
            "rolling_resistance": estimate(0.0122, 0.0007, "1", from_normal(0.0125, 0.001, "1"), "assumed"),
        },
        quality=Quality(draws=2000, effective_draws=1431.6, sound=True, surprise=0.4),
        flags=(flag("note", "No price was given"), flag("caution")),
        provenance=Provenance(
            program="calmday",
            version="0.1.0",
            seed=1,
            inputs_sha256="ab" * 32,
            files=("run.toml", "vehicle.toml", "out.gpx"),
        ),
    )
    return msgspec.structs.replace(result, **changes)
