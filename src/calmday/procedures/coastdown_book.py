"""The passes reduced as the regulations do it: a check beside the fit, with the corrections of UN GTR 15.

Times between speeds 5 km/h above and below each reference speed, their harmonic mean over both directions,
F = (m + m_r) 2 dv / dt, a parabola through the forces, and `physics.road_load.to_reference_conditions`. UN GTR 15,
Annex 4; ECE R83 for the precision p = t s / (sqrt(n) T) (both from memory).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.student import two_sided_t
from calmday.physics.road_load import road_load_n, to_reference_conditions
from calmday.procedures.coastdown import FittedCoastdown
from calmday.procedures.coastdown_result import BookRoadLoad
from calmday.procedures.coastdown_samples import PassSamples

FloatArray = NDArray[np.float64]

STEP_KMH: Final = 10.0
HALF_BAND_KMH: Final = 5.0
FEWEST_SPEEDS: Final = 4
ROTATING_SHARE: Final = 0.03
STATUS: Final = "formula from memory; no text of the regulation was seen"


def crossing_s(one: PassSamples, kmh: float) -> float:
    """When a pass comes down through a speed, seconds from its start; NaN outside. A quadratic over seven bins."""
    speed = 3.6 * one.speed_mps
    if not speed[-1] <= kmh <= speed[0]:
        return math.nan
    middle = int(np.argmin(np.abs(speed - kmh)))
    rows = slice(max(0, middle - 3), min(speed.size, middle + 4))
    distinct = np.unique(np.round(speed[rows], 3)).size
    if distinct < 2:
        return float(one.time_s[middle])
    curve = np.polyfit(speed[rows] - kmh, one.time_s[rows], 2 if distinct > 4 else 1)
    return float(curve[-1])


def by_the_book(fitted: FittedCoastdown) -> BookRoadLoad | None:
    """Road load by interval times; None without both directions over at least four reference speeds."""
    fit = fitted.fit
    ways = fit.rolls.way
    if not fit.rolls.known.all() or np.unique(fit.rolls.road).size > 1 or np.unique(ways).size < 2:
        return None
    highest = max(float(one.speed_mps[0]) for one in fit.passes) * 3.6
    kmh, times, precision = [], [], []
    for speed in np.arange(20.0, highest - HALF_BAND_KMH + 1e-9, STEP_KMH):
        taken = [crossing_s(one, speed - HALF_BAND_KMH) - crossing_s(one, speed + HALF_BAND_KMH) for one in fit.passes]
        out = [t for t, way in zip(taken, ways, strict=True) if way > 0 and t > 0]
        back = [t for t, way in zip(taken, ways, strict=True) if way < 0 and t > 0]
        if not out or not back:
            continue
        kmh.append(float(speed))
        times.append(2 / (1 / np.mean(out) + 1 / np.mean(back)))
        pairs = np.array([2 / (1 / a + 1 / b) for a, b in zip(out, back, strict=False)])
        if pairs.size > 2:
            t = two_sided_t(0.95, pairs.size - 1)
            precision.append(100 * t * float(pairs.std(ddof=1)) / math.sqrt(pairs.size) / float(pairs.mean()))
    if len(kmh) < FEWEST_SPEEDS:
        return None
    mass = fit.model.parameters["test_mass"].centre * (1 + ROTATING_SHARE)
    forces = mass * (2 * HALF_BAND_KMH / 3.6) / np.array(times)
    f2, f1, f0 = (float(x) for x in np.polyfit(kmh, forces, 2))
    head = [float(fit.rolls.head[k].mean()) * way for k, way in enumerate(ways)]
    corrected = to_reference_conditions(
        (f0, f1, f2),
        float(fit.weather.temperature_k.mean()),
        float(fit.weather.pressure_pa.mean()),
        abs(float(np.mean(head))),
    )
    middle = 80.0 if kmh[-1] >= 80 else kmh[len(kmh) // 2]
    return BookRoadLoad(
        f0=corrected[0], f1=corrected[1], f2=corrected[2], force_speed=middle, force=road_load_n(corrected, middle),
        precision_percent=float(np.median(precision)) if precision else None,
        pairs=int(min((ways > 0).sum(), (ways < 0).sum())), status=STATUS,
    )  # fmt: skip
