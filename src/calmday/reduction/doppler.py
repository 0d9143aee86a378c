"""The receiver's own speed: whether it can be believed, how finely it was written, how far off it runs."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.rounding import format_signed

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
_NOUGHT_MPS = 0.3
_MANY_NOUGHTS = 0.05
_WILD_MPS, _WILD_SHARE, _FEW_WILD = 15.0, 0.5, 0.1
_LEAST_SHARE = 0.2
_OFFSET_SD_MPS = 0.003
"""Spread of the constant offset of a sound receiver's speed (assumed; makers claim 0.03 m/s and better)."""
_STRAIGHT_RAD_PER_S = 0.03
_STEADY_MPS = 5.0
_WANDER_S = 100.0
_LEAST_SCALE_SD = 5e-4
_BAD_RATIO = 0.1
_SCALED_SHARE = 0.002
_LEAST_ODD = 0.005
_SCALE_SD = 0.02
"""So many recordings carry no satellite speed but a vehicle's, with a scale error of this spread (assumed)."""


class Driven(msgspec.Struct, frozen=True):
    """What positions alone say at each fix: speed [m/s], turning rate [rad/s]; seconds between fixes, the receiver's
    wander [m]."""

    speed_mps: FloatArray
    turning_radps: FloatArray
    interval_s: float
    wander_m: float


class Speeds(msgspec.Struct, frozen=True):
    """The receiver's own speeds: which fixes bear one, the speed [m/s] freed of its offset, a first guess of its
    variance and the least it can be, the doubt left in the offset. `trouble` says what is odd about them."""

    fix: IntArray
    speed_mps: FloatArray
    variance: float
    floor: float
    offset_sd_mps: float
    usable: bool = True
    trouble: str = ""


def usable_speeds(recorded_mps: FloatArray, driven: Driven, at_rest: BoolArray) -> Speeds | None:
    """Recorded speeds (NaN: none) held against those that the positions give at the same fixes; None if too few."""
    known = np.isfinite(recorded_mps) & ~_nought_under_way(recorded_mps, driven.speed_mps)
    wild = known & (np.abs(recorded_mps - driven.speed_mps) > _WILD_MPS + _WILD_SHARE * driven.speed_mps)
    if wild.sum() < _FEW_WILD * known.sum():  # of more than a few, the unit is wrong, or the positions are
        known &= ~wild
    if known.sum() < max(5.0, _LEAST_SHARE * known.size):
        return None
    fix = np.flatnonzero(known)
    speed = recorded_mps[fix]
    quantum = written_step(speed)
    factor, offset, offset_sd, trouble = _against_positions(recorded_mps, driven, known, quantum)
    floor = max(_LEAST_VARIANCE, quantum**2 / 12 * _run_length(speed[~at_rest[fix]], quantum))
    corrected = np.where(speed > 0.0, (speed - offset) / factor, speed)
    usable = abs(factor - 1) <= _BAD_RATIO
    return Speeds(fix, corrected, max(_FIRST_VARIANCE, floor), floor, offset_sd, usable, trouble)


def without_false_noughts(recorded_mps: FloatArray, driven_mps: FloatArray) -> FloatArray:
    """Recorded speeds without the noughts of a receiver that writes them where it has none to tell.

    It does where many stand under way; a few are a vehicle at rest whose positions leapt.
    """
    many = _nought_under_way(recorded_mps, driven_mps).sum() > _MANY_NOUGHTS * (driven_mps > _DRIVEN_MPS).sum()
    return np.where(recorded_mps < _NOUGHT_MPS, np.nan, recorded_mps) if many else recorded_mps


def _nought_under_way(recorded_mps: FloatArray, driven_mps: FloatArray) -> BoolArray:
    with np.errstate(invalid="ignore"):
        return np.asarray((driven_mps > _DRIVEN_MPS) & (recorded_mps < _NOUGHT_MPS))


def _against_positions(
    recorded_mps: FloatArray, driven: Driven, known: BoolArray, quantum: float
) -> tuple[float, float, float, str]:
    """Scale and offset of recorded speeds, doubt of the offset, and what is odd about them.

    Judged on straight and steady stretches, where positions are sound: each stretch's length is off by the wander at
    its two ends only.
    """
    straight = (driven.turning_radps < _STRAIGHT_RAD_PER_S) & (driven.speed_mps > _STEADY_MPS)
    judged = straight & known
    if judged.sum() < 20:
        return 1.0, 0.0, _OFFSET_SD_MPS, ""
    mean = float(driven.speed_mps[judged].mean())
    pieces = int((np.diff(straight.astype(np.int8)) == 1).sum()) + 1
    way = mean * float(judged.sum()) * driven.interval_s
    lasting = float(straight.sum()) * driven.interval_s / pieces
    ends = 2 * driven.wander_m**2 * (1 - np.exp(-lasting / _WANDER_S))
    doubt = np.hypot(_LEAST_SCALE_SD, np.sqrt(pieces * ends) / way) * mean
    off = _trimmed_mean(recorded_mps[judged] - driven.speed_mps[judged])
    truncated = quantum > 8 * doubt and off < -quantum / 4
    base = -quantum / 2 if truncated else 0.0
    rest = off - base
    odd = _probably_scaled(rest, float(doubt), _SCALE_SD * mean) if abs(rest) > _LEAST_ODD * mean else 0.0
    if odd > 0.9:
        words = "left out" if abs(rest) > _BAD_RATIO * mean else "scaled to the positions"
        return (
            1 + rest / mean,
            base,
            float(doubt),
            f"recorded speeds run {format_signed(100 * rest / mean, 1)} % off; {words}",
        )
    share = _OFFSET_SD_MPS**2 / (_OFFSET_SD_MPS**2 + doubt**2)
    part = odd + (1 - odd) * share
    left = (1 - part) * abs(rest) * np.sqrt(odd) + np.sqrt(share) * doubt
    return 1.0, base + part * rest, float(left), ""


def _probably_scaled(rest: float, doubt: float, scale_sd: float) -> float:
    """Probability that speeds `rest` off [m/s] come with a scale of their own rather than from a sound receiver."""
    sound, scaled = np.hypot(doubt, _OFFSET_SD_MPS), np.hypot(doubt, scale_sd)
    odds = (1 - _SCALED_SHARE) / _SCALED_SHARE * scaled / sound
    odds *= np.exp(-0.5 * (rest / sound) ** 2 + 0.5 * (rest / scaled) ** 2)
    return float(1 / (1 + odds))


def written_step(speed_mps: FloatArray) -> float:
    """The step in which speeds were written [m/s], whatever the unit; 0 where finer than 2 cm/s."""
    moving = np.sort(speed_mps[speed_mps > 0.5])
    moving = moving[np.diff(moving, prepend=0.0) > 0]  # each value once
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
