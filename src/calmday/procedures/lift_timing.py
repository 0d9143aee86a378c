"""Plunger lift to crank degrees by the pump's own measured lift curve, with the doubt of gauge and protractor.

No factor is known that holds for every pump: it depends on the cam. Without a curve there are no degrees.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.draws import FloatArray, standard_normal
from calmday.metrology.figure import Figure, exact, from_draws
from calmday.metrology.propagation import from_half_width_95
from calmday.records.setting import LiftCurve
from calmday.reduction.monotone import rising_curve

DRAWS: Final = 1000
ASSUMED_LIFT_M: Final = 2e-5
"""95 % half width of a lift read by dial gauge: 0.02 mm, a usual setting tolerance (0.88 +- 0.02 mm at the mark is
published for one pump, manuals.autorepairshq.com)."""
ASSUMED_ANGLE_RAD: Final = math.radians(0.5)
"""95 % half width of a crank angle by protractor or marks. Assumed."""
DEGREE: Final = math.radians(1.0)
LEAST_RISE: Final = 1e-9


class LiftDraws(msgspec.Struct, frozen=True):
    """The curve drawn often: `lift_m` (m, n) rising in every row, `crank_rad` (m, n); `sign` +1 where lift grows with
    the angle as it was counted. `reading_m` (m, k) errors of k readings to come."""

    lift_m: FloatArray
    crank_rad: FloatArray
    sign: int
    reading_m: FloatArray


def draw_curve(curve: LiftCurve, readings: int, seed: int) -> LiftDraws | None:
    """Draws of a curve and of the errors of readings on it; None where the points do not rise or fall throughout.

    What leaves the base circle late stays flat: only the rising part counts, from the last of the lowest points on.
    """
    lift, angle = np.array(curve.lift_m), np.array(curve.crank_rad)
    sign = 1 if lift[-1] >= lift[0] else -1
    if sign < 0:
        lift, angle = lift[::-1], angle[::-1]
    tolerance = curve.lift_half_width_m or ASSUMED_LIFT_M
    start = int(np.flatnonzero(lift <= lift.min() + 1e-9)[-1])
    top = int(np.argmax(lift))
    lift, angle = lift[start : top + 1], angle[start : top + 1]
    if lift.size < 3 or bool(np.any(np.diff(lift) < -tolerance)):
        return None
    scores = standard_normal(DRAWS, 2 * lift.size + readings, seed)
    gauge = from_half_width_95(tolerance)
    protractor = from_half_width_95(curve.angle_half_width_rad or ASSUMED_ANGLE_RAD)
    lifts = lift + gauge * scores[:, : lift.size]
    lifts = np.maximum.accumulate(lifts, axis=1) + LEAST_RISE * np.arange(lift.size)
    angles = np.sort(sign * (angle + protractor * scores[:, lift.size : 2 * lift.size]), axis=1)
    return LiftDraws(lifts, angles, sign, scores[:, 2 * lift.size :])


def crank_draws(drawn: LiftDraws, lift_m: float, place: int, half_width_m: float | None) -> FloatArray:
    """Crank angle (rad, more is more advance) of one reading per draw; NaN outside the curve."""
    read = lift_m + from_half_width_95(half_width_m or ASSUMED_LIFT_M) * drawn.reading_m[:, place]
    rows = zip(drawn.lift_m, drawn.crank_rad, read, strict=True)
    return np.array([float(rising_curve(x, y, np.array([at]))[0]) for x, y, at in rows])


def degrees(values: FloatArray) -> Figure | None:
    """Draws of an angle as degrees; None where more than one in fifty left the curve."""
    known = values[np.isfinite(values)]
    return from_draws(known / DEGREE, "deg") if known.size >= 0.98 * values.size else None


def lift_per_degree(drawn: LiftDraws, lift_m: float) -> Figure | None:
    """Millimetres of lift for one degree of crank about a reading, over two degrees there."""
    found = []
    for x, y in zip(drawn.lift_m, drawn.crank_rad, strict=True):
        centre = float(rising_curve(x, y, np.array([lift_m]))[0])
        ends = rising_curve(y + LEAST_RISE * np.arange(y.size), x, np.array([centre - DEGREE, centre + DEGREE]))
        found.append(500.0 * float(ends[1] - ends[0]))
    values = np.array(found)
    known = values[np.isfinite(values)]
    return from_draws(known, "mm/deg") if known.size >= 0.98 * values.size else None


def dial_of(curve: LiftCurve) -> Figure:
    """How well lift was read, as a half width."""
    return exact(1000 * (curve.lift_half_width_m or ASSUMED_LIFT_M), "mm")


def protractor_of(curve: LiftCurve) -> Figure:
    """How well the angle was read, as a half width."""
    return exact((curve.angle_half_width_rad or ASSUMED_ANGLE_RAD) / DEGREE, "deg")
