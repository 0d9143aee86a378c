"""A stretch of a grid of imagined changes, worked out side by side: combinations x draws as rows of one array.

The same forces, gear choice and fuel as for a single what-if (`what_if`), to the last digit: only the axes of the
vehicle become more rows. Memory is bounded by `ROWS_AT_ONCE`; time is linear in combinations and in draws.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.model.basis import PRESSURE_EXPONENT
from calmday.physics.drag import wind_around_n
from calmday.procedures.gears import RPM, SURE
from calmday.procedures.gears_forces import fuel_power_w, resistance_n, thrust_n
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.procedures.what_if import LITRES_PER_100KM, into_the_wind, meets
from calmday.procedures.what_if_draws import CHANGE_DOUBT, PRESSURE_EXPONENT_SD, USUAL_CHANGE_DOUBT, Drawn
from calmday.records.what_if import Circumstances, Grid

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ROWS_AT_ONCE: Final = 40_000
COLUMNS: Final = ("fuel_L_per_100km", "low", "high", "gear", "engine_speed_rpm", "holds")
"""What is kept of each combination: fuel in the wind asked for with its 95 % interval, the gear held (0: none), engine
speed in it, share of vehicles that hold the speed straight into the wind."""


def grid_rows(grid: Grid, drawn: Drawn, seed: int, start: int, stop: int) -> FloatArray:
    """The combinations from `start` up to `stop`, (stop - start, len(COLUMNS)). `drawn` and `seed` as for `what_if`."""
    shape = [len(axis.numbers) for axis in grid.axes]
    places = np.array(np.unravel_index(np.arange(start, stop), shape)).T if shape else np.zeros((stop - start, 0), int)
    scores = standard_normal(drawn.count, len(drawn.vehicle.model.parameters) + 1, seed + 2)
    found = np.empty((stop - start, len(COLUMNS)))
    for first, last in _alike(grid, places, max(ROWS_AT_ONCE // drawn.count, 1)):
        here = _circumstances(grid, places[first])
        factors = {
            axis.parameter: np.array(axis.numbers)[places[first:last, i]]
            for i, axis in enumerate(grid.axes)
            if axis.parameter
        }
        found[first:last] = _side_by_side(_repeated(drawn, factors, last - first, scores), here, last - first)
    return found


def _alike(grid: Grid, places: IntArray, most: int) -> Iterator[tuple[int, int]]:
    """Stretches of combinations in the same circumstances, at most so many at once."""
    states = [i for i, axis in enumerate(grid.axes) if axis.state]
    differs = np.any(np.diff(places[:, states], axis=0) != 0, axis=1)
    edges = [0, *(int(edge) + 1 for edge in np.flatnonzero(differs)), len(places)]
    for first, last in pairwise(edges):
        for begin in range(first, last, most):
            yield begin, min(begin + most, last)


def _circumstances(grid: Grid, place: IntArray) -> Circumstances:
    set_ = {axis.state: axis.numbers[place[i]] for i, axis in enumerate(grid.axes) if axis.state}
    return msgspec.structs.replace(grid.circumstances, **set_)


def _repeated(drawn: Drawn, factors: dict[str, FloatArray], count: int, scores: FloatArray) -> Drawn:
    """The draws once for each combination, changed by its factors: rows are combination by combination."""
    vehicle = drawn.vehicle
    values = {key: np.tile(value, count) for key, value in vehicle.values.items()}
    for key, factor in factors.items():
        size = np.repeat(np.log(factor), drawn.count)
        if key == "tyre_pressure":
            exponent = PRESSURE_EXPONENT + PRESSURE_EXPONENT_SD * np.tile(scores[:, -1], count)
            values["rolling_resistance"] = values["rolling_resistance"] * np.exp(-size * exponent)
            continue
        own = np.tile(scores[:, vehicle.model.parameters.column(key)], count)
        doubt = CHANGE_DOUBT.get(key, USUAL_CHANGE_DOUBT)
        values[key] = values[key] * np.exp(size + doubt * np.abs(size) * own)
    arrays = ("smooth_rps", "thinning", "chart_air_kgpm3", "engine_inertia_kgm2", "wheels_kg")
    repeated = msgspec.structs.replace(
        vehicle, values=values, **{name: np.tile(getattr(vehicle, name), count) for name in arrays}
    )
    return Drawn(
        vehicle=repeated,
        energy_jpm3=np.tile(drawn.energy_jpm3, count),
        density_kgpm3=np.tile(drawn.density_kgpm3, count),
    )


def _side_by_side(drawn: Drawn, here: Circumstances, count: int) -> FloatArray:
    """Rows of `COLUMNS` for `count` combinations in the same circumstances."""
    vehicle = drawn.vehicle
    speed = here.speed_mps or math.nan
    at = np.full((vehicle.draws, 1), speed)
    gear, holds = _gears(vehicle, here, at, count)
    turns = np.array(vehicle.model.gearing.turns_per_metre)[np.maximum(gear, 0)]
    engine = at * (np.repeat(turns, vehicle.draws // count) * vehicle.values["gearing_scale"])[:, None]
    on, p = meets(here), vehicle.values
    extra = wind_around_n(
        on.air_density_kgpm3, p["drag_area"][:, None], p["yaw_growth"][:, None], at, here.wind_around_mps
    )
    fuel = fuel_power_w(vehicle, on, at, engine, extra)[:, 0] / drawn.energy_jpm3 / speed * LITRES_PER_100KM
    fuel = fuel.reshape(count, -1)
    low, high = np.quantile(fuel, (0.025, 0.975), axis=1)
    none = gear < 0
    columns = [fuel.mean(axis=1), low, high, gear + 1.0, RPM * engine.reshape(count, -1).mean(axis=1), holds]
    for column in (0, 1, 2, 4):
        columns[column] = np.where(none, np.nan, columns[column])
    return np.stack(columns, axis=1)


def _gears(vehicle: GearVehicle, here: Circumstances, at: FloatArray, count: int) -> tuple[IntArray, FloatArray]:
    """The gear held in each combination (-1: none) and the share of vehicles that hold the speed in it, as
    `what_if.tallest_gear` chooses."""
    worst = into_the_wind(here)
    resistance = resistance_n(vehicle, worst, at)
    chosen, shares = np.full(count, -1), np.zeros(count)
    likely, likeliest = np.full(count, -1), np.zeros(count)
    smooth = vehicle.smooth_rps.reshape(count, -1).mean(axis=1)
    for gear in reversed(vehicle.gears):
        engine = at * vehicle.turns_per_metre(gear)[:, None]
        able = (engine >= vehicle.lowest_rps * (1 - 1e-9)) & (engine <= vehicle.governed_rps * (1 + 1e-9))
        holds = able & (thrust_n(vehicle, worst, at, engine) >= resistance)
        share = holds.reshape(count, -1).mean(axis=1)
        runs_well = engine.reshape(count, -1).mean(axis=1) >= 0.97 * smooth
        take = (chosen < 0) & (share >= SURE) & runs_well
        chosen, shares = np.where(take, gear, chosen), np.where(take, share, shares)
        more = share > likeliest
        likely, likeliest = np.where(more, gear, likely), np.where(more, share, likeliest)
    fall_back = (chosen < 0) & (likeliest >= 0.5)
    shares = np.where(chosen < 0, likeliest, shares)
    return np.where(fall_back, likely, chosen), shares
