"""How much of one ink a picture holds at each place, whatever the light on the paper.

A pixel of an anti-aliased line is a mixture, share x ink + (1 - share) x paper. The share is read off along the line
from paper to ink in red, green and blue; what lies beside that line is another ink. The paper is looked at place by
place, because a photograph is darker in its corners.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Samples = NDArray[np.float32]

OTHER_INK: Final = 0.28
"""Distance beside the line from paper to ink, as a share of its length, at which a pixel counts little."""

NEAR_COLOUR: Final = 45.0
"""Pixels within this distance (of 255) of the colour asked for tell what the ink really is."""

PICK_PX: Final = 4
DARKEST_PAPER: Final = 60.0


def paper_of(rgb: Samples) -> Samples:
    """Colour of the paper at every pixel, (h, w, 3): the middle of the pixels around."""
    height, width = rgb.shape[:2]
    block = max(24, min(height, width) // 12)
    rows, columns = max(height // block, 1), max(width // block, 1)
    edges_y = np.linspace(0, height, rows + 1).astype(int)
    edges_x = np.linspace(0, width, columns + 1).astype(int)
    coarse = np.empty((rows, columns, 3), dtype=np.float32)
    for i in range(rows):
        band = rgb[edges_y[i] : edges_y[i + 1] : 2]
        for j in range(columns):
            coarse[i, j] = np.median(band[:, edges_x[j] : edges_x[j + 1] : 2], axis=(0, 1))
    at_y, at_x = 0.5 * (edges_y[1:] + edges_y[:-1]), 0.5 * (edges_x[1:] + edges_x[:-1])
    lower, share_y = _between(at_y, height)
    left, share_x = _between(at_x, width)
    tall = (
        coarse[lower] * (1 - share_y)[:, None, None] + coarse[np.minimum(lower + 1, rows - 1)] * share_y[:, None, None]
    )
    right = np.minimum(left + 1, columns - 1)
    return np.asarray(tall[:, left] * (1 - share_x)[:, None] + tall[:, right] * share_x[:, None], dtype=np.float32)


def _between(middles: FloatArray, count: int) -> tuple[NDArray[np.int64], Samples]:
    """For each pixel the block whose middle lies before it, and the share of the next block."""
    place = np.interp(np.arange(count), middles, np.arange(middles.size))
    whole = np.minimum(place.astype(np.int64), middles.size - 1)
    return whole, (place - whole).astype(np.float32)


def picked_ink(rgb: Samples, paper: Samples, x: float, y: float) -> Samples | None:
    """The colour at a place somebody pointed at: of the pixels around, the one furthest from the paper."""
    height, width = rgb.shape[:2]
    column, row = round(x), round(y)
    if not (0 <= column < width and 0 <= row < height):
        return None
    rows = slice(max(row - PICK_PX, 0), row + PICK_PX + 1)
    columns = slice(max(column - PICK_PX, 0), column + PICK_PX + 1)
    part, ground = rgb[rows, columns].reshape(-1, 3), paper[rows, columns].reshape(-1, 3)
    distance = np.linalg.norm(part - ground, axis=1)
    best = int(np.argmax(distance))
    return np.asarray(part[best]) if distance[best] > 25 else None


def true_ink(rgb: Samples, asked: Samples) -> Samples:
    """The ink meant by a colour: the middle of the pixels near it, or the colour itself where there are few."""
    near = np.abs(rgb - asked).max(axis=2) < NEAR_COLOUR
    if near.sum() < 30:
        return asked
    return np.asarray(np.median(rgb[near], axis=0), dtype=np.float32)


def ink_share(rgb: Samples, paper: Samples, ink: Samples) -> Samples:
    """Share of the ink at every pixel, (h, w), 0 to about 1."""
    usual = np.median(paper.reshape(-1, 3)[::101], axis=0)
    lit = float(usual.min()) > DARKEST_PAPER
    ink_here = ink * (paper / usual) if lit else np.broadcast_to(ink, paper.shape)
    way, moved = ink_here - paper, rgb - paper
    length = np.maximum(np.einsum("ijk,ijk->ij", way, way), 400.0)
    share = np.einsum("ijk,ijk->ij", moved, way) / length
    beside = np.sqrt(np.maximum(np.einsum("ijk,ijk->ij", moved, moved) / length - share**2, 0.0))
    kept = np.clip(share, 0.0, 1.2) * np.exp(-((beside / OTHER_INK) ** 2))
    return np.asarray(np.where(share > 1.45, 0.2 * kept, kept), dtype=np.float32)


def sample(picture: Samples, x: FloatArray, y: FloatArray) -> Samples:
    """Bilinear samples of (h, w) at pixel places of any shape; NaN outside."""
    height, width = picture.shape
    inside = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
    left = np.clip(np.nan_to_num(x), 0, width - 1.001)
    top = np.clip(np.nan_to_num(y), 0, height - 1.001)
    i, j = top.astype(np.int64), left.astype(np.int64)
    fy, fx = top - i, left - j
    mixed = (picture[i, j] * (1 - fx) + picture[i, j + 1] * fx) * (1 - fy) + (
        picture[i + 1, j] * (1 - fx) + picture[i + 1, j + 1] * fx
    ) * fy
    return np.asarray(np.where(inside, mixed, np.nan), dtype=np.float32)
