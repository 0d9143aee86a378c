"""A line in a field of ink, to a part of a pixel: its middle in each column, where it is seen, and how well.

The field stands on the axes of the chart: columns are engine speed, rows torque or power.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.line_path import likely_path

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

GRID_SHARE: Final = 0.75
"""A row or column that is ink over this share of its length is a line of the grid or the frame."""

SEEN: Final = 0.30
"""Ink over the usual thickness from which a column counts as seen."""

LEAST_SEEN: Final = 0.2
"""Share of its columns in which a line must be seen to be one; dots are a third."""

WIDEST: Final = 1.9
"""Ink over the usual thickness from which something else lies on the line."""

SMOOTHING: Final = 5
"""Columns either side that a local straight line takes in."""

END_COLUMNS: Final = 12
END_SHARE: Final = 0.7
"""At its ends the next columns must be the line alone as often as this share of what is usual along it."""

WORD_GAP: Final = 4
WORD_SHARE: Final = 0.10
MOST_BREAKS: Final = 8
"""A stretch at an end, shorter than this share of the line and further off than so many columns, is taken for a word,
where the whole line has no more breaks than that."""

LOOSE_END: Final = 0.10
"""A stretch beyond a gap wider than this share of the field belongs to something else, unless a guide is on it."""


class LineTrace(msgspec.Struct, frozen=True, kw_only=True):
    """A traced line. `columns` (n,) whole columns from its first to its last; `row` (n,) its middle there; `seen` (n,)
    false where it was bridged; `sd` (n,) standard uncertainty of the middle, rows; `thickness` of the line, rows;
    `strength` share of ink that its middle reaches."""

    columns: NDArray[np.int64]
    row: FloatArray
    seen: BoolArray
    sd: FloatArray
    thickness: float
    strength: float


def grid_lines(share: FloatArray) -> BoolArray:
    """(rows, columns): where lines straight across the field hide what else is there."""
    ink = np.nan_to_num(share) > 0.35
    known = np.isfinite(share)
    across = ink.sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    down = ink.sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    rows = _widened(across > GRID_SHARE) & (across > 0.25)
    columns = _widened(down > GRID_SHARE) & (down > 0.25)
    return np.asarray(rows[:, None] | columns[None, :] | ~known)


def _widened(lines: BoolArray) -> BoolArray:
    wider = lines.copy()
    wider[1:] |= lines[:-1]
    wider[:-1] |= lines[1:]
    return wider


def trace_line(
    share: FloatArray, guides: Sequence[tuple[float, float]], strength: float | None = None
) -> LineTrace | None:
    """The line in a field (rows, columns) of ink, NaN outside the picture; None where there is none.

    `guides` (column, row) places near it; `strength` share of ink that its middle reaches, where that is known.
    """
    strength = strength if strength is not None else _strength(share)
    if strength is None:
        return None
    ink = np.clip(share / strength, 0.0, 1.2)
    hidden = grid_lines(ink)
    path = likely_path(ink, hidden, guides, reach=max(5.0, 0.02 * ink.shape[0]))
    ink = np.nan_to_num(ink)
    thickness = _thickness(ink, hidden, path)
    if thickness is None:
        return None
    middle, seen = _middles(ink, hidden, path, thickness)
    seen = _consistent(middle, seen)
    alone = _alone(ink, hidden, middle, thickness)
    first, last = _extent(seen, alone, guides)
    count = int(seen[first : last + 1].sum())
    if count < 2 * SMOOTHING or count < LEAST_SEEN * (last - first):
        return None
    part = slice(first, last + 1)
    row, noise = _smoothed(middle[part], seen[part])
    return LineTrace(
        columns=np.arange(first, last + 1), row=row, seen=seen[part], thickness=thickness, strength=strength,
        sd=_spread(row, seen[part], thickness, noise),
    )  # fmt: skip


def _strength(share: FloatArray) -> float | None:
    """Share of ink that the middle of the line reaches: thin or blurred lines never have the ink's own colour."""
    strongest = np.nanmax(np.where(np.isfinite(share), share, 0.0), axis=0)
    inked = strongest[strongest > 0.2]
    if inked.size < 3 * SMOOTHING:
        return None
    return min(max(float(np.quantile(inked, 0.6)), 0.25), 1.0)


def _slope(path: FloatArray) -> FloatArray:
    width = 4
    ends = np.pad(path, width, mode="edge")
    return np.asarray((ends[2 * width :] - ends[: -2 * width]) / (2 * width))


def _thickness(ink: FloatArray, hidden: BoolArray, path: FloatArray) -> float | None:
    """Thickness of the line across its course, rows, from columns where nothing else is near."""
    near = 14
    offset = np.arange(-near, near + 1)
    at = np.clip(np.rint(path)[:, None].astype(np.int64) + offset, 0, ink.shape[0] - 1)
    column = np.arange(path.size)[:, None]
    amount = ink[at, column].sum(axis=1) / np.hypot(1.0, _slope(path))
    touched = (ink[np.clip(np.rint(path).astype(np.int64), 0, ink.shape[0] - 1), column[:, 0]] > 0.4) & ~hidden[
        at, column
    ].any(axis=1)
    if touched.sum() < 2 * SMOOTHING:
        touched = ink[np.clip(np.rint(path).astype(np.int64), 0, ink.shape[0] - 1), column[:, 0]] > 0.4
    if touched.sum() < 2 * SMOOTHING:
        return None
    return float(np.clip(np.quantile(amount[touched], 0.35), 0.6, near))


