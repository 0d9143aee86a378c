"""Engine speed between the steps of the grid: the lines of one frame, each by its own summit, weighed together."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.reduction.engine_comb import EngineOrders
from calmday.reduction.sound_spectra import RATES_PER_S, Analysis

FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]

_LINE_SPREAD: Final = 0.6
"""Standard deviation of a line's frequency times window length and root of its power over the noise. 0.39 for a tone
in a plain window (Rife and Boorstyn 1974, IEEE Trans. Inf. Theory 20, 591; from memory), more for a bell-shaped one."""
_CLEAR: Final = 5.0
_BOUNDS: Final = 2.5
MODEL_SD: Final = 0.0002
"""Relative doubt that no line shows: pipes that lean on a line. From studies."""
BENT_WRONG: Final = 0.025
"""Relative error for each unit of relative rate (1/s) that the window was bent wrongly, times its length. From
studies."""
CURVED: Final = 0.0165
"""Half the variance of the window's weight over its length squared: what a curving speed is off by."""
LONE_SD: Final = 0.004
"""Relative doubt where no line stands clear and the comb alone has to do."""


def summit(spectrum: SingleArray, place: float, reach: int) -> tuple[float, float]:
    """Place and power of the highest point within reach of a place, by the parabola through three logarithms."""
    low = max(int(place) - reach, 1)
    high = min(int(place) + reach + 2, spectrum.size - 1)
    if high - low < 1:
        return place, 0.0
    top = low + int(np.argmax(spectrum[low:high]))
    a, b, c = np.log(spectrum[top - 1 : top + 2].astype(np.float64) + 1e-12)
    bend = a - 2 * b + c
    past = 0.5 * (a - c) / bend if bend < 0 else 0.0
    return top + float(np.clip(past, -0.5, 0.5)), float(spectrum[top])


def refined(
    power: SingleArray, shade: SingleArray, rps: float, rate: float, orders: EngineOrders, analysis: Analysis
) -> tuple[float, float]:
    """Engine speed and its standard deviation, rev/s, from one frame: `power` (rates, bins) near one of the grid."""
    spectrum = power[int(np.argmin(np.abs(RATES_PER_S - rate)))]
    bin_hz = analysis.bin_hz
    cycle = rps / orders.turns_per_cycle / bin_hz
    teeth = np.arange(1, int((spectrum.size - 2) / cycle) + 1)
    at = teeth * cycle
    lobe = 0.8 / analysis.window_s / bin_hz
    clear = spectrum[np.rint(at).astype(np.int64)] > _CLEAR * shade[np.rint(at).astype(np.int64)]
    found, sds, numbers = [], [], []
    for tooth in teeth[clear][:60]:
        place, high = summit(spectrum, tooth * cycle, max(round(lobe), 1))
        if abs(place - tooth * cycle) > lobe + 1:
            continue
        found.append(place / tooth)
        sds.append(_LINE_SPREAD / analysis.window_s / bin_hz / np.sqrt(min(high, 1e4)) / tooth + 0.02 / tooth)
        numbers.append(tooth)
    if not found:
        return rps, LONE_SD * rps
    value, spread = _together(np.array(found), np.array(sds))
    turns = value * bin_hz * orders.turns_per_cycle
    return turns, float(np.hypot(spread / value, MODEL_SD) * turns)


def _together(found: FloatArray, sds: FloatArray) -> tuple[float, float]:
    """Weighted mean without stragglers, and its standard deviation, widened where lines disagree."""
    value = float(np.median(found))
    keep = np.ones(found.size, bool)
    for _ in range(3):
        weight = keep / (sds**2 + (0.0008 * value) ** 2)
        value = float(np.sum(weight * found) / np.sum(weight))
        scale = max(1.0, float(np.median(np.abs(found - value) / sds)) / 0.67)
        near = np.abs(found - value) < _BOUNDS * scale * np.hypot(sds, 0.0008 * value)
        keep = near if near.any() else keep
    weight = keep / (sds**2 + (0.0008 * value) ** 2)
    chi = float(np.sum(weight * (found - value) ** 2)) / max(int(keep.sum()) - 1, 1)
    return value, float(np.sqrt(max(chi, 1.0) / np.sum(weight)))


def moving_sd(ln_speed: FloatArray, rate: FloatArray, hop_s: float, window_s: float) -> FloatArray:
    """Relative doubt from a speed that does not move as the window was bent for, (frames,).

    The rate and the curving are read off the neighbours two frames away; `rate` is what the window was bent to.
    """
    wide = np.pad(ln_speed, 2, mode="edge")
    slope = (wide[4:] - wide[:-4]) / (4 * hop_s)
    curve = (wide[4:] - 2 * ln_speed + wide[:-4]) / (2 * hop_s) ** 2
    off = np.minimum(np.abs(slope - rate), 2.0)
    return np.asarray(np.hypot(BENT_WRONG * off * window_s, CURVED * np.minimum(np.abs(curve), 20.0) * window_s**2))
