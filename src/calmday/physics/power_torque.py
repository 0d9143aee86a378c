"""Power is torque times speed: what it means where a chart's two curves do not keep to that."""

from __future__ import annotations

import math
from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

TOLERANCE: Final = 0.015
"""Relative difference up to which power and torque x speed agree: rounding of printed figures and of readings."""

ALIKE: Final = 0.005
"""Two unit mistakes this near each other (relative) cannot be told apart, and both are named."""

SLIGHT: Final = 0.02
"""Share of engine speed from which a shift of that axis is told."""

_METRE: Final = 1.3558179483314004
"""N m in 1 lbf ft (international foot and pound-force, exact)."""
_KILOGRAM: Final = 9.80665
_PS: Final = 0.73549875
_HP: Final = 0.7456998715822702

UNIT_MISTAKES: Final = (
    (1 / _PS, "powers in metric horsepower (PS) taken for kW"),
    (1 / _HP, "powers in horsepower taken for kW"),
    (_METRE, "torques in lb ft taken for N m"),
    (_PS, "powers in kW taken for metric horsepower"),
    (_HP, "powers in kW taken for horsepower"),
    (1 / _METRE, "torques in N m taken for lb ft"),
    (_KILOGRAM, "torques in kgf m taken for N m"),
    (1 / _KILOGRAM, "torques in N m taken for kgf m"),
    (_KILOGRAM / _METRE, "torques in kgf m taken for lb ft"),
    (_METRE / _KILOGRAM, "torques in lb ft taken for kgf m"),
)
"""Power over torque x speed when one unit is taken for another: factor, and in words."""

Verdict = Literal["agree", "unit", "speed axis", "part"]


class Agreement(msgspec.Struct, frozen=True, kw_only=True):
    """How power and torque of one chart stand to each other.

    `ratio` (n,) power over torque x speed. `verdict` "agree"; "unit": one `factor` mends all, `units` says which units
    fit (nearest first); "speed axis": all fit if the engine speed is `shift_rps` higher; "part": some points are `off`.
    """

    ratio: FloatArray
    off: NDArray[np.bool_]
    verdict: Verdict
    factor: float = 1.0
    units: tuple[str, ...] = ()
    shift_rps: float = 0.0


def agreement(
    speed_rps: FloatArray, torque_nm: FloatArray, power_w: FloatArray, tolerance: float | FloatArray = TOLERANCE
) -> Agreement:
    """Judge a curve that gives torque and power. `tolerance` relative, for all or for each point (n,)."""
    product = 2 * math.pi * speed_rps * torque_nm
    usable = product > 1e-6
    ratio = np.where(usable, power_w / np.where(usable, product, 1.0), 1.0)
    off = np.abs(ratio - 1) > tolerance
    if not off.any():
        return Agreement(ratio=ratio, off=off, verdict="agree")
    common = float(np.median(ratio[usable]))
    fitting = [
        (abs(math.log(common / factor)), factor, words)
        for factor, words in UNIT_MISTAKES
        if common > 0 and np.all(np.abs(ratio[usable] / factor - 1) <= tolerance)
    ]
    if fitting:
        fitting.sort()
        return Agreement(
            ratio=ratio, off=off, verdict="unit", factor=common,
            units=tuple(words for distance, _, words in fitting if distance <= fitting[0][0] + ALIKE),
        )  # fmt: skip
    shift = _speed_shift(speed_rps[usable], torque_nm[usable], power_w[usable])
    if shift is not None:
        mended = power_w[usable] / (2 * math.pi * (speed_rps[usable] + shift) * torque_nm[usable])
        enough = np.all(np.abs(mended - 1) <= tolerance) and off.sum() > 0.6 * off.size
        if enough and abs(shift) > SLIGHT * float(np.median(speed_rps)):
            return Agreement(ratio=ratio, off=off, verdict="speed axis", shift_rps=shift)
    return Agreement(ratio=ratio, off=off, verdict="part")


def _speed_shift(speed_rps: FloatArray, torque_nm: FloatArray, power_w: FloatArray) -> float | None:
    """The shift of engine speed that makes power torque times speed, 1/s; None with too few points."""
    if speed_rps.size < 3:
        return None
    return float(np.median(power_w / (2 * math.pi * torque_nm) - speed_rps))


def lower_of_both(
    speed_rps: FloatArray, torque_nm: FloatArray, power_w: FloatArray, found: Agreement
) -> tuple[FloatArray, FloatArray]:
    """Torque to go by, N m, and its relative 95 % half width from the disagreement: the lower of both where some points
    are off, as wide as they differ; torque as it stands in every other case."""
    if found.verdict != "part":
        return torque_nm, np.zeros(torque_nm.size)
    lower = np.minimum(torque_nm, power_w / (2 * math.pi * speed_rps))
    gap = np.where(found.off, np.abs(found.ratio - 1), 0.0)
    return np.where(found.off, lower, torque_nm), gap
