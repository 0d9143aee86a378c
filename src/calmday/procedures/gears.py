"""Gears: thrust against road load, what each gear holds, which to hold, when to change; read off draws."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import COVERAGE, Figure, exact, from_draws
from calmday.metrology.fuels import fuel_properties
from calmday.physics.power_correction import Standard
from calmday.procedures.acceleration import QUARTER_MILE_M, sprint
from calmday.procedures.gears_forces import (
    Conditions,
    Sweep,
    engine_grid,
    fuel_power_w,
    full_load_factor,
    load_at,
    resistance_n,
    sweep,
)
from calmday.procedures.gears_holding import LIMITS, Held, held_speed, in_hand, limit_of, steepest_grade
from calmday.procedures.gears_result import (
    Asked,
    Gear,
    Hold,
    Limit,
    LimitShares,
    Prediction,
    RoadLoadCurve,
    ThrustCurve,
)
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.procedures.shift_points import labouring_speed_mps

FloatArray = NDArray[np.float64]

KMH: Final = 3.6
RPM: Final = 60.0
SURE: Final = 0.95
"""A gear surely holds a speed where this share of the draws does."""

SPRINT_DRAWS: Final = 150
CURVE_POINTS: Final = 60
USUAL_SPEED_KMH: Final = 80.0
_TAILS: Final = ((1 - COVERAGE) / 2, (1 + COVERAGE) / 2)


class Swept(msgspec.Struct, frozen=True, kw_only=True):
    """Every gear swept once in the conditions asked for, with what it holds."""

    vehicle: GearVehicle
    on: Conditions
    sweeps: tuple[Sweep, ...]
    held: tuple[Held, ...]


def swept(vehicle: GearVehicle, on: Conditions) -> Swept:
    """Sweep all gears over engine speed."""
    grid = engine_grid(vehicle)
    sweeps = tuple(sweep(vehicle, on, gear, grid) for gear in vehicle.gears)
    return Swept(vehicle=vehicle, on=on, sweeps=sweeps, held=tuple(held_speed(vehicle, on, one) for one in sweeps))


def usual_speed_kmh(made: Swept) -> float:
    """The speed to judge by where nobody chose one: 80 km/h, or the next ten below what the best gear holds."""
    best = np.max([np.nan_to_num(held.speed_mps) for held in made.held], axis=0)
    able = float(np.quantile(best, 0.2)) * KMH
    return float(min(USUAL_SPEED_KMH, max(10.0, 10 * math.floor(able / 10))))


def gears(made: Swept, speed_kmh: float) -> tuple[Gear, ...]:
    """All gears, first gear first."""
    return tuple(_gear(made, gear, speed_kmh / KMH) for gear in made.vehicle.gears)


def _gear(made: Swept, gear: int, speed_mps: float) -> Gear:
    vehicle, on, held = made.vehicle, made.on, made.held[gear]
    turns = vehicle.turns_per_metre(gear)
    holds = np.isfinite(held.speed_mps)
    limits = limit_of(made.held, gear)
    counted = [float(np.mean(limits == index)) for index in range(len(LIMITS))]
    shares = LimitShares(**dict(zip(LIMITS, counted, strict=True)))
    grade, at = steepest_grade(vehicle, on, made.sweeps[gear])
    chosen = _chosen(vehicle, on, gear, speed_mps)
    enough = bool(holds.mean() >= 0.5)
    return Gear(
        gear=gear + 1,
        overall_ratio=vehicle.model.gearing.overall_ratios[gear],
        speed_per_1000rpm=from_draws(KMH * 1000 / RPM / turns, "km/h"),
        speed_at_governed=from_draws(KMH * vehicle.governed_rps / turns, "km/h"),
        labouring_below=from_draws(KMH * labouring_speed_mps(vehicle, gear), "km/h"),
        sustained_speed=from_draws(KMH * held.speed_mps[holds], "km/h") if enough else None,
        holds=float(holds.mean()),
        limit=_limit(LIMITS[int(np.argmax(counted))]),
        limit_shares=shares,
        engine_speed_there=from_draws(RPM * held.engine_rps[holds], "rpm") if enough else None,
        steepest_grade=from_draws(100 * grade, "%"),
        steepest_grade_at=from_draws(KMH * at, "km/h"),
        **chosen,
    )


def _limit(word: str) -> Limit:
    match word:
        case "governor" | "gearing":
            return word
        case _:
            return "power"


def _chosen(vehicle: GearVehicle, on: Conditions, gear: int, speed_mps: float) -> dict[str, Any]:
    """What a gear has in hand at the chosen speed, as fields of `Gear`."""
    found = in_hand(vehicle, on, gear, speed_mps)
    possible = float(found.possible.mean())
    if possible < 0.5:
        fast = float(np.median(found.engine_rps)) > vehicle.governed_rps
        word = "above governed speed" if fast else "below where the full-load curve begins"
        nothing = dict.fromkeys(
            ("engine_speed", "reserve", "reserve_grade", "strongest_headwind", "load", "fuel"), None
        )
        return {**nothing, "holds_chosen": 0.0, "out_of_range": word}
    speed = np.full((vehicle.draws, 1), speed_mps)
    engine = found.engine_rps[:, None]
    heating = fuel_properties(vehicle.model.fuel)
    volume = fuel_power_w(vehicle, on, speed, engine)[:, 0] / heating.net_heating_value_jpkg / heating.density_15_kgpm3
    return {
        "engine_speed": from_draws(RPM * found.engine_rps, "rpm"),
        "reserve": from_draws(found.reserve_n, "N"),
        "reserve_grade": from_draws(100 * found.grade, "%"),
        "strongest_headwind": from_draws(found.head_wind_mps, "m/s"),
        "load": from_draws(load_at(vehicle, on, speed, engine)[:, 0], "1"),
        "fuel": from_draws(volume / speed_mps * 1e8, "L/100km"),
        "holds_chosen": float(np.mean(found.possible & (found.reserve_n >= 0))),
        "out_of_range": "",
    }


def hold(made: Swept, found: Sequence[Gear]) -> Hold:
    """Which gear to hold at the chosen speed, and which goes fastest."""
    sure = [gear for gear in found if gear.holds_chosen >= SURE]
    speeds = np.array([np.nan_to_num(held.speed_mps) for held in made.held])
    # gears that hold the same within a hair: the taller one, which turns the engine slower
    means = speeds.mean(axis=1)
    fastest = int(np.max(np.flatnonzero(means >= means.max() * (1 - 1e-9))))
    top = from_draws(KMH * speeds.max(axis=0), "km/h") if np.mean(speeds.max(axis=0) > 0) >= 0.5 else None
    if sure:
        best = sure[-1]
        assert best.load is not None
        why = f"the tallest gear that surely pulls there, at {100 * best.load.value:.0f} % of full load"
        return Hold(gear=best.gear, top_speed_gear=fastest + 1, top_speed=top, why=why)
    likely = max(found, key=lambda gear: (gear.holds_chosen, gear.gear))
    if likely.holds_chosen >= 0.5:
        why = f"it may pull: {100 * likely.holds_chosen:.0f} in 100 simulated vehicles hold that speed"
        return Hold(gear=likely.gear, top_speed_gear=fastest + 1, top_speed=top, why=why)
    return Hold(gear=None, top_speed_gear=fastest + 1, top_speed=top, why="no gear holds that speed")


def asked(vehicle: GearVehicle, on: Conditions, speed_kmh: float, assumed: bool, standard: Standard | None) -> Asked:
    """The conditions of the answer, as figures."""
    return Asked(
        headwind=exact(on.head_wind_mps, "m/s"),
        grade=exact(100 * on.grade, "%"),
        payload=exact(on.payload_kg, "kg"),
        air_density=exact(on.air_density_kgpm3, "kg/m3"),
        temperature=exact(on.temperature_k - 273.15, "degC"),
        speed=exact(speed_kmh, "km/h"),
        assumed_speed=assumed,
        full_load_factor=from_draws(full_load_factor(vehicle, on)[:, 0], "1"),
        chart_standard=standard or "",
    )


def thrust_curves(made: Swept) -> tuple[ThrustCurve, ...]:
    """Full-load thrust of every gear over road speed."""
    return tuple(
        ThrustCurve(gear=one.gear + 1, speed=_listed(KMH * one.speed_mps.mean(axis=0)), **_band(one.thrust_n))
        for one in made.sweeps
    )


def road_load_curve(made: Swept) -> RoadLoadCurve:
    """Resistance from a crawl to the fastest any gear turns."""
    top = max(float(one.speed_mps.max()) for one in made.sweeps)
    speeds = np.linspace(1 / KMH, top, CURVE_POINTS)
    grid = np.broadcast_to(speeds, (made.vehicle.draws, speeds.size))
    return RoadLoadCurve(speed=_listed(KMH * speeds), **_band(resistance_n(made.vehicle, made.on, grid)))


def _band(values: FloatArray) -> dict[str, Any]:
    low, high = np.quantile(values, _TAILS, axis=0)
    return {"mean": _listed(values.mean(axis=0)), "low": _listed(low), "high": _listed(high)}


def _listed(values: FloatArray) -> tuple[float, ...]:
    return tuple(round(float(value), 3) for value in values)


def thinned(vehicle: GearVehicle, count: int) -> GearVehicle:
    """The vehicle with `count` of its draws, spread evenly over all."""
    rows = np.linspace(0, vehicle.draws - 1, min(count, vehicle.draws)).astype(np.int64)
    arrays = ("smooth_rps", "thinning", "chart_air_kgpm3", "engine_inertia_kgm2", "wheels_kg", "curve_scores")
    return msgspec.structs.replace(
        vehicle,
        values={key: value[rows] for key, value in vehicle.values.items()},
        **{name: getattr(vehicle, name)[rows] for name in arrays},
    )


def prediction(vehicle: GearVehicle, on: Conditions, seed: int) -> Prediction:
    """From rest to 100 km/h and 60 mph, and over a quarter mile."""
    few = thinned(vehicle, SPRINT_DRAWS)
    run = sprint(few, on, seed)
    time, speed = run.over(QUARTER_MILE_M)
    return Prediction(
        to_100_kmh=_usual(run.time_to(100 / KMH), "s"),
        to_60_mph=_usual(run.time_to(60 * 0.44704), "s"),
        quarter_mile=_usual(time, "s"),
        quarter_mile_speed=_usual(KMH * np.where(np.isfinite(time), speed, np.inf), "km/h"),
    )


def _usual(draws: FloatArray, unit: str) -> Figure | None:
    """The figure over the draws that get there; None where fewer than half do."""
    there = np.isfinite(draws)
    return from_draws(draws[there], unit) if there.mean() >= 0.5 else None
