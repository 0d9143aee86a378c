"""An odometer against true distance: its factor, with the doubt of reading it, and what ends it."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure, from_draws
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.procedures.dials_result import OdometerResult, StretchResult
from calmday.records.dials import Dials, OdometerStretch
from calmday.records.vehicle import Vehicle
from calmday.reduction.track import reduce_track

FloatArray = NDArray[np.float64]

DIVISION_M: Final = 100.0
"""Smallest step of an odometer where nobody says."""

DISTANCE_SD: Final = 0.001
"""Relative doubt of a distance stated without saying how well: kilometre posts, a receiver's own sum. Assumed."""

BETWEEN_SD: Final = 0.0015
BETWEEN_WEIGHT: Final = 4.0
"""What stretches differ by for no reason found (warm tyres, slip, the line through bends), and how many degrees of
freedom that is worth. Assumed."""


def draw_factor(dials: Dials, draws: int, seed: int) -> tuple[FloatArray, tuple[StretchResult, ...]]:
    """Draws (m,) of true over indicated distance, and each stretch. Raises InputError where a track holds no drive."""
    division = dials.odometer_division_m or DIVISION_M
    found = [_true(stretch) for stretch in dials.odometer]
    indicated = np.array([s.end_m - s.start_m for s in dials.odometer])
    true, true_sd = np.array([t for t, _ in found]), np.array([sd for _, sd in found])
    factor = true / indicated
    # two readings, each to half a division either way: their difference is triangular
    own = factor * np.hypot(division / math.sqrt(6) / indicated, true_sd / true)
    generator = np.random.Generator(np.random.PCG64(seed))
    scores = standard_normal(draws, 1 + len(found), seed + 1)
    between = _between(factor, own, draws, generator)
    variance = own[None, :] ** 2 + between[:, None] ** 2
    weights = 1 / variance
    mean = (weights * factor).sum(axis=1) / weights.sum(axis=1)
    drawn = mean + scores[:, 0] / np.sqrt(weights.sum(axis=1))
    stretches = tuple(
        StretchResult(
            indicated=_figure(float(indicated[i]) / 1000, division / math.sqrt(6) / 1000, "km"),
            distance=_figure(float(true[i]) / 1000, float(true_sd[i]) / 1000, "km"),
            factor=_figure(float(factor[i]), float(own[i]), "1"),
        )
        for i in range(len(found))
    )
    return np.asarray(drawn), stretches


def _true(stretch: OdometerStretch) -> tuple[float, float]:
    if stretch.track is not None:
        reduced = reduce_track(stretch.track)
        return reduced.total_distance_m, reduced.total_distance_sd_m
    stated = stretch.distance_m
    assert stated is not None
    return stated.value, (stated.half_width / HALF_WIDTH_PER_SD if stated.half_width else DISTANCE_SD * stated.value)


def _between(factor: FloatArray, own: FloatArray, draws: int, generator: np.random.Generator) -> FloatArray:
    """Draws (m,) of the scatter between stretches: a scaled inverse chi-squared prior, updated by what is seen beyond
    the stretches' own doubt."""
    weights = 1 / (own**2 + BETWEEN_SD**2)
    mean = float((weights * factor).sum() / weights.sum())
    beyond = float(np.sum(np.maximum((factor - mean) ** 2 - own**2 * (1 - weights / weights.sum()), 0.0)))
    freedom = BETWEEN_WEIGHT + factor.size - 1
    variance = (BETWEEN_WEIGHT * BETWEEN_SD**2 + beyond) / generator.chisquare(freedom, draws)
    return np.sqrt(variance)


def _figure(value: float, sd: float, unit: str) -> Figure:
    return Figure(value, sd, value - HALF_WIDTH_PER_SD * sd, value + HALF_WIDTH_PER_SD * sd, unit)


def odometer_of(dials: Dials, factor: FloatArray, stretches: tuple[StretchResult, ...]) -> OdometerResult:
    """The result, with what it belongs to."""
    since = dials.vehicle.since
    return OdometerResult(
        factor=from_draws(factor, "1"),
        stretches=stretches,
        belongs_to=fitted(dials.vehicle),
        since=str(since) if since is not None else "",
        ended_by=dials.ended_by,
    )


def fitted(vehicle: Vehicle) -> str:
    """Tyres and axle in words, "" where nobody says."""
    parts = []
    if vehicle.tyre is not None:
        parts.append(f"tyre {vehicle.tyre.code}")
    if vehicle.rolling_circumference_m is not None:
        parts.append(f"rolling circumference {vehicle.rolling_circumference_m.value:.3f} m")
    if vehicle.final_drive is not None:
        parts.append(f"axle ratio {vehicle.final_drive:g}")
    return ", ".join(parts)
