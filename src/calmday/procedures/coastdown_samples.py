"""The parts of recordings that are rolls in neutral: found by their slowing down, cut by speed, averaged into bins."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.errors import InputError
from calmday.records.coastdown import CoastdownDay, CoastdownPass
from calmday.records.track import FIRST_CLOCK_S, Track
from calmday.reduction.projection import Plane, plane_for
from calmday.reduction.track import reduce_track

FloatArray = NDArray[np.float64]

MOST_BINS: Final = 40
FEWEST_BINS: Final = 12
ALL_BINS: Final = 480
"""Readings of a whole day: their covariance is a square of that many."""
FEWEST_SAMPLES: Final = 6
LEAST_DURATION_S: Final = 8.0
LEAST_DROP_MPS: Final = 8 / 3.6
SLOPE_WINDOW_S: Final = 5.0
HARDEST_MPS2: Final = 1.0
"""No road vehicle rolls to a halt faster than this without brakes; trade."""
BRAKING_RATIO, BRAKING_MORE_MPS2 = 1.3, 0.12
"""Late slowing that is this much harder than the early slowing is the brake: a free roll slows less and less."""
CREEP_MPS: Final = 1.5
LEAST_NOISE_MPS: Final = 0.02
SMOOTHED_NOISE_MPS: Final = 0.15
"""Speed of a path without the receiver's own: its errors hang together over seconds. Assumed."""
APART_S: Final = 600.0
"""Passes without a clock are taken as so far apart."""


class PassSamples(msgspec.Struct, frozen=True, kw_only=True):
    """One roll as bins (n,). `noise_mps` of each bin's mean speed; `place_m` east and north (n, 2), NaN without
    positions; `heading_rad` NaN where not known; `source` which [[pass]] it came from, 0 first."""

    source: int
    time_s: FloatArray
    clock_s: FloatArray
    speed_mps: FloatArray
    noise_mps: FloatArray
    heading_rad: FloatArray
    place_m: FloatArray
    height_m: FloatArray
    doppler: bool
    declared: CoastdownPass

    @property
    def duration_s(self) -> float:
        return float(self.time_s[-1] - self.time_s[0])

    @property
    def has_height(self) -> bool:
        """Whether every bin has a height."""
        return bool(np.isfinite(self.height_m).all())

    @property
    def heading_known(self) -> bool:
        return bool(np.isfinite(self.heading_rad).all())


class _Signals(msgspec.Struct, frozen=True, kw_only=True):
    clock: FloatArray
    speed: FloatArray
    heading: FloatArray
    place: FloatArray
    height: FloatArray
    doppler: bool


