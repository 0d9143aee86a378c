"""The part of a recording that is the pull: speed against time in one gear, with heading and grade."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.errors import InputError
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.records.pull import Pull
from calmday.records.track import FIRST_CLOCK_S, Track
from calmday.reduction.track import reduce_track

FloatArray = NDArray[np.float64]

DECLARED_GRADE_SD: Final = 0.003
"""Doubt of a grade that somebody stated without saying how well it is known. Assumed."""
UNKNOWN_GRADE_SD: Final = 0.006
"""A road taken for level that nobody measured. Assumed."""
RISE_SD_M: Final = 2.0
"""A rise read off the contours of a map. Assumed."""
RECEIVER_DRIFT_M: Final = 1.2
"""How far the height of a receiver wanders over the seconds of a pull, one standard deviation. Assumed."""

FEWEST_SAMPLES: Final = 6
STANDING_MPS: Final = 0.8
"""Below this a receiver that stands may still say that it moves."""
_TIMED_SAMPLES: Final = 20


class PullSamples(msgspec.Struct, frozen=True, kw_only=True):
    """Samples of one pull, (n,): seconds from its start, speed, heading (NaN: not known), times since 1970.

    `grade` and `grade_sd` rise over run, one figure for the pull; `grade_source` in words. `height_m` above sea, NaN
    where not recorded. `timed` for a climb timed by hand, whose speed is its mean.
    """

    time_s: FloatArray
    clock_s: FloatArray
    speed_mps: FloatArray
    heading_rad: FloatArray
    grade: float
    grade_sd: float
    grade_source: str
    height_m: float
    timed: bool

    @property
    def duration_s(self) -> float:
        return float(self.time_s[-1] - self.time_s[0])

    def mean_over_time(self, values: FloatArray) -> float:
        """Mean of a signal (n,) over the time of the pull."""
        return _area(self.time_s, values) / self.duration_s


def _area(time: FloatArray, values: FloatArray) -> float:
    return float(np.sum(np.diff(time) * (values[1:] + values[:-1])) / 2)


def samples_of(pull: Pull, where: str, clock_s: float) -> list[PullSamples]:
    """The samples of a pull: one set for a track, one for each timing of a climb timed by hand.

    `where` how a fault names the pull as file and key; `clock_s` a time for pulls that have none. Raises InputError.
    """
    if pull.track is None:
        return [_timed(pull, seconds, clock_s) for seconds in pull.times_s]
    time, clock, speed, heading, height = _signals(pull.track, where)
    part = _window(pull, time, speed, where)
    grade, sd, source = _grade(pull, time[part], speed[part], height[part])
    return [
        PullSamples(
            time_s=time[part] - time[part.start],
            clock_s=clock[part] if clock[part.start] > FIRST_CLOCK_S else np.full(time[part].size, clock_s),
            speed_mps=speed[part],
            heading_rad=_declared_heading(pull, heading[part]),
            grade=grade,
            grade_sd=sd,
            grade_source=source,
            height_m=_mean_known(height[part]),
            timed=False,
        )
    ]


def _timed(pull: Pull, seconds: float, clock_s: float) -> PullSamples:
    assert pull.length_m is not None
    time = np.linspace(0.0, seconds, _TIMED_SAMPLES)
    speed = np.full(time.size, pull.length_m.value / seconds)
    grade, sd, source = _grade(pull, time, speed, np.full(time.size, np.nan))
    return PullSamples(
        time_s=time,
        clock_s=np.full(time.size, clock_s),
        speed_mps=speed,
        heading_rad=_declared_heading(pull, np.full(time.size, np.nan)),
        grade=grade,
        grade_sd=sd,
        grade_source=source,
        height_m=math.nan,
        timed=True,
    )


def _mean_known(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else math.nan


def _declared_heading(pull: Pull, found: FloatArray) -> FloatArray:
    if pull.heading_deg is None:
        return found
    return np.full(found.size, math.radians(pull.heading_deg))


def _signals(track: Track, where: str) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Time, clock, speed, heading (rad) and height. The receiver's own speed where recorded, else that of the path."""
    usable = np.isfinite(track.time_s) & np.isfinite(track.speed_mps)
    if usable.sum() >= max(FEWEST_SAMPLES, 0.5 * len(track)):
        order = np.argsort(track.time_s[usable], kind="stable")
        rows = np.flatnonzero(usable)[order]
        rows = rows[np.concatenate([[True], np.diff(track.time_s[rows]) > 0])]
        clock = track.time_s[rows]
        heading = np.radians(track.course_deg[rows])
        if np.isfinite(track.latitude_deg[rows]).all() and not np.isfinite(heading).all():
            heading = _bearing(track.latitude_deg[rows], track.longitude_deg[rows])
        return clock - clock[0], clock, track.speed_mps[rows], heading, track.height_m[rows]
    if not np.isfinite(track.latitude_deg).any():
        raise _too_short(int(usable.sum()), where)
    reduced = reduce_track(track)
    height = reduced.height_m if reduced.has_height else np.full(reduced.time_s.size, np.nan)
    return reduced.time_s - reduced.time_s[0], reduced.time_s, reduced.speed_mps, reduced.heading_rad, height


