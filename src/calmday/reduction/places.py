"""Which stretches of a drive run over the same road: every place is named by the first visit to it."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

NODE_M = 20.0
_CELL_M = 50.0
_LANE_M = 25.0
"""Two passes this close, side to side, run on the same road: lanes, receiver wander and a verge."""
_LEAST_RETURN_M = 150.0
_HEADINGS = 8
_COS_ALIKE = float(np.cos(np.radians(50.0)))


class Path(msgspec.Struct, frozen=True):
    """The way driven, a node every `NODE_M`: position in the plane, unit heading, the sample it stands for."""

    east_m: FloatArray
    north_m: FloatArray
    along: FloatArray
    sample: FloatArray
    node_m: float

    def __len__(self) -> int:
        return int(self.east_m.size)


def path_of(east_m: FloatArray, north_m: FloatArray, distance_m: FloatArray) -> Path:
    """Nodes at even steps of the distance driven (samples at standstill fold into one place)."""
    rising = np.concatenate([[True], np.diff(distance_m) > 1e-6])
    way, index = distance_m[rising], np.flatnonzero(rising).astype(float)
    nodes = np.arange(way[0], way[-1] + 1e-9, NODE_M)
    sample = np.interp(nodes, way, index)
    east, north = np.interp(nodes, way, east_m[rising]), np.interp(nodes, way, north_m[rising])
    if nodes.size < 3:
        return Path(east, north, np.zeros((nodes.size, 2)), sample, NODE_M)
    along = np.column_stack([np.gradient(east), np.gradient(north)])
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    return Path(east, north, along, sample, NODE_M)


def first_visits(path: Path, against: bool) -> IntArray:
    """Node of the first visit to each node's place, in the same direction or (`against`) the opposite one.

    A node that is itself the first visit names itself; where there is none, with `against`, -1.
    """
    own = np.arange(len(path))
    if len(path) < 3:
        return own if not against else np.full(len(path), -1)
    turned = -path.along if against else path.along
    found = _first_in_cells(path, turned)
    best = _beside(path, turned, found, own)
    best = _beside(path, turned, best, own)  # once more, from the better footing
    sound = best >= 0
    least = round(_LEAST_RETURN_M / path.node_m)
    if against:
        return np.where(sound & (np.abs(own - best) >= 2), best, -1)
    return np.where(sound & (own - best >= least), best, own)


def _first_in_cells(path: Path, turned: FloatArray) -> IntArray:
    """For each node the earliest node whose cell (place and heading) is its own or a nearest neighbour."""
    origin_e, origin_n = path.east_m.min() - _CELL_M, path.north_m.min() - _CELL_M
    x, y = (path.east_m - origin_e) / _CELL_M, (path.north_m - origin_n) / _CELL_M
    width = int(y.max()) + 3

    def key(cx: IntArray, cy: IntArray, ch: IntArray) -> IntArray:
        return (cx * width + cy) * _HEADINGS + ch % _HEADINGS

    bearing = _bearing(path.along)
    of_node = key(x.astype(int), y.astype(int), bearing.astype(int))
    order = np.argsort(of_node, kind="stable")
    first = order[np.concatenate([[True], np.diff(of_node[order]) > 0])]
    keys = of_node[first]
    wanted = _bearing(turned)
    sides_x = (x.astype(int), x.astype(int) + np.where(x % 1 < 0.5, -1, 1))
    sides_y = (y.astype(int), y.astype(int) + np.where(y % 1 < 0.5, -1, 1))
    sides_h = (wanted.astype(int), wanted.astype(int) + np.where(wanted % 1 < 0.5, -1, 1))
    none = len(path)
    earliest = np.full(len(path), none)
    for cx in sides_x:
        for cy in sides_y:
            for ch in sides_h:
                sought = key(cx, cy, ch)
                at = np.minimum(np.searchsorted(keys, sought), keys.size - 1)
                hit = np.where(keys[at] == sought, first[at], none)
                earliest = np.minimum(earliest, hit)
    return np.where(earliest < none, earliest, -1)


def _bearing(along: FloatArray) -> FloatArray:
    turn = np.arctan2(along[:, 0], along[:, 1]) / (2 * np.pi) % 1.0
    return np.asarray(np.minimum(turn * _HEADINGS, _HEADINGS - 1e-9))


def _beside(path: Path, turned: FloatArray, candidate: IntArray, own: IntArray) -> IntArray:
    """Slide each candidate along its own pass until it lies abreast; -1 where it is then too far or askew."""
    at = np.clip(candidate, 0, None)
    off_e, off_n = path.east_m - path.east_m[at], path.north_m - path.north_m[at]
    ahead = (off_e * path.along[at, 0] + off_n * path.along[at, 1]) / path.node_m
    at = np.clip(at + np.clip(np.round(ahead), -5, 5).astype(int), 0, own)
    off_e, off_n = path.east_m - path.east_m[at], path.north_m - path.north_m[at]
    near = np.hypot(off_e, off_n) <= np.hypot(_LANE_M, path.node_m)
    alike = (turned * path.along[at]).sum(axis=1) >= _COS_ALIKE
    return np.where((candidate >= 0) & near & alike, at, -1)
