"""Raw fixes put in order: unusable ones dropped and counted, impossible jumps taken out, stretches told apart."""

from __future__ import annotations

from bisect import bisect_right

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.errors import InputError
from calmday.metrology.middle import median
from calmday.metrology.rounding import counted
from calmday.records.track import Track
from calmday.reduction.excursions import excursions
from calmday.reduction.reduced_track import TrackFinding

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

BRIDGED_GAP_S = 20.0
"""A hole up to this long is filled in with the motion on either side (a tunnel, a bridge, a lost second or two)."""
_FASTEST_MPS = 95.0
_JUMP_ALLOWANCE_M = 60.0
_SHORT_EPISODE_S = 60.0
_METRE_PER_DEG = 111_200.0
_FOOTING = 3
"""So many fixes before a jump vouch for the place it left from; one of them may be wild."""
_LONGEST_TRACK_S = 14 * 86_400.0


class Fixes(msgspec.Struct, frozen=True, kw_only=True):
    """Usable fixes in time order. `stretch` counts up at every hole too long to be bridged. NaN: not recorded."""

    time_s: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    height_m: FloatArray
    speed_mps: FloatArray
    course_deg: FloatArray
    hdop: FloatArray
    stretch: IntArray
    findings: tuple[TrackFinding, ...]

    def __len__(self) -> int:
        return int(self.time_s.size)


def clean(track: Track) -> Fixes:
    """Order a track's fixes in time and drop those that cannot be used. InputError where fewer than two remain."""
    findings = [TrackFinding("reader", 1, note) for note in track.notes]
    file = ", ".join(track.files) or "track"
    placed = _placed(track)
    timed = np.isfinite(track.time_s)
    if not timed.any():
        raise InputError.one(file, "time", "no fix carries a time", "a track recorded with times, to give speeds")
    if (placed & ~timed).any():
        count = int((placed & ~timed).sum())
        findings.append(TrackFinding("no times", count, f"{counted(count, 'fix', 'fixes')} without a time left out"))
    keep = np.flatnonzero(placed & timed)
    keep = keep[_by_stretch(track.time_s[keep], track.segment[keep])]
    keep = _forward_in_time(track.time_s, keep, findings)
    keep = _without_jumps(track, keep, findings)
    keep = _without_excursions(track, keep, findings)
    if keep.size < 2:
        right = "at least two fixes with a time and a position"
        raise InputError.one(
            file, "track", f"{counted(keep.size, 'usable fix', 'usable fixes')} of {len(track)}", right
        )
    time = track.time_s[keep]
    if time[-1] - time[0] > _LONGEST_TRACK_S:
        days = (time[-1] - time[0]) / 86_400
        raise InputError.one(file, "time", f"fixes span {days:.0f} days", "the track of one drive, at most 14 days")
    return Fixes(
        time_s=time,
        latitude_deg=track.latitude_deg[keep],
        longitude_deg=track.longitude_deg[keep],
        height_m=_plausible(track.height_m[keep], -500.0, 9000.0),
        speed_mps=_plausible(track.speed_mps[keep], 0.0, 150.0),
        course_deg=_plausible(track.course_deg[keep], -360.0, 720.0),
        hdop=_plausible(track.hdop[keep], 0.01, 99.0),
        stretch=_stretches(time),
        findings=tuple(findings),
    )


def _plausible(value: FloatArray, low: float, high: float) -> FloatArray:
    with np.errstate(invalid="ignore"):
        return np.where((value >= low) & (value <= high), value, np.nan)


def _placed(track: Track) -> BoolArray:
    """Fixes with a position; 0 N 0 E is what a receiver writes before it has one."""
    lat, lon = track.latitude_deg, track.longitude_deg
    with np.errstate(invalid="ignore"):
        inside = (np.abs(lat) < 89.9) & (np.abs(lon) <= 360.0)
    return np.asarray(inside & ~((lat == 0.0) & (lon == 0.0)))


def _by_stretch(time_s: FloatArray, segment: IntArray) -> IntArray:
    """Recorded pieces in the order of their first times, for files named in the wrong order."""
    breaks = np.flatnonzero(np.diff(segment) != 0) + 1
    if not breaks.size:
        return np.arange(time_s.size)
    pieces = np.split(np.arange(time_s.size), breaks)
    pieces.sort(key=lambda piece: median(time_s[piece]))
    return np.concatenate(pieces)


