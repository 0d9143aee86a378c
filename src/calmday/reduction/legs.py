"""Stretches of a drive by their direction to the wind."""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.reduced_track import ReducedTrack
from calmday.reduction.stops import runs

IntArray = NDArray[np.int64]

Sector = Literal["into the wind", "wind from the right", "with the wind", "wind from the left"]
SECTORS: tuple[Sector, ...] = ("into the wind", "wind from the right", "with the wind", "wind from the left")
_SHORTEST_LEG_M = 300.0
_SHORTEST_SHARE = 0.01


class LegSpan(msgspec.Struct, frozen=True):
    """Samples `start` (included) to `stop` (excluded) driven in one `sector`; `heading_deg` mean true heading by
    distance, `distance_m` driven in it."""

    start: int
    stop: int
    sector: Sector
    heading_deg: float
    distance_m: float


def legs(reduced: ReducedTrack, wind_from_deg: float) -> tuple[LegSpan, ...]:
    """Split the moving samples of a drive by heading to a wind from `wind_from_deg`; short pieces join a neighbour.

    Sectors are 90 degrees wide: into the wind within 45 degrees of it, and so round. Standing samples belong to the
    leg they stand in; a leg never runs across a hole in the recording.
    """
    n = reduced.time_s.size
    if n == 0:
        return ()
    wind_from = np.radians(wind_from_deg)
    # the bearing of the wind seen from the driver's seat, clockwise from ahead
    bearing = (wind_from - reduced.heading_rad + np.pi / 4) % (2 * np.pi)
    sector = np.minimum((bearing // (np.pi / 2)).astype(np.int64), 3)
    way = np.where(reduced.moving, reduced.speed_mps * reduced.step_s, 0.0)
    shortest = max(_SHORTEST_LEG_M, _SHORTEST_SHARE * float(way.sum()))
    out: list[LegSpan] = []
    for start, stop in _segments(reduced.segment):
        edges = _merged(sector[start:stop], way[start:stop], shortest)
        for a, b, kind in edges:
            out.append(_leg(reduced, way, start + a, start + b, kind))
    return tuple(leg for leg in out if leg.distance_m > 0)


def _segments(segment: IntArray) -> list[tuple[int, int]]:
    cuts = (np.flatnonzero(np.diff(segment)) + 1).tolist()
    return list(zip([0, *cuts], [*cuts, segment.size], strict=True))


def _merged(sector: IntArray, way: NDArray[np.float64], shortest_m: float) -> list[tuple[int, int, int]]:
    """Runs of one sector; the shortest run below `shortest_m` joins its longer neighbour until none is left."""
    pieces: list[list[float]] = []
    for kind in range(4):
        for a, b in zip(*runs(sector == kind), strict=True):
            pieces.append([int(a), int(b), kind, float(way[a:b].sum())])
    pieces.sort()
    while len(pieces) > 1:
        least = min(range(len(pieces)), key=lambda i: pieces[i][3])
        if pieces[least][3] >= shortest_m:
            break
        beside = [i for i in (least - 1, least + 1) if 0 <= i < len(pieces)]
        host = max(beside, key=lambda i: pieces[i][3])
        pieces[host] = _join(pieces[host], pieces[least])
        del pieces[least]
        pieces = _joined_alike(pieces)
    return [(int(p[0]), int(p[1]), int(p[2])) for p in pieces]


def _join(host: list[float], guest: list[float]) -> list[float]:
    return [min(host[0], guest[0]), max(host[1], guest[1]), host[2], host[3] + guest[3]]


def _joined_alike(pieces: list[list[float]]) -> list[list[float]]:
    """Neighbours of the same sector become one piece."""
    out = [pieces[0]]
    for piece in pieces[1:]:
        if piece[2] == out[-1][2]:
            out[-1] = _join(out[-1], piece)
        else:
            out.append(piece)
    return out


def _leg(reduced: ReducedTrack, way: NDArray[np.float64], start: int, stop: int, kind: int) -> LegSpan:
    weight = way[start:stop]
    heading = reduced.heading_rad[start:stop]
    mean = np.arctan2((weight * np.sin(heading)).sum(), (weight * np.cos(heading)).sum())
    return LegSpan(start, stop, SECTORS[kind], float(np.degrees(mean) % 360.0), float(weight.sum()))
