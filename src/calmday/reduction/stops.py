"""When the vehicle stood still: found before distance is summed, so that a parked receiver's wander is not driven."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.reduction.reduced_track import Span

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

SHORTEST_STOP_S = 2.0
_DOPPLER_STILL_MPS = 0.4
_WANDER_RATE_M2PS = 0.15
"""Growth of the variance of a parked receiver's place (assumed: 3 m wander with a time constant of two minutes)."""
_WANDER_LIMIT_M2 = 20.0


def runs(flags: BoolArray) -> tuple[IntArray, IntArray]:
    """Starts (included) and stops (excluded) of the runs of True."""
    edges = np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def standing(
    east_m: FloatArray,
    north_m: FloatArray,
    speed_mps: FloatArray,
    speed_sd_mps: FloatArray,
    position_sd_m: FloatArray,
    doppler_mps: FloatArray,
    segment: IntArray,
    step_s: float = 1.0,
) -> BoolArray:
    """Samples at which the vehicle stood still.

    Slow enough to be noise, for long enough, and without getting anywhere: a creep in traffic gets somewhere. Where
    the receiver's own speed is known (`doppler_mps`, NaN elsewhere) that decides instead.
    """
    noise = np.sqrt(2 * (speed_sd_mps**2 + 0.02))
    limit = np.clip(2.2 * noise, 0.5, 1.5)
    known = np.isfinite(doppler_mps)
    with np.errstate(invalid="ignore"):
        slow = np.where(known, doppler_mps < _DOPPLER_STILL_MPS, speed_mps < limit)
    slow = _closed(slow, (speed_mps < 2 * limit) & ~known, round(3 / step_s), segment)
    out = np.zeros(slow.size, dtype=bool)
    for start, stop in zip(*_split_runs(slow, segment), strict=True):
        by_doppler = bool(known[start:stop].mean() > 0.5)
        trim = 0 if by_doppler else round(0.6 * float(limit[start:stop].mean()) / step_s)
        a = start + trim if start > 0 and segment[start - 1] == segment[start] else start
        b = stop - trim if stop < slow.size and segment[stop] == segment[stop - 1] else stop
        if (b - a) * step_s < SHORTEST_STOP_S:
            continue
        apart2 = (east_m[b - 1] - east_m[a]) ** 2 + (north_m[b - 1] - north_m[a]) ** 2
        spread2 = position_sd_m[a] ** 2 + position_sd_m[b - 1] ** 2
        spread2 += min(2 * _WANDER_RATE_M2PS * (b - a) * step_s, _WANDER_LIMIT_M2)
        if by_doppler or apart2 <= 9 * spread2:
            out[a:b] = True
    return out


def stops(moving: BoolArray, segment: IntArray, step_s: float) -> tuple[Span, ...]:
    """Spans at standstill of at least two seconds."""
    pairs = zip(*_split_runs(~moving, segment), strict=True)
    return tuple(Span(int(a), int(b)) for a, b in pairs if (b - a) * step_s >= SHORTEST_STOP_S)


def _split_runs(flags: BoolArray, segment: IntArray) -> tuple[IntArray, IntArray]:
    """Runs of True that end where a segment ends."""
    starts, ends = runs(flags)
    cuts = np.flatnonzero(np.diff(segment)) + 1
    cuts = cuts[flags[cuts] & flags[cuts - 1]] if cuts.size else cuts
    return np.sort(np.concatenate([starts, cuts])), np.sort(np.concatenate([ends, cuts]))


def _closed(flags: BoolArray, may_fill: BoolArray, longest: int, segment: IntArray) -> BoolArray:
    """Fill short interruptions between runs of True, where filling is allowed."""
    out = flags.copy()
    for start, stop in zip(*_split_runs(~flags, segment), strict=True):
        inside = start > 0 and stop < flags.size and flags[start - 1] and flags[stop]
        if inside and stop - start <= longest and may_fill[start:stop].all():
            out[start:stop] = True
    return out
