"""Rows of a least-squares problem that reach over two neighbouring blocks, kept and summed block by block.

The unknowns of a drive stand in blocks of three seconds: three spline coefficients of east and north each, and the
receiver's slow wander east and north at the block's first grid time. Whatever is measured at one moment touches one
block and the next.
"""

from __future__ import annotations

import msgspec
import numpy as np

from calmday.reduction.spline import FloatArray, IntArray

STEPS = 3
"""Spline coefficients of each axis per block."""
BLOCK = 2 * STEPS + 2
"""Unknowns per block: the coefficients of both axes, and the wander of both axes."""
WINDOW = 2 * BLOCK


class Covariance(msgspec.Struct, frozen=True):
    """The blocks of a covariance on the diagonal, (blocks + 1, BLOCK, BLOCK), and right of it."""

    diagonal: FloatArray
    upper: FloatArray


class Layout(msgspec.Struct, frozen=True):
    """Where rows stand that reach over the four coefficients from `first` on, `kinds` rows for each: made once.

    Row r of kind k is entry `rank[r] * kinds + k` of window `block[r]`.
    """

    block: IntArray
    rank: IntArray
    place: IntArray
    kinds: int
    blocks: int
    depth: int

    @classmethod
    def of(cls, blocks: int, first: IntArray, kinds: int) -> Layout:
        """Layout for rows in ascending order of `first`."""
        block, lead = first // STEPS, first % STEPS
        rank = _rank_within(block)
        depth = (int(rank.max(initial=0)) + 1) * kinds
        coefficient = lead[:, None] + np.arange(4)
        column = (coefficient // STEPS) * BLOCK + 2 * (coefficient % STEPS)
        row = ((block * depth + rank * kinds) * WINDOW)[:, None] + column
        place = row[:, None, :] + (np.arange(kinds) * WINDOW)[None, :, None]
        return cls(block, rank, place, kinds, blocks, depth)

    def rows(self, *kinds: tuple[FloatArray, FloatArray]) -> WindowRows:
        """Rows from weights (rows, 4) on east and north for each kind."""
        weight = np.zeros((self.blocks, self.depth, WINDOW))
        flat = weight.reshape(-1)
        for k, (east, north) in enumerate(kinds):
            flat[self.place[:, k]] = east
            flat[self.place[:, k] + 1] = north
        return WindowRows(self, weight)


class WindowRows(msgspec.Struct, frozen=True):
    """Rows in their layout; `weight` (blocks, most per block, WINDOW)."""

    layout: Layout
    weight: FloatArray

    def _picked(self, values: FloatArray) -> FloatArray:
        """From (blocks, depth) to (rows, kinds)."""
        layout = self.layout
        shaped = values.reshape(layout.blocks, layout.depth // layout.kinds, layout.kinds)
        return np.asarray(shaped[layout.block, layout.rank])

    def spread(self, values: FloatArray) -> FloatArray:
        """From (rows, kinds) to (blocks, depth)."""
        layout = self.layout
        out = np.zeros((layout.blocks, layout.depth // layout.kinds, layout.kinds))
        out[layout.block, layout.rank] = values
        return out.reshape(layout.blocks, layout.depth)

    def values(self, unknowns: FloatArray) -> FloatArray:
        """Values of the rows, (rows, kinds), for unknowns of shape (blocks + 1, BLOCK)."""
        both = np.concatenate([unknowns[:-1], unknowns[1:]], axis=1)
        return self._picked((self.weight @ both[:, :, None])[:, :, 0])

    def variances(self, covariance: Covariance) -> FloatArray:
        """Variances of the rows, (rows, kinds)."""
        left, right = self.weight[:, :, :BLOCK], self.weight[:, :, BLOCK:]
        total = np.einsum("bij,bij->bi", left @ covariance.diagonal[:-1], left)
        total += np.einsum("bij,bij->bi", right @ covariance.diagonal[1:], right)
        total += 2 * np.einsum("bij,bij->bi", left @ covariance.upper, right)
        return self._picked(total)


def _rank_within(block: IntArray) -> IntArray:
    """Running number of each row within its block; `block` ascending."""
    if not block.size:
        return block
    first = np.concatenate([[True], np.diff(block) > 0])
    start = np.maximum.accumulate(np.where(first, np.arange(block.size), 0))
    return np.arange(block.size) - start


def see_wander(rows: WindowRows, share: FloatArray) -> None:
    """Let rows of two kinds, east and north, see the wander too, linear between blocks: `share` of the way on."""
    layout = rows.layout
    for axis in range(2):
        at = layout.rank * layout.kinds + axis
        rows.weight[layout.block, at, 2 * STEPS + axis] = 1 - share
        rows.weight[layout.block, at, BLOCK + 2 * STEPS + axis] = share


class NormalEquations(msgspec.Struct):
    """Sums of weighted rows as block-tridiagonal system: one block more than windows."""

    diagonal: FloatArray
    upper: FloatArray
    rhs: FloatArray

    @classmethod
    def empty(cls, blocks: int) -> NormalEquations:
        """No information about anything yet."""
        shape = (blocks, BLOCK, BLOCK)
        return cls(np.zeros((blocks + 1, BLOCK, BLOCK)), np.zeros(shape), np.zeros((blocks + 1, BLOCK)))

    def copy(self) -> NormalEquations:
        """The same sums, to be added to."""
        return NormalEquations(self.diagonal.copy(), self.upper.copy(), self.rhs.copy())

    def add(self, rows: WindowRows, information: FloatArray, value: FloatArray | None) -> None:
        """Add rows with `information` (1/variance) and measured `value` (None: nought), both (rows, kinds)."""
        weighted = (rows.weight * rows.spread(information)[:, :, None]).transpose(0, 2, 1)
        squares = weighted @ rows.weight
        self.diagonal[:-1] += squares[:, :BLOCK, :BLOCK]
        self.upper += squares[:, :BLOCK, BLOCK:]
        self.diagonal[1:] += squares[:, BLOCK:, BLOCK:]
        if value is not None:
            products = (weighted @ rows.spread(value)[:, :, None])[:, :, 0]
            self.rhs[:-1] += products[:, :BLOCK]
            self.rhs[1:] += products[:, BLOCK:]
