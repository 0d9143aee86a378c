"""Short-time spectra of a recording: windows bent to a speed that rises or falls, noise floor taken off.

A line of an engine that speeds up smears over a plain window. Here each window is also read on clocks that run faster
and faster (or slower and slower), so that for the right rate of change every order is a sharp line again, whatever its
frequency (the "fan" of chirps; Weruaga and Képesi 2007, Signal Processing 87, 1504; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]

RATES_PER_S: Final = np.array([-1.6, -0.8, -0.35, -0.12, 0.0, 0.12, 0.35, 0.8, 1.6])
"""Relative rates of change of engine speed, d ln n / dt, that windows are bent to."""

HIGHEST_HZ: Final = 2000.0
"""Lines are looked for below this frequency."""

_BAND_SHARE: Final = 0.2
_BAND_HZ: Final = 60.0
_QUIET_PART: Final = 0.3
_FLOOR_LIMIT: Final = 1e-12
DYNAMIC_RANGE: Final = 30.0
"""Lines this far in power (15 dB) below the loudest nearby count no more than noise does: they may be its skirts."""


class Frames(msgspec.Struct, frozen=True, kw_only=True):
    """Spectra at even times. `power` (frames, rates, bins) over the noise floor; `shade` (frames, bins) what to divide
    it by so that what is faint beside the loudest nearby counts no more than noise; `level` (frames,)
    mean square of the sound; `plain` (frames, bins) power without bending, for a picture. `bin_hz` width of a bin."""

    time_s: FloatArray
    power: SingleArray
    shade: SingleArray
    plain: SingleArray
    level: FloatArray
    bin_hz: float


class Analysis(msgspec.Struct, frozen=True, kw_only=True):
    """How a recording is cut into windows: `window_s` long, one every `hop_s`, of sound at `rate_hz`."""

    rate_hz: float
    window_s: float
    hop_s: float = 0.1
    reach_hz: float = 100.0

    @property
    def samples(self) -> int:
        return 2 * round(self.window_s * self.rate_hz / 2)

    @property
    def size(self) -> int:
        """Length of the transform: at least twice the window, so that lines are read between bins as well."""
        return 1 << (2 * self.samples - 1).bit_length()

    @property
    def bin_hz(self) -> float:
        return self.rate_hz / self.size

    @property
    def bins(self) -> int:
        return min(int(HIGHEST_HZ / self.bin_hz) + 2, self.size // 2)


def bent_clocks(analysis: Analysis) -> tuple[NDArray[np.int64], SingleArray]:
    """For each rate the sample before each moment of the bent clock, and how far past it, (rates, samples)."""
    tau = (np.arange(analysis.samples) - (analysis.samples - 1) / 2) / analysis.rate_hz
    rates = RATES_PER_S[:, None]
    gentle = np.where(np.abs(rates) < 1e-9, 1.0, rates)
    inside = 1 + 2 * gentle * tau[None, :]
    bent = np.where(np.abs(rates) < 1e-9, tau[None, :], (np.sqrt(np.maximum(inside, 1e-3)) - 1) / gentle)
    place = np.clip(bent * analysis.rate_hz + (analysis.samples - 1) / 2, 1, analysis.samples - 3)
    whole = np.floor(place).astype(np.int64)
    return whole, (place - whole).astype(np.float32)


def spectra(blocks: Iterable[SingleArray], analysis: Analysis, batch: int = 40) -> Iterator[Frames]:
    """Spectra of sound that comes in blocks, a batch of frames at a time; memory is bounded by the batch.

    The first window starts with the sound, so the first time is half a window.
    """
    hop = round(analysis.hop_s * analysis.rate_hz)
    need = analysis.samples + (batch - 1) * hop
    held = np.zeros(0, np.float32)
    done = 0
    clocks = bent_clocks(analysis)
    for block in blocks:
        held = np.concatenate([held, block])
        while held.size >= need:
            yield _frames(held[:need], analysis, clocks, done, batch)
            held = held[batch * hop :]
            done += batch
    left = (held.size - analysis.samples) // hop + 1 if held.size >= analysis.samples else 0
    if left > 0:
        yield _frames(held, analysis, clocks, done, left)


def _frames(
    sound: SingleArray, analysis: Analysis, clocks: tuple[NDArray[np.int64], SingleArray], first: int, count: int
) -> Frames:
    hop = round(analysis.hop_s * analysis.rate_hz)
    cut = np.lib.stride_tricks.sliding_window_view(sound, analysis.samples)[::hop][:count]
    level = np.mean(np.square(cut, dtype=np.float64), axis=1)
    window = np.hanning(analysis.samples).astype(np.float32)
    bins = analysis.bins
    power = np.empty((count, RATES_PER_S.size, bins), np.float32)
    whole, past = clocks
    for j, rate in enumerate(RATES_PER_S):
        bent = cut if rate == 0 else _read_at(cut, whole[j], past[j])
        power[:, j] = np.square(np.abs(np.fft.rfft(bent * window, analysis.size, axis=1)[:, :bins]))
    plain = power[:, int(np.argmin(np.abs(RATES_PER_S)))].copy()
    power /= noise_floor(plain, analysis.bin_hz)[:, None, :]
    shade = 1 + loudest_nearby(power.max(axis=1), analysis) / DYNAMIC_RANGE
    time = (first + np.arange(count)) * hop / analysis.rate_hz + analysis.samples / analysis.rate_hz / 2
    return Frames(time_s=time, power=power, shade=shade, plain=plain, level=level, bin_hz=analysis.bin_hz)


def _read_at(cut: SingleArray, whole: NDArray[np.int64], past: SingleArray) -> SingleArray:
    """Sound between its samples, by the cubic through four of them (Catmull and Rom)."""
    a, b, c, d = (cut[:, whole + k] for k in (-1, 0, 1, 2))
    bend = past * (a - 2.5 * b + 2 * c - 0.5 * d + past * (0.5 * (d - a) + 1.5 * (b - c)))
    return np.asarray(b + past * (0.5 * (c - a) + bend), np.float32)


def loudest_nearby(power: SingleArray, analysis: Analysis) -> SingleArray:
    """The most power within reach of each bin, (frames, bins): what skirts and faint lines are held against.

    The loudness of engines falls with frequency; so that this fall does not hide the upper lines beside the lower ones,
    a smooth slope (a parabola of decibels over the logarithm of frequency) is taken off before and put back after.
    """
    bins = power.shape[1]
    step = max(int(analysis.reach_hz / 2.5 / analysis.bin_hz), 1)
    blocks = -(-bins // step)
    hz = np.maximum(np.arange(bins), 1) * analysis.bin_hz
    slope = _slope(power.mean(axis=0), hz)
    padded = np.pad(power / slope, ((0, 0), (0, blocks * step - bins)))
    tops = padded.reshape(power.shape[0], blocks, step).max(axis=2)
    edge = np.pad(tops, ((0, 0), (2, 2)), mode="edge")
    wide = np.max([edge[:, k : k + blocks] for k in range(5)], axis=0)
    return np.asarray(slope * np.repeat(wide, step, axis=1)[:, :bins], np.float32)


def _slope(mean: SingleArray, hz: FloatArray) -> FloatArray:
    """How the loudest of each sixth of an octave falls with frequency, smooth, (bins,)."""
    edges = np.arange(np.log(25.0), np.log(hz[-1]), np.log(2) / 6)
    which = np.digitize(np.log(hz), edges)
    octave = np.arange(1, edges.size)
    tops = np.array([np.log(mean[which == k].max() + 1e-9) if np.any(which == k) else np.nan for k in octave])
    known = np.isfinite(tops)
    middle = edges[:-1] + np.log(2) / 12 - 5.0
    fit = np.polyfit(middle[known], tops[known], 2)
    return np.asarray(np.exp(np.polyval(fit, np.log(np.maximum(hz, 25.0)) - 5.0)))


def noise_floor(plain: SingleArray, bin_hz: float) -> SingleArray:
    """Power of the noise between the lines, (frames, bins): a low quantile over a band that widens with frequency.

    The quantile q of an exponential distribution is -ln(1 - q) of its mean, which gives the mean back.
    """
    bins = plain.shape[1]
    centres, floors = [], []
    at = 0.0
    top = bins * bin_hz
    while at < top:
        half = max(_BAND_HZ, _BAND_SHARE * at) / 2
        low = max(int((at - half) / bin_hz), int(12 / bin_hz))
        high = max(min(int((at + half) / bin_hz), bins), low + 12)
        low = min(low, bins - 12)
        part = np.partition(plain[:, low:high], int(_QUIET_PART * (min(high, bins) - low)), axis=1)
        floors.append(part[:, int(_QUIET_PART * (min(high, bins) - low))] / -np.log(1 - _QUIET_PART))
        centres.append((low + min(high, bins)) / 2)
        at += half
    logs = np.log(np.maximum(np.stack(floors, axis=1), _FLOOR_LIMIT))
    if logs.shape[0] > 2:  # a floor of one window alone is ragged: its neighbours steady it
        padded = np.concatenate([logs[:1], logs, logs[-1:]])
        logs = (padded[:-2] + padded[1:-1] + padded[2:]) / 3
    where = np.arange(bins)
    out = np.empty_like(plain)
    for i in range(plain.shape[0]):
        out[i] = np.exp(np.interp(where, centres, logs[i]))
    return out
