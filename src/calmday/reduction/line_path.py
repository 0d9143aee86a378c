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
    totals = np.zeros((pieces + 1, rows, slopes.size), dtype=np.float32)
    slope = np.arange(slopes.size)[None, :]
    for piece in range(pieces):
        at = piece * STEP
        ink = sum(cost[way[j - 1], at + j] for j in range(1, STEP + 1)) / STEP
        total = _cheapest_turn(totals[piece])[before, slope] + ink
        total[outside] = np.inf
        totals[piece + 1] = total - total.min()
    return _read_back(totals, slopes, columns)


def _close_off(cost: NDArray[np.float32], guides: Sequence[tuple[float, float]], reach: float) -> None:
    rows, columns = cost.shape
    row = np.arange(rows)[:, None]
    for column, height in guides:
        if -STEP <= column <= columns - 1 + STEP:
            near = slice(max(int(column) - STEP, 0), int(column) + STEP + 1)
            cost[:, near] += FAR * np.clip(np.abs(row - height) / reach - 1, 0.0, 8.0).astype(np.float32)


_TURNS: Final = (-3, -2, -1, 1, 2, 3)


def _cheapest_turn(total: NDArray[np.float32]) -> NDArray[np.float32]:
    """Least cost of leaving each row at each slope: straight on, after a bend, or after a kink."""
    best = np.minimum(total, total.min(axis=1, keepdims=True) + np.float32(KINK_COST))
    for d in _TURNS:
        onto, whence = (best[:, :-d], total[:, d:]) if d > 0 else (best[:, -d:], total[:, :d])
        np.minimum(onto, whence + np.float32(BEND_COST * d * d), out=onto)
    return np.asarray(best)


def _read_back(totals: NDArray[np.float32], slopes: NDArray[np.int64], columns: int) -> FloatArray:
    """The path, from the cheapest end back to the first column."""
    last, rows, _ = totals.shape
    row, slope = divmod(int(np.argmin(totals[-1])), slopes.size)
    nodes = [row]
    turns = np.arange(slopes.size)
    for piece in range(last - 2, -1, -1):
        row = int(np.clip(row - slopes[slope], 0, rows - 1))
        bend = np.where(np.abs(turns - slope) <= max(_TURNS), BEND_COST * (turns - slope) ** 2, np.inf)
        slope = int(np.argmin(totals[piece, row] + np.minimum(bend, KINK_COST)))
        nodes.append(row)
    at = np.arange(last) * STEP
    return np.asarray(np.interp(np.arange(columns), at, np.array(nodes[::-1], dtype=float)))
