"""Holes in the recording: which are bridged, and how far the vehicle went across those that are not."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from calmday.metrology.middle import median
from calmday.reduction.fixes import Fixes
from calmday.reduction.motion import Motion
from calmday.reduction.places import FloatArray, IntArray, Path
from calmday.reduction.reduced_track import Gap

_PARKED_M = 25.0
_ROUND_M = 100.0
_UNDER_WAY_MPS = 8.0
_STRAIGHT_ALLOWANCE = 0.04
"""Roads are longer than the straight line across: a few percent at least (assumed)."""
_LONGEST_DETOUR = 1.6
_LAP_SD_M = 10.0
_WHOLE_LAP_DOUBT = 0.25
_TOLD_S = 3.0


class Hole(msgspec.Struct, frozen=True):
    """A hole too long to bridge: the grid stops at sample `before` and goes on at the next; distance across it."""

    before: int
    start_s: float
    end_s: float
    chord_m: float
    distance_m: float
    sd_m: float


def holes_of(motion: Motion, chord_scale: FloatArray) -> list[Hole]:
    """The holes between stretches, with the way across from the straight line and the speeds on either side.

    The way is at least the straight line, and hardly more than the speeds before and after would have covered;
    halfway between the two, with their distance as its doubt. `chord_scale` map plane over true length per sample.
    """
    out = []
    for i in np.flatnonzero(np.diff(motion.segment) > 0).tolist():
        seconds = float(motion.time_s[i + 1] - motion.time_s[i])
        chord = math.hypot(*(motion.place[i + 1] - motion.place[i])) / float(chord_scale[i])
        under_way = min(motion.speed_mps[i], motion.speed_mps[i + 1]) > _UNDER_WAY_MPS
        if chord < _PARKED_M and not under_way:
            out.append(Hole(i, float(motion.time_s[i]), float(motion.time_s[i + 1]), chord, 0.0, chord))
            continue
        speed = _usual_speed(motion, i)
        least = chord * (1 + _STRAIGHT_ALLOWANCE / 2)
        most = max(speed * seconds, least)
        # Under way at both ends of a hole that ends where it began: it went round and came back, however far that is.
        if not (under_way and chord < _ROUND_M):
            most = min(most, _LONGEST_DETOUR * chord)
        way = (least + most) / 2
        sd = math.hypot((most - least) / math.sqrt(12), _STRAIGHT_ALLOWANCE / 2 * chord)
        out.append(Hole(i, float(motion.time_s[i]), float(motion.time_s[i + 1]), chord, way, sd))
    return out


def _usual_speed(motion: Motion, sample: int) -> float:
    """Mean moving speed within a minute of a hole, on either side [m/s]."""
    near = motion.speed_mps[max(0, sample - 59) : sample + 61]
    moving = near[near > 1.0]
    return float(moving.mean()) if moving.size else 0.0


def along_known_road(holes: list[Hole], path: Path, first_same: IntArray, motion: Motion, lap_m: float) -> list[Hole]:
    """Holes measured along another pass of the same road, where the drive has one.

    Where the time would do for whole laps of `lap_m` more (0: no laps), they were driven, with some doubt.
    """
    cuts = np.searchsorted(path.sample, [hole.before + 0.5 for hole in holes])
    out = []
    for hole in holes:
        way = _on_other_pass(hole, path, first_same, cuts) if hole.distance_m > 0 else None
        went_round = hole.chord_m < _ROUND_M and hole.distance_m > _LONGEST_DETOUR * hole.chord_m
        if went_round:
            way = hole.chord_m if lap_m > 0 else None
        if way is None:
            out.append(hole)
            continue
        sd = _LAP_SD_M
        if lap_m > 0:
            covered = _usual_speed(motion, hole.before) * (hole.end_s - hole.start_s)
            more = max(0, round((covered - way) / lap_m))
            way += more * lap_m
            sd += _WHOLE_LAP_DOUBT * lap_m * (more > 0)
        out.append(msgspec.structs.replace(hole, distance_m=way, sd_m=sd))
    return out


def _on_other_pass(hole: Hole, path: Path, first_same: IntArray, cuts: IntArray) -> float | None:
    """Length of the way from the place before the hole to the place after it on the nearest other pass."""
    start = int(np.searchsorted(path.sample, hole.before, side="right")) - 1
    stop = int(np.searchsorted(path.sample, hole.before + 1))
    if start < 1 or stop >= len(path) - 1:
        return None
    starts = _passes_at(path, first_same, start)
    stops = _passes_at(path, first_same, stop)
    ways = []
    for i in starts:
        later = [j for j in stops if j > i]
        if not later or any(i < cut <= later[0] for cut in cuts.tolist()):
            continue
        j = later[0]
        ends = _ahead(path, j, hole.before + 1) - _ahead(path, i, hole.before)
        ways.append((j - i) * path.node_m + ends)
    ways = [way for way in ways if way > 0.97 * hole.chord_m]
    return median(ways) if ways else None


def _passes_at(path: Path, first_same: IntArray, node: int) -> list[int]:
    """Nodes of the other passes that lie nearest to a node."""
    near = np.flatnonzero(np.abs(first_same - first_same[node]) <= 2)
    near = near[np.abs(near - node) > 5]
    if not near.size:
        return []
    off = np.hypot(path.east_m - path.east_m[node], path.north_m - path.north_m[node])
    groups = np.split(near, np.flatnonzero(np.diff(near) > 5) + 1)
    return [int(group[np.argmin(off[group])]) for group in groups]


def _ahead(path: Path, node: int, sample: int) -> float:
    """How far ahead of a node of another pass a sample of this pass lies [m]."""
    here = int(np.argmin(np.abs(path.sample - sample)))
    part = (sample - path.sample[here]) * path.node_m
    span = path.sample[min(here + 1, len(path) - 1)] - path.sample[max(here - 1, 0)]
    lead = 2 * part / span if span > 0 and abs(path.sample[here] - sample) < 3 else 0.0
    off_e, off_n = path.east_m[here] - path.east_m[node], path.north_m[here] - path.north_m[node]
    return float(off_e * path.along[node, 0] + off_n * path.along[node, 1] + lead)


def list_gaps(fixes: Fixes, motion: Motion, holes: list[Hole], distance_m: FloatArray) -> tuple[Gap, ...]:
    """All holes worth telling in order of time, those bridged with the way driven in them."""
    step = np.diff(fixes.time_s)
    usual = median(step)
    bridged = np.flatnonzero((step > max(_TOLD_S, 3 * usual)) & (np.diff(fixes.stretch) == 0))
    out = [Gap(hole.start_s, hole.end_s, hole.distance_m, False, hole.sd_m) for hole in holes]
    for i in bridged.tolist():
        begin, end = float(fixes.time_s[i]), float(fixes.time_s[i + 1])
        a, b = np.interp([begin, end], motion.time_s, distance_m)
        out.append(Gap(begin, end, float(b - a), True))
    return tuple(sorted(out, key=lambda gap: gap.start_s))
