"""Engine speed against road speed: two clocks brought together, which gear was held, whether the clutch slips.

Engine turns per metre of road, q = n / v, stay the same as long as one gear is held. Whatever the recorder and the
receiver took for "now", the right offset is the one at which q keeps to few values.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

SLOWEST_MPS: Final = 2.5
"""Below this the clutch is at work, and a receiver's speed is rough."""
SAME_GEAR: Final = 0.012
"""Scatter of ln q within a gear that is held: engine, receiver, tyre slip. From studies on invented drives."""
_FAR: Final = 3.0
HELD_S: Final = 2.0
"""A gear counts as held from this long on."""
SLIP_FROM: Final = 0.03
SLIP_S: Final = 1.2
SLIP_MOST: Final = 0.45
"""Excess of engine over road speed that counts as slip, for how long, and above which it is another gear or neutral."""
_SLIP_LONGEST_S: Final = 20.0
_SCALES: Final = np.linspace(-0.12, 0.12, 49)
"""By how much all gears together may be off the build sheet (tyre, axle ratio) while clocks are brought together."""
_LOOKS_S: Final = 1.0


class Clocks(msgspec.Struct, frozen=True):
    """Offset to add to recording time with its standard deviation, s; `sure` false where another fits as well."""

    offset_s: float
    sd_s: float
    sure: bool


def bring_together(
    time_s: FloatArray,
    ln_rps: FloatArray,
    road_s: FloatArray,
    speed_mps: FloatArray,
    ln_turns: FloatArray,
    reach: tuple[float, float],
) -> Clocks | None:
    """The offset at which engine and road speed keep to gears. `ln_rps` NaN where not known; `ln_turns` of the gears of
    the build sheet (empty: none stated); `reach` lowest and highest offset to try, s. None where too little is known.
    """
    pick = np.flatnonzero(np.isfinite(ln_rps))
    pick = pick[:: max(round(0.5 / max(float(np.median(np.diff(time_s))), 1e-3)), 1)]
    if pick.size < 20:
        return None
    ln_speed = np.where(speed_mps > SLOWEST_MPS, np.log(np.maximum(speed_mps, 0.1)), np.nan)
    coarse = np.arange(reach[0], reach[1] + 0.5, 0.5)
    cost = _costs(time_s[pick], ln_rps[pick], road_s, ln_speed, ln_turns, coarse)
    if not np.isfinite(cost).any():
        return None
    best = float(coarse[int(np.nanargmin(cost))])
    fine = np.arange(best - 2.0, best + 2.0001, 0.05)
    near = _costs(time_s[pick], ln_rps[pick], road_s, ln_speed, ln_turns, fine)
    weight = np.exp(-0.5 * (near - np.nanmin(near)))
    weight = np.where(np.isfinite(weight), weight, 0.0)
    offset = float(np.sum(weight * fine) / np.sum(weight))
    sd = float(np.sqrt(np.sum(weight * (fine - offset) ** 2) / np.sum(weight)))
    away = np.abs(coarse - best) > 3.0
    rival = float(np.nanmin(cost[away])) if away.any() and np.isfinite(cost[away]).any() else np.inf
    return Clocks(offset, float(np.hypot(sd, 0.1)), rival - float(np.nanmin(near)) > 9.0 and sd < 1.5)


def _costs(
    time: FloatArray,
    ln_rps: FloatArray,
    road_s: FloatArray,
    ln_speed: FloatArray,
    ln_turns: FloatArray,
    offsets: FloatArray,
) -> FloatArray:
    """How badly each offset fits, in chi-squared of independent looks (one a second)."""
    looks = 0.5 / _LOOKS_S
    out = np.full(offsets.size, np.nan)
    for i, offset in enumerate(offsets):
        inside = (time + offset >= road_s[0]) & (time + offset <= road_s[-1])
        road = np.interp(time[inside] + offset, road_s, ln_speed)
        q = ln_rps[inside] - road
        q = q[np.isfinite(q)]
        if q.size < max(12, 0.4 * time.size):
            continue
        missing = _FAR**2 * (time.size - q.size)
        out[i] = looks * (_misfit(q, ln_turns) + missing)
    return out


