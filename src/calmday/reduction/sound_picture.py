"""A spectrogram small enough to print, made while a recording streams by."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.sound_spectra import Analysis, Frames

FloatArray = NDArray[np.float64]
ByteArray = NDArray[np.uint8]

MOST_COLUMNS: Final = 720
ROWS: Final = 240
TOP_HZ: Final = 500.0
_RANGE_DB: Final = 45.0


class Picture(msgspec.Struct, frozen=True, kw_only=True):
    """Loudness as grey, (rows, columns) of 0 (quiet) to 255 (loud), the lowest frequency in the last row.

    Each row is lifted by its own usual level, so that wind at the bottom does not drown the lines. Columns span
    `start_s` to `end_s`, rows 0 to `top_hz`.
    """

    grey: ByteArray
    start_s: float
    end_s: float
    top_hz: float


class PictureMaker:
    """Gathers the loudest of each small square of time and frequency."""

    def __init__(self, seconds: float, analysis: Analysis) -> None:
        frames = max(int(seconds / analysis.hop_s) + 1, 1)
        self._merge = -(-frames // MOST_COLUMNS)
        self._hop = analysis.hop_s
        self._start = analysis.window_s / 2 - analysis.hop_s / 2
        edges = np.linspace(0, TOP_HZ / analysis.bin_hz, ROWS + 1)
        self._low = np.minimum(edges[:-1].astype(np.int64), analysis.bins - 1)
        self._columns: list[FloatArray] = []
        self._seen = 0

    def add(self, frames: Frames) -> None:
        """Take in a batch of frames."""
        tops = np.maximum.reduceat(frames.plain, self._low, axis=1)
        for row in tops[:, :]:
            if self._seen % self._merge == 0:
                self._columns.append(row.astype(np.float64))
            else:
                np.maximum(self._columns[-1], row, out=self._columns[-1])
            self._seen += 1

    def finish(self) -> Picture:
        """The picture of all that was taken in."""
        end = self._start + self._seen * self._hop
        if not self._columns:
            return Picture(grey=np.zeros((ROWS, 1), np.uint8), start_s=0.0, end_s=1.0, top_hz=TOP_HZ)
        decibels = 10 * np.log10(np.maximum(np.stack(self._columns, axis=1), 1e-12))
        usual = np.quantile(decibels, 0.4, axis=1, keepdims=True)
        padded = np.concatenate([usual[:1].repeat(8, 0), usual, usual[-1:].repeat(8, 0)])
        smooth = np.lib.stride_tricks.sliding_window_view(padded[:, 0], 17).mean(axis=1)[:, None]
        over = (decibels - smooth + 6) / _RANGE_DB
        return Picture(
            grey=np.asarray(255 * np.clip(over[::-1], 0, 1), np.uint8), start_s=self._start, end_s=end, top_hz=TOP_HZ
        )
