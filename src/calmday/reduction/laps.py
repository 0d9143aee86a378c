"""Laps found from the way driven: the same place again, in the same direction."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.middle import median
from calmday.reduction.places import Path
from calmday.reduction.reduced_track import Span

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LAP_SPREAD = 0.06
"""Lengths of laps of one course agree this well; other returns to a place (a junction) do not."""
_GATES = 24
_LEAST_LAP_M = 300.0
_END_TOLERANCE_M = 60.0
_END_SHARE = 0.015
_ONE_LAP_SHARE = 0.02
_LEAST_COVERED = 0.4
"""Laps make up at least this share of a lap drive; less is a block driven round twice on the way."""
_LEAST_SHARED = 0.3
"""Less of a course than this driven again is a crossing or a shared street, not a second lap."""
_ROAD_BACK_SHARE = 0.7


class Course(msgspec.Struct, frozen=True):
    """Laps as sample spans, whether the drive comes back to where it began, the samples, with fractions, at which the
    laps begin and end, and the usual length of a lap where there are several (else 0)."""

    laps: tuple[Span, ...]
    closed: bool
    edges: tuple[float, ...] = ()
    lap_m: float = 0.0


def find_laps(path: Path, first_same: IntArray, first_against: IntArray, samples: int) -> Course:
    """Laps of a closed course or of an out-and-back, however often driven; one closed drive is one lap.

    `first_same`, `first_against` as of `places.first_visits`. An approach leg and a way home do not disturb, nor does
    a crossing of the course with itself: there the direction differs.
    """
    length, share = _lap_length(path, first_same)
    whole = Course((Span(0, samples),), True, (0.0, samples - 1.0))
    back = _comes_back(path, first_against)
    if back and share < _LEAST_SHARED:
        return whole
    marks = _best_gate(path, first_same, length) if length > 0 else []
    if len(marks) >= 2 and (len(marks) - 1) * length > _LEAST_COVERED * len(path) * path.node_m:
        edges = [round(mark) for mark in marks]
        laps = tuple(Span(a, min(b, samples)) for a, b in pairwise(edges))
        return Course(laps, True, tuple(marks), length)
    return whole if back else Course((), False)


def _lap_length(path: Path, first_same: IntArray) -> tuple[float, float]:
    """The most usual distance between consecutive visits to a place [m] and the share of it that recurs; else 0, 0."""
    again = np.flatnonzero(first_same != np.arange(len(path)))
    if again.size * path.node_m < 100.0:
        return 0.0, 0.0
    visited = np.zeros(len(path), dtype=bool)
    visited[again] = visited[first_same[again]] = True
    touched = np.flatnonzero(visited)
    place = np.where(first_same[touched] == touched, touched, first_same[touched])
    order = np.lexsort((touched, place // 2))
    group, visit = (place // 2)[order], touched[order]
    lag = np.diff(visit)[(np.diff(group) == 0)] * path.node_m
    lag = np.sort(lag[lag >= _LEAST_LAP_M])
    if not lag.size:
        return 0.0, 0.0
    reach = np.searchsorted(lag, lag * (1 + _LAP_SPREAD), side="right")
    count = reach - np.arange(lag.size)
    best = int(np.argmax(count))
    if count[best] < max(3, 0.2 * lag.size):
        return 0.0, 0.0
    length = median(lag[best : reach[best]])
    return length, float(count[best]) * path.node_m / length


def _best_gate(path: Path, first_same: IntArray, lap_m: float) -> list[float]:
    """Samples at which the laps begin and end, for the gate that gives most laps; the earliest of these gates."""
    lap_nodes = lap_m / path.node_m
    again = np.flatnonzero(first_same != np.arange(len(path)))
    start = int(first_same[again].min())
    stop = min(int(start + 1.1 * lap_nodes), len(path) - 1)
    gates = sorted({0, start, *np.linspace(start, stop, _GATES).astype(int).tolist()})
    most = int(len(path) / lap_nodes + _END_SHARE) + 1  # passes a drive of this length can have at best
    best: list[int] = []
    best_gate = 0
    for gate in gates:
        marks = _passes(path, first_same, gate, lap_nodes)
        if len(marks) > len(best):
            best, best_gate = marks, gate
        if len(best) >= most:
            break
    return [_abreast(path, mark, best_gate) for mark in best]


def _passes(path: Path, first_same: IntArray, gate: int, lap_nodes: float) -> list[int]:
    """Nodes nearest to the gate on each pass of it, as long as they lie about one lap apart.

    The first and the last pass may miss the gate a little: there a drive begins, ends, or leaves the course.
    """
    at_gate = np.flatnonzero(np.abs(first_same - gate) <= 2)
    if not at_gate.size:
        return []
    groups = np.split(at_gate, np.flatnonzero(np.diff(at_gate) > 5) + 1)
    off = np.hypot(path.east_m - path.east_m[gate], path.north_m - path.north_m[gate])
    chain = _longest_chain([int(group[np.argmin(off[group])]) for group in groups], lap_nodes)
    tolerance = max(_END_TOLERANCE_M, _END_SHARE * lap_nodes * path.node_m)
    slack = 2 * _LAP_SPREAD * lap_nodes
    for end, sign in ((chain[-1], 1), (chain[0], -1)):
        low, high = sorted((end + sign * (lap_nodes - slack), end + sign * (lap_nodes + slack)))
        window = np.arange(max(0, int(low)), min(len(path), int(high) + 1))
        if window.size and off[window].min() <= tolerance:
            chain.append(int(window[np.argmin(off[window])]))
    return sorted(chain)


def _longest_chain(nodes: list[int], lap_nodes: float) -> list[int]:
    """The longest run of passes each about one lap after the one before; passes in between are crossings."""
    slack = max(2 * _LAP_SPREAD * lap_nodes, 5)
    array = np.array(nodes)
    best = [nodes[0]]
    used: set[int] = set()
    for node in nodes:
        if node in used:
            continue
        chain = [node]
        while True:
            wanted = chain[-1] + lap_nodes
            nearest = int(array[np.argmin(np.abs(array - wanted))])
            if abs(nearest - wanted) > slack:
                break
            chain.append(nearest)
        used.update(chain)
        if len(chain) > len(best):
            best = chain
    return best


def _abreast(path: Path, mark: int, gate: int) -> float:
    """The sample at which a pass is abreast of the gate, between nodes."""
    off_e, off_n = path.east_m[gate] - path.east_m[mark], path.north_m[gate] - path.north_m[mark]
    ahead = float(off_e * path.along[mark, 0] + off_n * path.along[mark, 1]) / path.node_m
    where = min(max(mark + min(max(ahead, -3.0), 3.0), 0.0), len(path) - 1.0)
    return float(np.interp(where, np.arange(len(path)), path.sample))


def _comes_back(path: Path, first_against: IntArray) -> bool:
    """Whether a drive without repetition ends where it began: a single loop, or out and back on the same road."""
    if len(path) * path.node_m < _LEAST_LAP_M:
        return False
    apart = float(np.hypot(path.east_m[-1] - path.east_m[0], path.north_m[-1] - path.north_m[0]))
    length = len(path) * path.node_m
    farthest = float(np.hypot(path.east_m - path.east_m[0], path.north_m - path.north_m[0]).max())
    if apart <= max(_END_TOLERANCE_M, min(_ONE_LAP_SHARE * length, 300.0)) and apart < 0.2 * farthest:
        return True
    back = first_against[len(path) // 2 :] >= 0
    return bool(back.mean() > _ROAD_BACK_SHARE and apart < 0.05 * length)
