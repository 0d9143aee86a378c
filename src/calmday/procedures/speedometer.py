"""A speedometer against the receiver: a straight line with its doubt, and the limits of UN R39.

indicated = a + b true. Prior: a about zero, b about one; what single readings scatter is learnt from the readings with
a prior of its own (conjugate normal model: Gelman et al., Bayesian Data Analysis, 14.8; from memory).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure, from_draws
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.procedures.dials_result import DialSpeed, LimitVerdict, SpeedometerResult
from calmday.records.dials import Dials

FloatArray = NDArray[np.float64]

KMH: Final = 1 / 3.6

OFFSET_SD: Final = 3.0 * KMH
SLOPE_SD: Final = 0.15
"""Prior of the line, one standard deviation: a dial off by 3 km/h all along, or by 15 %. Assumed."""

DIVISION: Final = 2.0 * KMH
"""Smallest step that is read off a dial where nobody says. Assumed."""

STEADY_SD: Final = 0.4 * KMH
"""How steadily a speed is held while both are read, and what the receiver shows of it. Assumed."""

SCATTER_WEIGHT: Final = 6.0
"""Degrees of freedom that the expected scatter is worth. Assumed."""

SHARE: Final = 0.1
MORE: Final = 4.0 * KMH
"""UN R39, 5.3: the speed indicated is never below the true speed, and 0 <= V1 - V2 <= 0.1 V2 + 4 km/h (V1 indicated, V2
true). Text of 5.3 as quoted on the open web; type approval of new vehicles, at the test speeds."""

STEP_KMH: Final = 10.0


def upper_limit_mps(true_mps: FloatArray | float) -> FloatArray:
    """The most a dial may show at a true speed, m/s (UN R39, 5.3).

    >>> round(float(upper_limit_mps(80 / 3.6)) * 3.6, 2)
    92.0
    """
    return np.asarray(np.asarray(true_mps) * (1 + SHARE) + MORE)


class DrawnDial:
    """Draws (m,) of the line indicated = a + b true, and of the scatter of one reading, m/s."""

    def __init__(self, offset_mps: FloatArray, slope: FloatArray, scatter_mps: FloatArray) -> None:
        self.offset_mps, self.slope, self.scatter_mps = offset_mps, slope, scatter_mps

    def true_mps(self, indicated_mps: float) -> FloatArray:
        """True speed at a speed on the dial."""
        return np.asarray((indicated_mps - self.offset_mps) / self.slope)

    def scaled(self, ratio: FloatArray) -> DrawnDial:
        """The same dial turned `ratio` times as fast at the same true speed."""
        return DrawnDial(self.offset_mps, self.slope * ratio, self.scatter_mps)


def draw_dial(dials: Dials, draws: int, seed: int) -> DrawnDial:
    """Condition the line on the readings; with none, its prior."""
    division = dials.speedometer_division_mps or DIVISION
    usual = math.hypot(division / math.sqrt(12), STEADY_SD)
    scores = standard_normal(draws, 2, seed)
    generator = np.random.Generator(np.random.PCG64(seed + 1))
    true = np.array([reading.true_mps.value for reading in dials.speedometer])
    shown = np.array([reading.indicated_mps for reading in dials.speedometer])
    own = np.array([(r.true_mps.half_width or 0.0) / HALF_WIDTH_PER_SD for r in dials.speedometer])
    x = np.column_stack([np.ones(true.size), true])
    weights = usual**2 / (usual**2 + own**2)
    prior = np.diag([(usual / OFFSET_SD) ** 2, (usual / SLOPE_SD) ** 2])
    start = np.array([0.0, 1.0])
    precision = prior + x.T @ (weights[:, None] * x)
    centre = np.linalg.solve(precision, prior @ start + x.T @ (weights * shown))
    left = float(np.sum(weights * (shown - x @ centre) ** 2) + (centre - start) @ prior @ (centre - start))
    freedom = SCATTER_WEIGHT + true.size
    variance = (SCATTER_WEIGHT * usual**2 + left) / generator.chisquare(freedom, draws)
    half = np.linalg.cholesky(np.linalg.inv(precision))
    line = centre[:, None] + np.sqrt(variance)[None, :] * (half @ scores.T)
    return DrawnDial(line[0], np.maximum(line[1], 0.2), np.sqrt(variance))


def speedometer_of(dials: Dials, dial: DrawnDial) -> SpeedometerResult:
    """The result over the range that was read, in steps of ten."""
    shown = np.array([reading.indicated_mps for reading in dials.speedometer])
    low, high = float(shown.min()), float(shown.max())
    first = max(STEP_KMH * math.floor(low / KMH / STEP_KMH - 0.5), 20.0)
    last = STEP_KMH * math.ceil(high / KMH / STEP_KMH + 0.5)
    places = np.arange(first, last + 0.5 * STEP_KMH, STEP_KMH)
    margin = 0.15 * (high - low) + 5 * KMH
    speeds = tuple(_speed(dial, kmh * KMH, low - margin <= kmh * KMH <= high + margin) for kmh in places.tolist())
    middle = dial.true_mps(0.5 * (low + high)) / (0.5 * (low + high))
    judged = [s for s in speeds if s.read]
    least = dial.true_mps(high)
    return SpeedometerResult(
        factor=from_draws(middle, "1"),
        offset=from_draws(dial.offset_mps / KMH, "km/h"),
        scatter=from_draws(dial.scatter_mps / KMH, "km/h"),
        readings=len(dials.speedometer),
        speeds=speeds,
        verdict=verdict(min((s.within_limits for s in judged), default=0.5)),
        shows_too_little=float(np.mean((least > high) | (dial.true_mps(low) > low))),
    )


def _speed(dial: DrawnDial, indicated: float, read: bool) -> DialSpeed:
    true = dial.true_mps(indicated)
    return DialSpeed(
        indicated=Figure(indicated / KMH, 0.0, indicated / KMH, indicated / KMH, "km/h"),
        true_speed=from_draws(true / KMH, "km/h"),
        error=from_draws((indicated - true) / KMH, "km/h"),
        factor=from_draws(true / indicated, "1"),
        upper_limit=from_draws(upper_limit_mps(true) / KMH, "km/h"),
        within_limits=float(np.mean((indicated >= true) & (indicated <= upper_limit_mps(true)))),
        read=read,
    )


def verdict(chance: float) -> LimitVerdict:
    """A chance of keeping to the rule in words."""
    for least, words in ((0.975, "within"), (0.8, "probably within"), (0.2, "open"), (0.025, "probably outside")):
        if chance >= least:
            return words  # type: ignore[return-value]
    return "outside"