def _middles(ink: FloatArray, hidden: BoolArray, path: FloatArray, thickness: float) -> tuple[FloatArray, BoolArray]:
    """Middle of the ink about the path in each column, and whether it is that of the line alone."""
    rows = ink.shape[0]
    tall = thickness * np.hypot(1.0, _slope(path))
    middle, seen = path.copy(), np.zeros(path.size, dtype=bool)
    for _ in range(2):
        for c in range(path.size):
            half = 0.75 * tall[c] + 2.0
            low, high = max(int(np.floor(middle[c] - half)), 0), min(int(np.ceil(middle[c] + half)) + 1, rows)
            if high - low < 2:
                seen[c] = False
                continue
            part = np.where(ink[low:high, c] > 0.12, ink[low:high, c], 0.0)
            amount = float(part.sum())
            blind = hidden[low:high, c].mean() > 0.2
            seen[c] = not blind and SEEN * tall[c] < amount < WIDEST * tall[c] + 1.0 and part.max() > 0.4
            if amount > 0.2 and not blind:
                middle[c] = float(part @ np.arange(low, high)) / amount
    return middle, seen


def _consistent(middle: FloatArray, seen: BoolArray) -> BoolArray:
    """Without columns that lie off the straight line through their neighbours: letters, specks, crossings."""
    kept = seen.copy()
    for _ in range(3):
        at = np.flatnonzero(kept)
        if at.size < 2 * SMOOTHING:
            break
        fitted = _local_lines(at, middle[at], at, 2 * SMOOTHING, leave_out=True)
        off = np.abs(middle[at] - fitted)
        limit = max(0.8, 4.5 * 1.4826 * float(np.median(off)))
        slack = 0.5 * np.abs(np.gradient(fitted, at)) if at.size > 1 else 0.0
        kept[at[off > limit + slack]] = False
    return kept


def _local_lines(
    x: NDArray[np.int64], y: FloatArray, at: NDArray[np.int64], half: int, *, leave_out: bool = False
) -> FloatArray:
    """Straight lines through the points within `half` columns, weighted by distance (tricube), at each place."""
    found = np.empty(at.size)
    first = np.searchsorted(x, at - half, side="left")
    last = np.searchsorted(x, at + half, side="right")
    for i, place in enumerate(at):
        low, high = int(first[i]), int(last[i])
        if high - low < 3:
            low, high = max(low - 2, 0), min(high + 2, x.size)
        d = (x[low:high] - place).astype(float)
        w = (1 - np.minimum(np.abs(d) / (np.abs(d).max() + 1), 1.0) ** 3) ** 3
        if leave_out:
            w = np.where(d == 0, 0.0, w)
        s0, s1, s2 = w.sum(), w @ d, w @ (d * d)
        t0, t1 = w @ y[low:high], (w * d) @ y[low:high]
        bottom = s0 * s2 - s1 * s1
        found[i] = (s2 * t0 - s1 * t1) / bottom if bottom > 1e-9 else t0 / max(s0, 1e-9)
    return found


def _alone(ink: FloatArray, hidden: BoolArray, middle: FloatArray, thickness: float) -> BoolArray:
    """Columns that look like the line and nothing else: as strong and as thick as it usually is, with little other ink
    about. Beside a letter's stroke there are other strokes, and a blurred word is pale."""
    rows = ink.shape[0]
    tall = thickness * np.hypot(1.0, _slope(middle))
    beside, amount, peak = np.zeros(middle.size), np.zeros(middle.size), np.zeros(middle.size)
    for c in range(middle.size):
        half = 0.75 * tall[c] + 2.0
        far = half + max(9.0, 3.0 * thickness)
        low, high = max(int(middle[c] - far), 0), min(int(middle[c] + far) + 1, rows)
        column, at = np.where(hidden[low:high, c], 0.0, ink[low:high, c]), np.arange(low, high)
        if high - low < 2:
            continue
        own = np.abs(at - middle[c]) <= half + 1
        beside[c] = float(column[~own].sum())
        amount[c], peak[c] = float(column[own].sum()) / tall[c], float(column[own].max(initial=0.0))
    usual = float(np.median(peak[peak > 0.4])) if (peak > 0.4).any() else 1.0
    return np.asarray((beside < 0.35 * thickness + 0.4) & (peak > 0.75 * usual) & (amount > 0.55) & (amount < 1.55))