def _misfit(q: FloatArray, ln_turns: FloatArray) -> float:
    """Sum of squares of ln q about the nearest gear, in units of `SAME_GEAR`, none more than `_FAR`."""
    if ln_turns.size:
        levels = ln_turns[None, :] + _SCALES[:, None]
        near = np.abs(q[None, :, None] - levels[:, None, :]).min(axis=2) / SAME_GEAR
        return float(np.minimum(near, _FAR).__pow__(2).sum(axis=1).min())
    steps = np.abs(np.diff(q)) / (1.4 * SAME_GEAR)  # without gears: q hardly changes from one look to the next
    return float(np.sum(np.minimum(steps, _FAR) ** 2))


class Held(msgspec.Struct, frozen=True):
    """A stretch with q constant: frames `start` to `stop`, its ln q, and which gear of the build sheet, -1 unknown."""

    start: int
    stop: int
    ln_q: float
    gear: int


def stretches_held(ln_q: FloatArray, hop_s: float, ln_turns: FloatArray) -> tuple[Held, ...]:
    """Stretches in which ln q stays within 2 % of its median for `HELD_S` and more."""
    found: list[tuple[int, int]] = []
    start = 0
    need = max(round(HELD_S / hop_s), 2)
    while start + need <= ln_q.size:
        first = ln_q[start : start + need]
        if not np.isfinite(first).all() or np.ptp(first) > 4 * SAME_GEAR:
            start += 1
            continue
        level = float(np.median(first))
        stop = start + need
        while stop < ln_q.size and abs(ln_q[stop] - level) < 2 * SAME_GEAR:
            stop += 1
            level = float(np.median(ln_q[start:stop]))
        found.append((start, stop))
        start = stop
    levels = [float(np.median(ln_q[a:b])) for a, b in found]
    scale = common_scale(np.array(levels), np.array([b - a for a, b in found], float), ln_turns)
    out = []
    for (a, b), level in zip(found, levels, strict=True):
        gear = int(np.argmin(np.abs(ln_turns + scale - level))) if ln_turns.size else -1
        if gear >= 0 and abs(ln_turns[gear] + scale - level) > 0.06:
            gear = -1
        out.append(Held(a, b, level, gear))
    return tuple(out)


def common_scale(levels: FloatArray, weights: FloatArray, ln_turns: FloatArray) -> float:
    """By how much all gears together lie off the build sheet: the least that explains the stretches, ln."""
    if not ln_turns.size or not levels.size:
        return 0.0
    near = np.abs(levels[None, :, None] - ln_turns[None, None, :] - _SCALES[:, None, None]).min(axis=2)
    cost = (weights * np.minimum(near / SAME_GEAR, 4.0) ** 2).sum(axis=1) / weights.sum()
    return float(_SCALES[int(np.argmin(cost + 0.5 * np.abs(_SCALES / 0.05)))])


def slips(
    ln_q: FloatArray, ln_rps: FloatArray, ln_speed: FloatArray, held: tuple[Held, ...], hop_s: float
) -> tuple[tuple[int, int, int, float], ...]:
    """Stretches (start, stop, gear, most excess) in which q rises above that of the gear held before and comes back to
    it, while neither engine nor road slows down: the clutch, not a change of gear.
    """
    out = []
    need = round(SLIP_S / hop_s)
    for number, before in enumerate(held[:-1]):
        after = next((h for h in held[number + 1 :] if abs(h.ln_q - before.ln_q) < 1.5 * SAME_GEAR), None)
        if after is None or (after.start - before.stop) * hop_s > _SLIP_LONGEST_S:
            continue
        part = slice(before.stop, after.start)
        over = ln_q[part] - 0.5 * (before.ln_q + after.ln_q)
        high = np.isfinite(over) & (over > SLIP_FROM)
        if high.sum() < need or np.nanmax(over) > SLIP_MOST or high.mean() < 0.6:
            continue
        rising = ln_speed[after.start] - ln_speed[before.stop] > -0.02
        engine = np.nanmax(ln_rps[part]) - ln_rps[before.stop - 1] > 0.5 * SLIP_FROM
        if rising and engine:
            at = np.flatnonzero(high)
            out.append(
                (before.stop + int(at[0]), before.stop + int(at[-1]) + 1, before.gear, float(np.expm1(np.nanmax(over))))
            )
    return tuple(out)
