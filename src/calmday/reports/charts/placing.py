"""Labels that do not sit on each other."""

from __future__ import annotations

from collections.abc import Sequence


def spread(wanted: Sequence[float], height: float, low: float, high: float) -> list[float]:
    """Places as near as can be to those wanted (centres), at least `height` apart and within [low, high].

    Labels keep their order; a crowd is shared out about its mean. Where they cannot all fit, they are spaced evenly.
    """
    count = len(wanted)
    if count == 0:
        return []
    first, last = low + height / 2, high - height / 2
    if (count - 1) * height >= last - first:
        gap = (last - first) / (count - 1) if count > 1 else 0.0
        order = sorted(range(count), key=lambda i: wanted[i])
        even = {index: first + rank * gap for rank, index in enumerate(order)}
        return [even[i] if count > 1 else (first + last) / 2 for i in range(count)]
    order = sorted(range(count), key=lambda i: wanted[i])
    crowds: list[list[int]] = []
    centres: list[float] = []
    for index in order:
        crowds.append([index])
        centres.append(_kept(wanted[index], 1, height, first, last))
        while len(crowds) > 1 and centres[-1] - centres[-2] < height * (len(crowds[-1]) + len(crowds[-2])) / 2:
            merged = crowds[-2] + crowds[-1]
            crowds[-2:] = [merged]
            mean = sum(wanted[i] for i in merged) / len(merged)
            centres[-2:] = [_kept(mean, len(merged), height, first, last)]
    placed = [0.0] * count
    for crowd, centre in zip(crowds, centres, strict=True):
        for rank, index in enumerate(crowd):
            placed[index] = centre + (rank - (len(crowd) - 1) / 2) * height
    return placed


def _kept(centre: float, count: int, height: float, first: float, last: float) -> float:
    reach = (count - 1) * height / 2
    return min(max(centre, first + reach), last - reach)


def without_crowding(starts: Sequence[float], stops: Sequence[float], gap: float) -> list[int]:
    """Indices of labels (from `starts` to `stops`, ascending) kept so that each is `gap` clear of the one before."""
    kept: list[int] = []
    reached = float("-inf")
    for index, (start, stop) in enumerate(zip(starts, stops, strict=True)):
        if start >= reached + gap or not kept:
            kept.append(index)
            reached = stop
    return kept