def _extent(seen: BoolArray, alone: BoolArray, guides: Sequence[tuple[float, float]]) -> tuple[int, int]:
    """First and last column: the stretch with most seen in it, with those beyond gaps that are small or guided.

    At both ends it is cut back to where the line is seen and stands alone: a word at the end of a curve is not curve.
    """
    at = np.flatnonzero(seen)
    if at.size == 0:
        return 0, -1
    breaks = np.flatnonzero(np.diff(at) > LOOSE_END * seen.size) + 1
    parts = np.split(at, breaks)
    main = max(range(len(parts)), key=lambda i: parts[i].size)
    kept = [main, *(i for i, part in enumerate(parts) if any(part[0] - 6 <= c <= part[-1] + 6 for c, _ in guides))]
    first, last = int(parts[min(kept)][0]), int(parts[max(kept)][-1])
    solid = _solid(seen) & alone
    first, last = _without_words(seen, first, last)
    middle = slice(first + (last - first) // 5, last - (last - first) // 5 + 1)
    enough = END_SHARE * max(float(solid[middle].mean()), 0.2)
    guided = [int(c) for c, _ in guides]
    first = _cut_back(solid, first, last, 1, min(guided, default=last), enough)
    last = _cut_back(solid, last, first, -1, max(guided, default=first), enough)
    return first, last


def _without_words(seen: BoolArray, first: int, last: int) -> tuple[int, int]:
    """Both ends without what is short and stands off by a gap, unless the line has gaps all along (dashes)."""
    at = first + np.flatnonzero(seen[first : last + 1])
    parts = np.split(at, np.flatnonzero(np.diff(at) > WORD_GAP) + 1)
    if len(parts) > MOST_BREAKS:
        return first, last
    short = WORD_SHARE * (last - first)
    while len(parts) > 1 and parts[-1][-1] - parts[-1][0] < short:
        parts.pop()
    while len(parts) > 1 and parts[0][-1] - parts[0][0] < short:
        parts.pop(0)
    return int(parts[0][0]), int(parts[-1][-1])


def _cut_back(solid: BoolArray, end: int, other: int, way: int, stop: int, enough: float) -> int:
    """The first column from an end inwards from which on most columns, near and far, are `solid`."""
    near = max(END_COLUMNS, int(0.03 * solid.size))
    place = end
    while place != other and (stop - place) * way > 0:
        if solid[place] and all(_ahead(solid, place, way, width) >= enough for width in (near, 3 * near)):
            return place
        place += way
    return place


def _ahead(solid: BoolArray, place: int, way: int, width: int) -> float:
    return float((solid[place : place + width] if way > 0 else solid[max(place - width + 1, 0) : place + 1]).mean())


def _solid(seen: BoolArray) -> BoolArray:
    """Seen, and at least three columns in a row: an end that is a lone speck is not the curve's."""
    run = np.convolve(seen.astype(int), np.ones(3, dtype=int), mode="same") >= 3
    return np.asarray(seen & (run | np.roll(run, 1) | np.roll(run, -1)))


def _smoothed(middle: FloatArray, seen: BoolArray) -> tuple[FloatArray, float]:
    """The line at every column: local straight lines where it is seen, cubic pieces with the slopes of their ends where
    it is not; and the noise of one column about it."""
    at = np.flatnonzero(seen)
    row = np.interp(np.arange(middle.size), at, middle[at])
    fitted = _local_lines(at, middle[at], at, SMOOTHING)
    noise = 1.4826 * float(np.median(np.abs(middle[at] - fitted)))
    row[at] = fitted
    for left, right in pairwise(at.tolist()):
        if right - left > 1:
            gap = float(right - left)
            slopes = [_end_slope(at, middle, end, side) for end, side in ((left, -1), (right, 1))]
            t = np.arange(1, right - left) / gap
            row[left + 1 : right] = _hermite(t, row[left], row[right], slopes[0] * gap, slopes[1] * gap)
    return row, noise


def _end_slope(at: NDArray[np.int64], middle: FloatArray, end: int, side: int) -> float:
    """Slope of the line beside a gap: over the twenty columns on the far side of its edge."""
    near = at[(at <= end) & (at >= end - 20)] if side < 0 else at[(at >= end) & (at <= end + 20)]
    if near.size < 4:
        return float((middle[near[-1]] - middle[near[0]]) / max(near[-1] - near[0], 1)) if near.size > 1 else 0.0
    return float(np.polyfit(near - end, middle[near], 1)[0])


def _hermite(t: FloatArray, a: float, b: float, slope_a: float, slope_b: float) -> FloatArray:
    return np.asarray(
        (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * slope_a
        + (3 * t**2 - 2 * t**3) * b + (t**3 - t**2) * slope_b
    )  # fmt: skip


def _spread(row: FloatArray, seen: BoolArray, thickness: float, noise: float) -> FloatArray:
    """Standard uncertainty of the middle, rows: a sixth of the line, what columns scatter, how far a bridge bows."""
    sd = np.full(row.size, float(np.hypot(thickness / 6, noise / np.sqrt(SMOOTHING))))
    at = np.flatnonzero(seen)
    for left, right in pairwise(at.tolist()):
        if right - left > 1:
            inner = np.arange(left + 1, right)
            t = (inner - left) / (right - left)
            chord = row[left] + (row[right] - row[left]) * t
            bow = np.abs(row[inner] - chord) / 2 + 0.06 * (right - left) * np.sqrt(t * (1 - t))
            sd[inner] = np.hypot(sd[inner], bow)
    return sd