def samples_of_day(day: CoastdownDay) -> list[PassSamples]:
    """Every roll of a day in the order of the file. Raises InputError for a [[pass]] that holds none."""
    cut: list[tuple[int, CoastdownPass, _Signals, slice]] = []
    plane: Plane | None = None
    for number, one in enumerate(day.passes):
        signals, plane = _signals(one.track, plane)
        parts = rolls_in(signals.clock, signals.speed, one.from_speed_mps, one.to_speed_mps)
        if not parts:
            raise InputError.one(
                day.file, f"pass[{number}].track", "holds no roll: nowhere does it slow steadily by 8 km/h or more",
                "a recording of the vehicle slowing in neutral, from_speed and to_speed within it",
            )  # fmt: skip
        cut += [(number, one, signals, part) for part in parts]
    most = min(MOST_BINS, max(FEWEST_BINS, ALL_BINS // len(cut))) if cut else MOST_BINS
    return _spread_in_time([_binned(*each, most) for each in cut])


def _signals(track: Track, plane: Plane | None) -> tuple[_Signals, Plane | None]:
    """Speed, heading, place and height over the clock: the receiver's own speed where recorded, else the path's."""
    usable = np.isfinite(track.time_s) & np.isfinite(track.speed_mps)
    placed = np.isfinite(track.latitude_deg)
    if usable.sum() < max(FEWEST_SAMPLES, 0.5 * len(track)) and placed.any():
        reduced = reduce_track(track)
        if plane is None:
            plane = plane_for(reduced.latitude_deg, reduced.longitude_deg)
        place = np.stack(plane.to_plane(reduced.latitude_deg, reduced.longitude_deg), axis=1)
        height = reduced.height_m if reduced.has_height else np.full(len(place), np.nan)
        return _Signals(
            clock=reduced.time_s, speed=reduced.speed_mps, heading=reduced.heading_rad, place=place, height=height,
            doppler=False,
        ), plane  # fmt: skip
    rows = np.flatnonzero(usable)[np.argsort(track.time_s[usable], kind="stable")]
    rows = rows[np.concatenate([[True], np.diff(track.time_s[rows]) > 0])] if rows.size else rows
    place = np.full((rows.size, 2), np.nan)
    if rows.size and np.isfinite(track.latitude_deg[rows]).all():
        if plane is None:
            plane = plane_for(track.latitude_deg[rows], track.longitude_deg[rows])
        place = np.stack(plane.to_plane(track.latitude_deg[rows], track.longitude_deg[rows]), axis=1)
    heading = np.radians(track.course_deg[rows])
    if np.isfinite(place).all() and rows.size > 2:
        heading = _way_of(place, track.time_s[rows], heading)
    return _Signals(
        clock=track.time_s[rows], speed=track.speed_mps[rows], heading=heading, place=place,
        height=track.height_m[rows], doppler=True,
    ), plane  # fmt: skip


def _way_of(place: FloatArray, time: FloatArray, course: FloatArray) -> FloatArray:
    """Heading over about ten seconds of path: steadier than the course of single fixes."""
    reach = max(1, round(5.0 / max(float(np.median(np.diff(time))), 1e-3)))
    ahead = np.minimum(np.arange(len(place)) + reach, len(place) - 1)
    behind = np.maximum(np.arange(len(place)) - reach, 0)
    step = place[ahead] - place[behind]
    found = np.arctan2(step[:, 0], step[:, 1])
    return np.where(np.hypot(step[:, 0], step[:, 1]) > 10.0, found, course)


def rolls_in(clock: FloatArray, speed: FloatArray, high: float | None, low: float | None) -> list[slice]:
    """Stretches that slow down as a free vehicle does, by at least 8 km/h, within the speeds given (m/s)."""
    if clock.size < FEWEST_SAMPLES:
        return []
    slowing = _slope(clock, speed)
    fine = (slowing < 0.02) & (slowing > -HARDEST_MPS2) & (speed > CREEP_MPS)
    parts = []
    for start, stop in _runs(fine):
        trimmed = _without_ends(clock, speed, slowing, start, stop)
        if trimmed is None:
            continue
        first, last = _between(speed, *trimmed, high, low)
        long = last - first >= FEWEST_SAMPLES and clock[last - 1] - clock[first] >= LEAST_DURATION_S
        if long and speed[first : first + 3].mean() - speed[last - 3 : last].mean() >= 0.8 * LEAST_DROP_MPS:
            parts.append(slice(first, last))
    return parts


def _slope(clock: FloatArray, speed: FloatArray) -> FloatArray:
    """Slope of speed over a sliding window, by least squares on running sums."""
    reach = max(SLOPE_WINDOW_S / 2, 1.6 * float(np.median(np.diff(clock))))
    first = np.searchsorted(clock, clock - reach)
    last = np.searchsorted(clock, clock + reach, side="right")
    t = clock - clock[0]
    sums = [np.concatenate([[0.0], np.cumsum(x)]) for x in (np.ones_like(t), t, speed, t * t, t * speed)]
    n, st, sv, stt, stv = (s[last] - s[first] for s in sums)
    below = n * stt - st * st
    fine = (n >= 3) & (below > 1e-9)
    return np.asarray(np.divide(n * stv - st * sv, below, out=np.zeros_like(t), where=fine))


def _runs(fine: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fine, [False]]).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _without_ends(
    clock: FloatArray, speed: FloatArray, slowing: FloatArray, start: int, stop: int
) -> tuple[int, int] | None:
    """A run without steady driving before the roll and without the brake after it."""
    first = start + int(np.argmax(speed[start:stop][: max(1, (stop - start) // 2)]))
    rolling = np.flatnonzero(slowing[first:stop] < -0.03)
    if rolling.size < FEWEST_SAMPLES:
        return None
    first += int(rolling[0])
    third = first + max(3, (stop - first) // 3)
    hardest = -float(np.quantile(slowing[first:third], 0.1))
    late = np.flatnonzero(-slowing[third:stop] > BRAKING_RATIO * hardest + BRAKING_MORE_MPS2)
    if late.size:
        stop = third + int(late[0])
        stop = int(np.searchsorted(clock, clock[stop - 1] - SLOPE_WINDOW_S / 2))
    return (first, stop) if stop > first else None


def _between(speed: FloatArray, start: int, stop: int, high: float | None, low: float | None) -> tuple[int, int]:
    smooth = np.convolve(np.pad(speed[start:stop], 1, mode="edge"), np.full(3, 1 / 3), mode="valid")
    if high is not None:
        above = np.flatnonzero(smooth > high)
        start_in = int(above[-1]) + 1 if above.size else 0
    else:
        start_in = 0
    if low is not None:
        under = np.flatnonzero(smooth[start_in:] < low)
        stop_in = start_in + int(under[0]) if under.size else smooth.size
    else:
        stop_in = smooth.size
    return start + start_in, start + stop_in


def speed_noise_mps(clock: FloatArray, speed: FloatArray) -> float:
    """Noise of single readings, from how each stands off the mean of its neighbours; at least that of their step."""
    off = speed[1:-1] - 0.5 * (speed[:-2] + speed[2:])
    noise = 1.4826 * float(np.median(np.abs(off - np.median(off)))) / math.sqrt(1.5) if off.size else 0.0
    steps = np.unique(np.round(np.abs(np.diff(np.unique(speed))), 6))
    step = float(steps[steps > 1e-4].min()) if (steps > 1e-4).any() else 0.0
    return max(noise, min(step, 0.6) / math.sqrt(12), LEAST_NOISE_MPS)


def _binned(number: int, one: CoastdownPass, signals: _Signals, part: slice, most: int) -> PassSamples:
    clock, speed = signals.clock[part], signals.speed[part]
    count = min(most, clock.size)
    edges = np.linspace(clock[0], clock[-1], count + 1)
    which = np.clip(np.searchsorted(edges, clock, side="right") - 1, 0, count - 1)
    filled = np.bincount(which, minlength=count)
    keep = filled > 0

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(which, values, minlength=count)[keep] / filled[keep])

    noise = speed_noise_mps(clock, speed)
    east, north = mean(np.sin(signals.heading[part])), mean(np.cos(signals.heading[part]))
    heading = np.arctan2(east, north)
    if one.heading_deg is not None:
        heading = np.full(heading.size, math.radians(one.heading_deg))
    single = noise / np.sqrt(filled[keep]) if signals.doppler else np.full(int(keep.sum()), SMOOTHED_NOISE_MPS)
    time = mean(clock)
    return PassSamples(
        source=number, time_s=time - time[0], clock_s=time, speed_mps=mean(speed), noise_mps=single,
        heading_rad=heading,
        place_m=np.stack([mean(signals.place[part, 0]), mean(signals.place[part, 1])], axis=1),
        height_m=mean(signals.height[part]), doppler=signals.doppler, declared=one,
    )  # fmt: skip


def _spread_in_time(passes: list[PassSamples]) -> list[PassSamples]:
    """Give passes whose files count seconds from their own start a clock: one after the other."""
    if all(one.clock_s[0] > FIRST_CLOCK_S for one in passes):
        return passes
    placed, next_start = [], 0.0
    for one in passes:
        clock = next_start + one.time_s
        next_start = float(clock[-1]) + APART_S
        placed.append(msgspec.structs.replace(one, clock_s=clock))
    return placed
