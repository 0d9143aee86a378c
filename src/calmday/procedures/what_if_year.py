"""A year of driving in its winds, temperatures, speeds and cold starts, before and after a change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import REFERENCE_TEMPERATURE_K, STANDARD_GRAVITY_MPS2
from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import exact, from_draws
from calmday.metrology.money import Money
from calmday.model.cold_start import start_parameters
from calmday.model.defaults import engine_class
from calmday.physics.engine import friction_mean_pressure_pa, swept_rate_m3ps
from calmday.procedures.gears_forces import churning_n, fuel_power_w, mass_kg, rolling_coefficient
from calmday.procedures.what_if import (
    LITRES_PER_100KM,
    USUAL_SPEED_MPS,
    fuel_m3pm,
    into_the_wind,
    meets,
    tallest_gear,
)
from calmday.procedures.what_if_draws import Drawn
from calmday.procedures.what_if_result import YearTotal
from calmday.records.vehicle import Vehicle
from calmday.records.what_if import Circumstances, YearPart

FloatArray = NDArray[np.float64]

LITRES: Final = 1e3


def year_total(
    now: Drawn,
    vehicle: Vehicle,
    then: Drawn | None,
    other: Vehicle | None,
    parts: Sequence[YearPart],
    price: Money | None,
    seed: int,
) -> YearTotal | None:
    """The year's fuel; None where some part of it is driven at a speed that no gear holds.

    `vehicle` and `other` the build sheets of the two.
    """  # fmt: skip
    before, cold = _fuel_m3(now, vehicle, parts, seed)
    after = None if then is None or other is None else _fuel_m3(then, other, parts, seed)[0]
    if before is None or (then is not None and after is None):
        return None
    distance = sum(part.distance_m for part in parts)
    saved = None if after is None else before - after
    per = LITRES_PER_100KM / max(distance, 1.0)
    return YearTotal(
        distance=exact(distance / 1000, "km"),
        fuel_before=from_draws(LITRES * before, "L"),
        fuel_after=None if after is None else from_draws(LITRES * after, "L"),
        per_100_km_before=from_draws(per * before, "L/100km"),
        per_100_km_after=None if after is None else from_draws(per * after, "L/100km"),
        cold_starts=from_draws(LITRES * cold, "L"),
        saved=None if saved is None else from_draws(LITRES * saved, "L"),
        money_saved=None if saved is None or price is None else from_draws(saved * price.amount, price.currency),
        currency=price.currency if price is not None else "",
    )


def _fuel_m3(
    drawn: Drawn, vehicle: Vehicle, parts: Sequence[YearPart], seed: int
) -> tuple[FloatArray | None, FloatArray]:
    total, cold = np.zeros(drawn.count), np.zeros(drawn.count)
    for part in parts:
        here = part.circumstances
        gear = tallest_gear(drawn, into_the_wind(here), here.speed_mps or USUAL_SPEED_MPS)
        if gear is None:
            return None, cold
        steady = fuel_m3pm(drawn, here, gear)
        total += part.distance_m * steady
        if part.cold_starts:
            cold += part.cold_starts * cold_start_m3(drawn, vehicle, here, gear, steady, seed)
    return total + cold, cold


def cold_start_m3(
    drawn: Drawn, vehicle: Vehicle, here: Circumstances, gear: int, steady_m3pm: FloatArray, seed: int
) -> FloatArray:
    """What one cold start adds on a drive long enough to warm through, m3 per draw.

    Excesses of the model fade as exp(-t / tau), so each adds tau seconds of its first rate: friction and oil churning
    times A, the mixture's enrichment times the fuel rate, what the tyres' rolling times w takes at the wheels.
    """
    geared, p, on = drawn.vehicle, drawn.vehicle.values, meets(here)
    model = geared.model
    ambient = here.temperature_k if here.temperature_k is not None else REFERENCE_TEMPERATURE_K
    speed = here.speed_mps or USUAL_SPEED_MPS
    heat = float(np.mean(steady_m3pm * drawn.energy_jpm3)) * speed / model.displacement_m3
    parameters = start_parameters("cold", ambient, engine_class(vehicle.engine, model.fuel), heat)
    scores = standard_normal(drawn.count, len(parameters), seed + 3)
    cold = {each.key: each.values(scores[:, i]) for i, each in enumerate(parameters)}
    engine = speed * geared.turns_per_metre(gear)
    friction = friction_mean_pressure_pa(engine, p["friction_mep"], p["friction_slope"], model.friction_reference_rps)
    at = np.full((drawn.count, 1), speed)
    oil = churning_n(geared, on, at)[:, 0] * speed
    rubbing = swept_rate_m3ps(model.displacement_m3, engine, model.strokes) * friction + oil
    joule = cold["cold_friction"] * cold["cold_time"] * rubbing / p["indicated_efficiency"]
    stiff = mass_kg(geared, on)[:, None] * STANDARD_GRAVITY_MPS2 * rolling_coefficient(geared, on, at)
    level, stiffer = (
        fuel_power_w(geared, on, at, engine[:, None], extra)[:, 0]
        for extra in (0.0, cold["tyre_warmup"][:, None] * stiff)
    )
    joule = joule + cold["tyre_time"] * (stiffer - level)
    spark = engine_class(vehicle.engine, model.fuel).cold_enrichment > 0
    richer = cold["cold_enrichment"] * cold["cold_time"] * steady_m3pm * speed if spark else 0.0
    return np.asarray(joule / drawn.energy_jpm3 + richer)
