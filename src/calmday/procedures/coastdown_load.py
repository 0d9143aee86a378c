"""Road load of fitted coastdowns on the calm standard day, and how it would narrow with more passes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.metrology.figure import exact, from_draws
from calmday.model.basis import CHURNING_SPEED_MPS, REFERENCE_DENSITY, ROLLING_SPEED_MPS
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.model.posterior import slope_of
from calmday.physics.rolling import speed_factor
from calmday.procedures.coastdown import FittedCoastdown
from calmday.procedures.coastdown_result import ForceAt, MorePasses, RoadLoad

FloatArray = NDArray[np.float64]

MIDDLE_KMH: Final = 80.0
DEFAULT_WANTED: Final = 0.05
"""Half width of the road load to reach where nobody says: the better end of what pairs of coastdowns give, trade."""
MOST_PASSES: Final = 40
_KMH = 3.6


def parts_at(p: Mapping[str, FloatArray], speed_mps: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Air, tyres and driveline in neutral per draw (m,), newton, on the calm standard day with warm tyres."""
    rolling = p["rolling_resistance"] / speed_factor(ROLLING_SPEED_MPS, p["rolling_growth"])
    tyres = p["test_mass"] * STANDARD_GRAVITY_MPS2 * rolling * speed_factor(speed_mps, p["rolling_growth"])
    driveline = p["driveline_drag"] * p["neutral_share"] * (1 + speed_mps / CHURNING_SPEED_MPS)
    return 0.5 * REFERENCE_DENSITY * p["drag_area"] * speed_mps**2, tyres, driveline


def road_load(p: Mapping[str, FloatArray]) -> RoadLoad:
    """f0, f1, f2 of each draw, exactly: air and tyres are polynomials in speed, and so is the driveline."""
    _, tyres, driveline = parts_at(p, 0.0)
    f1 = driveline / (CHURNING_SPEED_MPS * _KMH)
    f2 = (0.5 * REFERENCE_DENSITY * p["drag_area"]) / _KMH**2 + tyres * p["rolling_growth"] / 100.0**2
    return RoadLoad(
        f0=from_draws(tyres + driveline, "N"), f1=from_draws(f1, "N/(km/h)"), f2=from_draws(f2, "N/(km/h)2")
    )


def forces(p: Mapping[str, FloatArray], highest_kmh: float) -> tuple[ForceAt, ...]:
    """Road load every 20 km/h up to a little beyond the fastest pass."""
    found = []
    for kmh in np.arange(20.0, max(highest_kmh + 10.0, 61.0), 20.0):
        air, tyres, driveline = parts_at(p, kmh / _KMH)
        force = air + tyres + driveline
        found.append(
            ForceAt(
                speed=exact(float(kmh), "km/h"), force=from_draws(force, "N"), air=from_draws(air, "N"),
                rolling=from_draws(tyres, "N"), driveline=from_draws(driveline, "N"),
                power=from_draws(force * kmh / _KMH / 1000, "kW"),
            )
        )  # fmt: skip
    return tuple(found)


def middle_kmh(fitted: FittedCoastdown) -> float:
    """80 km/h, or the fastest that was rolled through where that is less."""
    return min(MIDDLE_KMH, 10.0 * math.floor(highest_kmh(fitted) / 10.0))


def highest_kmh(fitted: FittedCoastdown) -> float:
    """Fastest speed of any pass."""
    return max(float(one.speed_mps[0]) for one in fitted.fit.passes) * _KMH


def more_passes(fitted: FittedCoastdown) -> MorePasses:
    """Half width of the road load against the number of passes, in the linear picture at the peak.

    Gusts and noise average out, the road and the slow wind in part: the data's share of the precision is taken as
    proportional to the number of passes; mass, rotating parts, driveline and tyres stay as the prior has them.
    """
    fit, top = fitted.fit, fitted.top
    kmh = middle_kmh(fitted)
    sampled = fit.parameters

    def log_force(scores: FloatArray) -> FloatArray:
        return np.log(sum(parts_at(sampled.values(scores), kmh / _KMH)))[:, None]

    _, slopes = slope_of(log_force, top.mode)
    slope = slopes[0]
    size = len(sampled)
    data = top.slope.T @ top.slope
    same_road = np.array([key.startswith("grade_") for key in sampled.keys])

    def half(count: float) -> float:
        grown = np.where(same_road, 1.0, math.sqrt(count / len(fit.passes)))
        precision = np.eye(size) + grown[:, None] * data * grown
        return 100 * HALF_WIDTH_PER_SD * math.sqrt(float(slope @ np.linalg.solve(precision, slope)))

    wanted = 100 * (fit.day.wanted or DEFAULT_WANTED)
    counts = range(2, MOST_PASSES + 1, 2)
    reaching = next((count for count in counts if half(count) <= wanted), None)
    return MorePasses(
        speed=exact(kmh, "km/h"), now_percent=half(len(fit.passes)), wanted_percent=wanted, passes=reaching,
        floor_percent=half(1e6), table=tuple((count, half(count)) for count in (2, 4, 6, 8, 10, 16, 24)),
    )  # fmt: skip