def _bearing(latitude_deg: FloatArray, longitude_deg: FloatArray) -> FloatArray:
    """Direction of the whole way from its first to its last fix, clockwise from north; a pull is driven straight."""
    north = latitude_deg[-1] - latitude_deg[0]
    east = (longitude_deg[-1] - longitude_deg[0]) * math.cos(math.radians(float(latitude_deg.mean())))
    return np.full(latitude_deg.size, math.atan2(float(east), float(north)))


def _window(pull: Pull, time: FloatArray, speed: FloatArray, where: str) -> slice:
    """The pull within its recording: between the stated speeds, else from the slowest sample to the fastest."""
    if pull.kind == "start":
        part = _from_rest(speed, where)
    elif pull.kind == "climb":
        fine = (speed >= (pull.from_speed_mps or 1.0)) & (speed <= (pull.to_speed_mps or math.inf))
        part = _longest(fine)
    else:
        # one noisy reading must not be the end because it is the highest
        smooth = np.convolve(np.pad(speed, 1, mode="edge"), np.full(3, 1 / 3), mode="valid")
        stop = int(np.argmax(smooth)) if pull.to_speed_mps is None else _first_above(smooth, pull.to_speed_mps)
        before = smooth[: stop + 1]
        start = int(np.argmin(before)) if before.size else 0
        if pull.from_speed_mps is not None and before.size:
            below = np.flatnonzero(before < pull.from_speed_mps)
            start = min(int(below[-1]) + 1, stop) if below.size else 0
        part = slice(start, stop + 1)
    if part.stop - part.start < FEWEST_SAMPLES:
        raise _too_short(part.stop - part.start, where)
    return part


def _from_rest(speed: FloatArray, where: str) -> slice:
    """From the last standstill before the fastest place to that place."""
    smooth = np.convolve(np.pad(speed, 1, mode="edge"), np.full(3, 1 / 3), mode="valid")
    stop = int(np.argmax(smooth))
    standing = np.flatnonzero(speed[: stop + 1] < STANDING_MPS)
    if standing.size == 0:
        file, _, key = where.partition(": ")
        raise InputError.one(file, key, "does not begin at rest", "a recording that begins before the wheels turn")
    return slice(int(standing[-1]), stop + 1)


def _too_short(samples: int, where: str) -> InputError:
    file, _, key = where.partition(": ")
    wrong = f"holds only {samples} samples of the pull, fewer than {FEWEST_SAMPLES}"
    return InputError.one(file, key, wrong, "a longer pull or a faster recording, from_speed and to_speed within it")


def _first_above(speed: FloatArray, limit: float) -> int:
    above = np.flatnonzero(speed > limit)
    return int(above[0]) - 1 if above.size else speed.size - 1


def _longest(fine: NDArray[np.bool_]) -> slice:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fine, [False]]).astype(np.int8)))
    if edges.size == 0:
        return slice(0, 0)
    starts, stops = edges[::2], edges[1::2]
    best = int(np.argmax(stops - starts))
    return slice(int(starts[best]), int(stops[best]))


def _grade(pull: Pull, time: FloatArray, speed: FloatArray, height: FloatArray) -> tuple[float, float, str]:
    """Grade of the pull, its standard deviation, and where it comes from."""
    if pull.grade is not None:
        half = pull.grade.half_width
        return pull.grade.value, half / HALF_WIDTH_PER_SD if half else DECLARED_GRADE_SD, "declared"
    way = _area(time, speed)
    if pull.rise_m is not None:
        length = pull.length_m.value if pull.length_m is not None else way
        half = pull.rise_m.half_width
        sd = (half / HALF_WIDTH_PER_SD if half else RISE_SD_M) / length
        sine = pull.rise_m.value / length
        return sine / math.sqrt(max(1 - sine**2, 1e-6)), sd, "rise over length, declared"
    known = np.isfinite(height)
    if known.sum() >= FEWEST_SAMPLES and way > 20.0:
        along = np.concatenate([[0.0], np.cumsum(np.diff(time) * (speed[1:] + speed[:-1]) / 2)])
        slope = float(np.polyfit(along[known], height[known], 1)[0])
        return slope, math.hypot(1.7 * RECEIVER_DRIFT_M / way, 0.001), "heights of the receiver"
    return 0.0, UNKNOWN_GRADE_SD, "taken for level"
