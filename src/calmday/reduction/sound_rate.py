"""Sound of any sample rate brought down to what engine lines need, a block at a time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

SingleArray = NDArray[np.float32]

TARGET_HZ: Final = 5_000.0
"""No lower than this: lines are looked for up to 2 kHz."""
_LOBES: Final = 8


def step_down(rate_hz: float) -> int:
    """Of how many samples one is kept."""
    return max(int(rate_hz // TARGET_HZ), 1)


def thinned(blocks: Iterable[SingleArray], rate_hz: float) -> Iterator[SingleArray]:
    """Every `step_down`-th sample after a low pass (windowed sinc); what is no number counts as silence.

    The low pass ends at 0.45 of the new rate; its delay is taken off.
    """
    keep = step_down(rate_hz)
    if keep == 1:
        for block in blocks:
            yield np.nan_to_num(block, nan=0.0, posinf=0.0, neginf=0.0)
        return
    reach = _LOBES * keep
    at = np.arange(-reach, reach + 1)
    taps = (np.sinc(0.9 * at / keep) * np.hanning(at.size + 2)[1:-1]).astype(np.float32)
    taps /= taps.sum()
    held = np.zeros(reach, np.float32)
    for block in blocks:
        held = np.concatenate([held, np.nan_to_num(block, nan=0.0, posinf=0.0, neginf=0.0)])
        count = (held.size - taps.size) // keep + 1
        if count > 0:
            yield _filtered(held, taps, keep, count)
            held = held[count * keep :]
    held = np.concatenate([held, np.zeros(reach, np.float32)])
    count = (held.size - taps.size) // keep + 1
    if count > 0:
        yield _filtered(held, taps, keep, count)


def _filtered(held: SingleArray, taps: SingleArray, keep: int, count: int) -> SingleArray:
    windows = np.lib.stride_tricks.sliding_window_view(held, taps.size)[::keep][:count]
    return np.asarray(windows @ taps, np.float32)
