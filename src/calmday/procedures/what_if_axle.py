"""The axle ratio that uses least for a duty, and how flat the bottom is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import from_draws
from calmday.procedures.gears_holding import in_hand
from calmday.procedures.what_if import LITRES_PER_100KM, fuel_m3pm, into_the_wind, tallest_gear
from calmday.procedures.what_if_draws import Drawn, thinned_drawn
from calmday.procedures.what_if_result import Axle, AxlePoint
from calmday.records.what_if import Circumstances

FloatArray = NDArray[np.float64]

RATIOS: Final = np.exp(np.linspace(np.log(0.6), np.log(1.5), 47))
"""Axle ratios tried, over the one that is fitted."""

FLAT: Final = 0.01
DRAWS: Final = 200


def best_axle(now: Drawn, final_drive: float, duty: Sequence[tuple[float, Circumstances]]) -> Axle:
    """Fuel over a duty, pairs of distance share and circumstances, for a range of axle ratios.

    A ratio counts only where some gear surely holds every speed of the duty into its wind; the first of the duty is the
    main one. Among ratios the mean over the draws is compared, so that the flat region is where the fuel differs by
    less than one per cent of the best.
    """
    few = thinned_drawn(now, DRAWS)
    fuel = [_duty_fuel(few, float(factor), duty) for factor in RATIOS]
    points = tuple(
        AxlePoint(
            ratio=float(round(final_drive * factor, 3)),
            fuel=None if used is None else from_draws(LITRES_PER_100KM * used, "L/100km"),
            gear=None if gear is None else gear + 1,
            top_gear_holds=_top_holds(few, float(factor), duty[0][1]),
        )
        for factor, (used, gear) in zip(RATIOS, fuel, strict=True)
    )
    means = np.array([np.nan if used is None else used.mean() for used, _ in fuel])
    if np.isnan(means).all():
        means = np.where(np.arange(means.size) == np.argmin(np.abs(RATIOS - 1)), 1.0, np.nan)
    best = int(np.nanargmin(means))
    near = means <= (1 + FLAT) * means[best]
    first, last = best, best
    while first > 0 and near[first - 1]:
        first -= 1
    while last < means.size - 1 and near[last + 1]:
        last += 1
    here = fuel[int(np.argmin(np.abs(RATIOS - 1)))][0]
    there = fuel[best][0]
    saving = np.zeros(few.count) if here is None or there is None else 100 * (1 - there / here)
    return Axle(
        now=final_drive,
        best=points[best].ratio,
        flat_from=points[first].ratio,
        flat_to=points[last].ratio,
        saving_percent=from_draws(saving, "%"),
        points=points,
    )


def with_axle(drawn: Drawn, factor: float) -> Drawn:
    """The vehicle with its axle ratio multiplied."""
    import msgspec  # noqa: PLC0415

    values = drawn.vehicle.values | {"gearing_scale": drawn.vehicle.values["gearing_scale"] * factor}
    return msgspec.structs.replace(drawn, vehicle=msgspec.structs.replace(drawn.vehicle, values=values))


def _duty_fuel(
    few: Drawn, factor: float, duty: Sequence[tuple[float, Circumstances]]
) -> tuple[FloatArray | None, int | None]:
    """Fuel per metre over the duty, and the gear of its first part; None where a speed of it is not held."""
    drawn = with_axle(few, factor)
    total, first = np.zeros(few.count), None
    for place, (share, here) in enumerate(duty):
        gear = tallest_gear(drawn, into_the_wind(here), here.speed_mps or 0.0)
        if gear is None:
            return None, first
        first = gear if place == 0 else first
        total += share * fuel_m3pm(drawn, here, gear)
    return total, first


def _top_holds(few: Drawn, factor: float, here: Circumstances) -> float:
    drawn = with_axle(few, factor)
    top = drawn.vehicle.gears[-1]
    found = in_hand(drawn.vehicle, into_the_wind(here), top, here.speed_mps or 0.0)
    return float(np.mean(found.possible & (found.reserve_n >= 0)))