def _forward_in_time(time_s: FloatArray, keep: IntArray, findings: list[TrackFinding]) -> IntArray:
    """The longest run of fixes whose times go forward; the rest is doubled or backward."""
    time = time_s[keep]
    step = np.diff(time)
    if (step > 0).all():
        return keep
    doubled = np.concatenate([[False], step == 0])
    if doubled.any():
        count = int(doubled.sum())
        findings.append(
            TrackFinding(
                "doubled times", count, f"{counted(count, 'fix bears', 'fixes bear')} the time of the one before"
            )
        )
        keep, time = keep[~doubled], time[~doubled]
    if (np.diff(time) > 0).all():
        return keep
    chosen = _longest_ascent(time)
    if chosen.size < time.size / 2:  # written last first, or in no order at all: then the clock gives the order
        order = np.argsort(time, kind="stable")
        keep = keep[order][np.concatenate([[True], np.diff(time[order]) > 0])]
        findings.append(TrackFinding("backward times", int(time.size), "fixes in no order of time; sorted by it"))
        return keep
    lost = int(time.size - chosen.size)
    findings.append(
        TrackFinding("backward times", lost, f"{counted(lost, 'fix', 'fixes')} whose clock runs backward left out")
    )
    return keep[chosen]


def _longest_ascent(values: FloatArray) -> IntArray:
    """Indices of the longest strictly ascending subsequence (Schensted 1961; Fredman 1975), n log n."""
    tails: list[float] = []
    ends: list[int] = []
    before = np.full(values.size, -1, dtype=np.int64)
    for i, value in enumerate(values.tolist()):
        place = bisect_right(tails, value)
        if place and tails[place - 1] == value:
            continue
        if place == len(tails):
            tails.append(value)
            ends.append(i)
        else:
            tails[place] = value
            ends[place] = i
        before[i] = ends[place - 1] if place else -1
    chain = []
    at = ends[-1]
    while at >= 0:
        chain.append(at)
        at = int(before[at])
    return np.array(chain[::-1], dtype=np.int64)


def _without_jumps(track: Track, keep: IntArray, findings: list[TrackFinding]) -> IntArray:
    """Leave out short episodes that no vehicle could have driven to and back."""
    lat, lon, time = track.latitude_deg[keep], track.longitude_deg[keep], track.time_s[keep]
    bad = np.flatnonzero(~_reachable(lat[:-1], lon[:-1], time[:-1], lat[1:], lon[1:], time[1:]))
    if not bad.size:
        return keep
    starts = np.concatenate([[0], bad + 1])
    stops = np.concatenate([bad + 1, [keep.size]])
    good = np.ones(keep.size, dtype=bool)
    anchor = int(np.argmax(stops - starts))
    for order in (range(anchor + 1, starts.size), range(anchor - 1, -1, -1)):
        sign = 1 if order.step > 0 else -1
        footing = np.arange(starts[anchor], stops[anchor])[::sign][-_FOOTING:]
        for g in order:
            piece = np.arange(starts[g], stops[g])[::sign]
            near = np.full(footing.size, piece[0])
            a, b = (footing, near) if sign > 0 else (near, footing)
            joined = _reachable(lat[a], lon[a], time[a], lat[b], lon[b], time[b]).mean() >= 0.5
            if joined or abs(time[piece[-1]] - time[piece[0]]) > _SHORT_EPISODE_S:
                footing = np.concatenate([footing, piece])[-_FOOTING:]
            else:
                good[piece] = False
    lost = int((~good).sum())
    if lost:
        findings.append(
            TrackFinding("outliers", lost, f"{counted(lost, 'fix', 'fixes')} at places no vehicle could have reached")
        )
    return keep[good]


def _without_excursions(track: Track, keep: IntArray, findings: list[TrackFinding]) -> IntArray:
    """Leave out a few fixes in a row that jump aside together and back again."""
    latitude, longitude = track.latitude_deg[keep], track.longitude_deg[keep]
    if not keep.size:
        return keep
    around = ((longitude - longitude[0] + 180) % 360 - 180) * np.cos(np.radians(latitude))
    aside = excursions(track.time_s[keep], _METRE_PER_DEG * around, _METRE_PER_DEG * (latitude - latitude[0]))
    lost = int(aside.sum())
    if lost:
        words = f"{counted(lost, 'fix that jumps', 'fixes that jump')} aside and back left out"
        findings.append(TrackFinding("outliers", lost, words))
    return keep[~aside]


def _reachable(
    lat0: FloatArray, lon0: FloatArray, time0: FloatArray, lat1: FloatArray, lon1: FloatArray, time1: FloatArray
) -> BoolArray:
    east = ((lon1 - lon0 + 180) % 360 - 180) * np.cos(np.radians(lat0))
    apart = _METRE_PER_DEG * np.hypot(lat1 - lat0, east)
    return np.asarray(apart <= _FASTEST_MPS * (time1 - time0) + _JUMP_ALLOWANCE_M)


def _stretches(time_s: FloatArray) -> IntArray:
    """Number the stretches between holes that are too long to bridge, by the recorder's own habit."""
    step = np.diff(time_s)
    limit = max(BRIDGED_GAP_S, min(6.0 * median(step), 120.0))
    return np.concatenate([[0], np.cumsum(step > limit)]).astype(np.int64)
