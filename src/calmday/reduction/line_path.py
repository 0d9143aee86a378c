"""The most likely course of one line through a field of ink, from its first column to its last.

Dynamic programming over place and slope: what counts is ink under the line, and that the line bends little. A straight
piece is as cheap across a gap as on ink of half strength, so dashes, crossings and hidden stretches are bridged, and a
word beside the curve does not pay for the detour. Guides leave only their neighbourhood open.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

STEP: Final = 4
"""Columns of one straight piece."""

STEEPEST: Final = 9.0
"""Rows per column that a curve may fall or rise: a governor's droop is nearly upright."""

BEND_COST: Final = 0.10
KINK_COST: Final = 1.2
"""Cost of changing the slope by one row per piece (squared), and of any kink, in pieces without ink."""

BLIND_COST: Final = 0.55
"""Cost where grid lines hide what is there."""

FULL_INK: Final = 0.7
FAR: Final = 3.0


def likely_path(
    share: FloatArray, hidden: NDArray[np.bool_], guides: Sequence[tuple[float, float]], reach: float
) -> FloatArray:
    """Row of the line at every column, (columns,). `share` (rows, columns) of ink; `hidden` where grid lines are.

    `guides` (column, row) places within `reach` rows of which the line passes.
    """
    rows, columns = share.shape
    bare = np.clip(1 - np.nan_to_num(share) / FULL_INK, 0.0, 1.0)
    cost = np.where(hidden & np.isfinite(share), np.maximum(bare, BLIND_COST), bare).astype(np.float32)
    _close_off(cost, guides, reach)
    pieces = (columns - 1) // STEP
    most = min(int(STEEPEST * STEP), rows - 1)
    slopes = np.arange(-most, most + 1)
    row = np.arange(rows)
    before = np.clip(row[:, None] - slopes[None, :], 0, rows - 1)
    outside = (row[:, None] - slopes[None, :] < 0) | (row[:, None] - slopes[None, :] >= rows)
    way = [
        np.clip(np.rint(row[:, None] - slopes[None, :] * (1 - j / STEP)).astype(np.int64), 0, rows - 1)
        for j in range(1, STEP + 1)
    ]
    total = np.zeros((rows, slopes.size), dtype=np.float32)
    came_from = np.empty((pieces, rows, slopes.size), dtype=np.uint8)
    kept = np.empty((pieces, rows), dtype=np.int16)
    for piece in range(pieces):
        best, turn, kink = _turned(total)
        at = piece * STEP
        ink = sum(cost[way[j - 1], at + j] for j in range(1, STEP + 1)) / STEP
        total = best[before, np.arange(slopes.size)[None, :]] + ink
        total[outside] = np.inf
        came_from[piece] = turn[before, np.arange(slopes.size)[None, :]]
        kept[piece] = kink
        total -= total.min()
    return _read_back(total, came_from, kept, slopes, pieces, columns)


def _close_off(cost: NDArray[np.float32], guides: Sequence[tuple[float, float]], reach: float) -> None:
    rows, columns = cost.shape
    row = np.arange(rows)[:, None]
    for column, height in guides:
        if -STEP <= column <= columns - 1 + STEP:
            near = slice(max(int(column) - STEP, 0), int(column) + STEP + 1)
            cost[:, near] += FAR * np.clip(np.abs(row - height) / reach - 1, 0.0, 8.0).astype(np.float32)


_TURNS: Final = (0, -1, 1, -2, 2, -3, 3)
_KINK: Final = len(_TURNS)


def _turned(total: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.uint8], NDArray[np.int64]]:
    """Best cost of leaving each row at each slope, which turn led there, and the best slope before a kink."""
    rows, slopes = total.shape
    best, turn = total.copy(), np.zeros((rows, slopes), dtype=np.uint8)
    for index, d in enumerate(_TURNS[1:], 1):
        moved = np.full_like(total, np.inf)
        if d > 0:
            moved[:, :-d] = total[:, d:]
        else:
            moved[:, -d:] = total[:, :d]
        moved += BEND_COST * d * d
        better = moved < best
        best[better], turn[better] = moved[better], index
    any_slope = np.argmin(total, axis=1)
    kinked = total[np.arange(rows), any_slope][:, None] + np.float32(KINK_COST)
    better = kinked < best
    return np.where(better, kinked, best), np.where(better, _KINK, turn).astype(np.uint8), any_slope


def _read_back(
    total: NDArray[np.float32],
    came_from: NDArray[np.uint8],
    kept: NDArray[np.int16],
    slopes: NDArray[np.int64],
    pieces: int,
    columns: int,
) -> FloatArray:
    row, slope = divmod(int(np.argmin(total)), total.shape[1])
    nodes = [row]
    for piece in range(pieces - 1, -1, -1):
        turn = int(came_from[piece, row, slope])
        row = int(np.clip(row - slopes[slope], 0, total.shape[0] - 1))
        slope = int(kept[piece, row]) if turn == _KINK else int(slope) + _TURNS[turn]
        nodes.append(row)
    at = np.arange(pieces + 1) * STEP
    return np.asarray(np.interp(np.arange(columns), at, np.array(nodes[::-1], dtype=float)))
