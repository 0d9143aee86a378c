"""The receiver's own speed: whether it can be believed, how finely it was written, how far off it runs."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_KMH, _MPH, _KNOT = 1 / 3.6, 0.44704, 1852 / 3600
_UNITS_MPS = (1.0, _KNOT, _MPH, _KMH)
_FRACTIONS = (1.0, 0.5, 0.1, 0.01)
_FINEST_MPS = 0.02
_FIRST_VARIANCE = 0.1**2
_LEAST_VARIANCE = 0.02**2
_DRIVEN_MPS = 3.0
_LEAST_SHARE = 0.2
_OFFSET_SD_MPS = 0.005
"""Spread of the constant offset of a sound receiver's speed (assumed; makers claim 0.03 m/s and better)."""
_POSITION_SCALE_SD = 6e-4
"""How well positions alone know the mean speed, relative (see studies/track_distance)."""
_BAD_RATIO = 0.03


class Speeds(msgspec.Struct, frozen=True):
    """The receiver's own speeds: which fixes bear one, the speed [m/s] freed of its offset, a first guess of its
    variance and the least it can be, the doubt left in the offset. `trouble` says why speeds were not used."""

    fix: IntArray
    speed_mps: FloatArray
    variance: float
    floor: float
    offset_sd_mps: float
    trouble: str = ""


def usable_speeds(recorded_mps: FloatArray, by_position_mps: FloatArray, at_rest: BoolArray) -> Speeds | None:
    """Recorded speeds (NaN: none) held against those that the positions give at the same fixes; None if too few."""
    known = np.isfinite(recorded_mps)
    driven = by_position_mps > _DRIVEN_MPS
    known &= ~(driven & (recorded_mps < 0.3))  # written as nought where the receiver had none
    if known.sum() < max(5.0, _LEAST_SHARE * known.size):
        return None
    fix = np.flatnonzero(known)
    speed = recorded_mps[fix]
    quantum = written_step(speed)
    judged = driven[fix]
    offset, offset_sd = 0.0, _OFFSET_SD_MPS
    if judged.sum() > 20:
        difference = speed[judged] - by_position_mps[fix][judged]
        mean = float(by_position_mps[fix][judged].mean())
        off = _trimmed_mean(difference)
        truncated = quantum > 8 * _POSITION_SCALE_SD * mean and off < -quantum / 4
        base = -quantum / 2 if truncated else 0.0
        if abs(off - base) > _BAD_RATIO * mean:
            trouble = f"the receiver's own speeds differ from the positions by {off / mean:+.1%}; not used"
            return Speeds(fix, speed, _FIRST_VARIANCE, _LEAST_VARIANCE, 0.0, trouble)
        doubt2 = (_POSITION_SCALE_SD * mean) ** 2
        share = _OFFSET_SD_MPS**2 / (_OFFSET_SD_MPS**2 + doubt2)
        offset = base + share * (off - base)
        offset_sd = float(np.sqrt(share * doubt2))
    floor = max(_LEAST_VARIANCE, quantum**2 / 12 * _run_length(speed[~at_rest[fix]], quantum))
    return Speeds(fix, np.where(speed > 0.0, speed - offset, speed), max(_FIRST_VARIANCE, floor), floor, offset_sd)


def written_step(speed_mps: FloatArray) -> float:
    """The step in which speeds were written [m/s], whatever the unit; 0 where finer than 2 cm/s."""
    moving = np.unique(speed_mps[speed_mps > 0.5])
    if moving.size < 3:
        return 0.0
    steps = sorted({unit * part for unit in _UNITS_MPS for part in _FRACTIONS}, reverse=True)
    for step in steps:
        if step < _FINEST_MPS:
            break
        off = moving / step
        if float(np.mean(np.abs(off - np.round(off)) < 0.02 + 0.002 / step)) > 0.98:
            return step
    return 0.0


def _trimmed_mean(values: FloatArray) -> float:
    """Mean without the outer tenth on either side."""
    ordered = np.sort(values)
    cut = values.size // 10
    return float(ordered[cut : values.size - cut].mean())


def _run_length(speed_mps: FloatArray, quantum: float) -> float:
    """How many readings in a row share one rounding error, seen from a reading: E(L^2)/E(L)."""
    if quantum <= 0.0 or speed_mps.size < 2:
        return 1.0
    edges = np.flatnonzero(np.abs(np.diff(speed_mps)) > quantum / 2)
    lengths = np.diff(np.concatenate([[-1], edges, [speed_mps.size - 1]])).astype(float)
    return float((lengths**2).sum() / lengths.sum())
