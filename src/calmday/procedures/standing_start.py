"""From rest through the gears, as recorded: the times that the prediction is held against.

The clock starts where the line through the first moving speeds meets zero: a receiver says nothing about the moment
between two fixes. Doubt: the moment of the start, the receiver's noise where a speed is passed, and for a distance the
noise of the speeds in between.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import METRE_PER_MILE
from calmday.metrology.figure import Figure, from_normal
from calmday.procedures.gears_result import Prediction
from calmday.procedures.pull_samples import PullSamples

FloatArray = NDArray[np.float64]

KMH: Final = 3.6
HUNDRED_MPS: Final = 100 / KMH
SIXTY_MPS: Final = 60 * METRE_PER_MILE / 3600
QUARTER_MILE_M: Final = METRE_PER_MILE / 4
NOISE_MPS: Final = 0.12
"""Noise of a receiver's own speed, one standard deviation. Assumed."""
MOVING_MPS: Final = 0.8
NEAR_S: Final = 0.9
"""Fixes this near to a moment are taken to lie on a line."""
SLOW_FOOT_S: Final = 0.08
"""How far the first moments of a start are from a line. Assumed."""


class StandingStart(msgspec.Struct, frozen=True, kw_only=True):
    """One start from rest: as timed, and as predicted in the wind, grade and air that it met."""

    number: int
    headwind: Figure
    grade: Figure
    measured: Prediction
    predicted: Prediction


def timed(samples: PullSamples) -> Prediction:
    """What the recording times; None for what it does not reach."""
    time, speed = samples.time_s, samples.speed_mps
    began, began_sd = _began(time, speed)
    way = np.concatenate([[0.0], np.cumsum(np.diff(time) * (speed[1:] + speed[:-1]) / 2)])
    hundred, sixty = (_passed(time, speed, limit, began, began_sd) for limit in (HUNDRED_MPS, SIXTY_MPS))
    quarter, end = _distance(time, speed, way, began, began_sd)
    return Prediction(to_100_kmh=hundred, to_60_mph=sixty, quarter_mile=quarter, quarter_mile_speed=end)


def _began(time: FloatArray, speed: FloatArray) -> tuple[float, float]:
    """The moment of the start and its standard deviation, s: where the line through the first moving speeds meets zero.

    A foot that comes down slowly bends the line: a tenth of a second.
    """
    moving = np.flatnonzero(speed >= MOVING_MPS)
    first = int(moving[0]) if moving.size else 0
    step = float(np.median(np.diff(time)))
    part = slice(first, max(first + 2, int(np.searchsorted(time, time[first] + NEAR_S))))
    crossing, sd = _line(time[part], speed[part], 0.0)
    at = min(max(crossing, float(time[first]) - 2.0), float(time[first]))
    return at, math.hypot(min(sd, step), min(SLOW_FOOT_S, step / math.sqrt(12)))


def _line(time: FloatArray, speed: FloatArray, level: float) -> tuple[float, float]:
    """When the line through speeds passes a level, and its standard deviation."""
    middle, mean = float(time.mean()), float(speed.mean())
    spread = float(np.sum((time - middle) ** 2))
    slope = max(float(np.sum((time - middle) * (speed - mean))) / max(spread, 1e-9), 0.05)
    at = middle + (level - mean) / slope
    variance = 1 / time.size + (at - middle) ** 2 / max(spread, 1e-9)
    return at, NOISE_MPS / slope * math.sqrt(variance)


def _passed(time: FloatArray, speed: FloatArray, limit: float, began: float, began_sd: float) -> Figure | None:
    """Time from the start to a speed, by a line through the fixes around it: one noisy fix must not decide."""
    above = np.flatnonzero(speed >= limit)
    if above.size == 0 or above[0] == 0:
        return None
    about = float(time[int(above[0])])
    near = np.flatnonzero(np.abs(time - about) <= NEAR_S)
    if near.size < 4:
        near = np.arange(max(int(above[0]) - 1, 0), min(int(above[0]) + 1, time.size - 1) + 1)
    at, sd = _line(time[near], speed[near], limit)
    if at > time[-1]:
        return None
    return from_normal(at - began, math.hypot(began_sd, sd), "s")


def _distance(
    time: FloatArray, speed: FloatArray, way: FloatArray, began: float, began_sd: float
) -> tuple[Figure | None, Figure | None]:
    """Time over a quarter mile and the speed at its end."""
    if way[-1] < QUARTER_MILE_M:
        return None, None
    at = float(np.interp(QUARTER_MILE_M, way, time))
    end = float(np.interp(at, time, speed))
    step = float(np.median(np.diff(time)))
    lost = NOISE_MPS * math.sqrt(step * max(at - began, step)) / max(end, 1.0)
    return (
        from_normal(at - began, math.hypot(began_sd, lost), "s"),
        from_normal(KMH * end, KMH * NOISE_MPS, "km/h"),
    )
