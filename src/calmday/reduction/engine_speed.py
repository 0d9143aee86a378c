"""From a recording to engine speed against time: the order of the steps, nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.engine_comb import Comb, EngineOrders
from calmday.reduction.engine_line import moving_sd, refined
from calmday.reduction.engine_track import Posterior, Tracker
from calmday.reduction.sound_picture import Picture, PictureMaker
from calmday.reduction.sound_rate import step_down, thinned
from calmday.reduction.sound_spectra import RATES_PER_S, Analysis, Frames, spectra

FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]

ENOUGH: Final = 0.9
"""Confidence from which a speed counts as known."""
_NEAR: Final = 6
"""Steps of the grid either way that count as the same speed (3 %)."""
_RIVAL_WINDOW_S: Final = 3.0
_RIVAL_NATS: Final = 3.0
_RIVAL_SLOPE: Final = 1.6
"""How much better than its rivals a speed must fit, on average, before octaves count as told apart. From studies."""
_WINDOW_CYCLES: Final = 4.5


class EngineSpeed(msgspec.Struct, frozen=True, kw_only=True):
    """Engine speed against time, (frames,) each.

    `speed_rps` NaN where not known; `sd_rps` one standard deviation; `likeliest_rps` the likeliest speed also where it
    does not count as known; `confidence` 0 to 1 that it is within 3 %, `local` the same if no rival shared its lines;
    `rate_per_s` relative rate of change; `level` mean square of the sound.
    """

    time_s: FloatArray
    speed_rps: FloatArray
    sd_rps: FloatArray
    likeliest_rps: FloatArray
    confidence: FloatArray
    local: FloatArray
    rate_per_s: FloatArray
    level: FloatArray
    picture: Picture
    window_s: float
    hop_s: float

    @property
    def known(self) -> NDArray[np.bool_]:
        return np.isfinite(self.speed_rps)


def analysis_for(orders: EngineOrders, rate_hz: float) -> Analysis:
    """Windows that hold a few cycles at idle, 0.4 to 0.9 s."""
    slowest_hz = orders.lowest_rps / 0.75 / orders.turns_per_cycle
    return Analysis(
        rate_hz=rate_hz,
        window_s=float(np.clip(_WINDOW_CYCLES / slowest_hz, 0.4, 0.9)),
        reach_hz=orders.reach_hz,
    )


def engine_speed(blocks: Iterable[SingleArray], rate_hz: float, orders: EngineOrders, seconds: float) -> EngineSpeed:
    """Engine speed in a recording that comes in blocks. `seconds` its length, for the picture.

    Memory is that of some seconds of spectra, whatever the length.
    """
    low = rate_hz / step_down(rate_hz)
    analysis = analysis_for(orders, low)
    comb = Comb(orders, analysis.bin_hz, analysis.bins)
    tracker = Tracker(comb.grid_rps.size, analysis.hop_s)
    picture = PictureMaker(seconds, analysis)
    waiting: list[tuple[Frames, int]] = []
    rows: list[FloatArray] = []
    margins: list[SingleArray] = []
    for frames in spectra(thinned(blocks, rate_hz), analysis):
        picture.add(frames)
        waiting += [(frames, i) for i in range(frames.time_s.size)]
        _tell(tracker.add(comb.weigh(frames)), waiting, comb, analysis, rows, margins)
    _tell(tracker.finish(), waiting, comb, analysis, rows, margins)
    table = np.concatenate(rows) if rows else np.zeros((0, 6))
    ahead = np.concatenate(margins) if margins else np.zeros((0, 1), np.float32)
    time, best, sd, local, rate, level = table.T
    if best.size:
        sd = np.hypot(sd, best * moving_sd(np.log(best), rate, analysis.hop_s, analysis.window_s))
    confidence = local * _told_apart(ahead, analysis.hop_s)
    known = confidence >= ENOUGH
    return EngineSpeed(
        time_s=time, speed_rps=np.where(known, best, np.nan), sd_rps=np.where(known, sd, np.nan), likeliest_rps=best,
        confidence=confidence, local=local, rate_per_s=rate, level=level, picture=picture.finish(),
        window_s=analysis.window_s, hop_s=analysis.hop_s,
    )  # fmt: skip


def _tell(
    told: Posterior | None,
    waiting: list[tuple[Frames, int]],
    comb: Comb,
    analysis: Analysis,
    rows: list[FloatArray],
    margins: list[SingleArray],
) -> None:
    """Turn what the tracker can tell by now into rows: time, speed, sd, local belief, rate, level."""
    if told is None:
        return
    out = np.empty((told.nothing.size, 6))
    for t in range(told.nothing.size):
        frames, i = waiting[t]
        k = int(told.speed[t].argmax())
        local = float(told.speed[t, max(0, k - _NEAR) : k + _NEAR + 1].sum())
        rate = float(RATES_PER_S[int(told.rate[t].argmax())])
        rps = float(comb.grid_rps[k])
        speed, sd = refined(frames.power[i], frames.shade[i], rps, rate, comb.orders, analysis)
        if abs(speed / rps - 1) > 0.02:
            speed, sd = rps, 0.01 * rps
        out[t] = frames.time_s[i], speed, sd, local, rate, frames.level[i]
    del waiting[: told.nothing.size]
    rows.append(out)
    margins.append(told.ahead)


def _told_apart(ahead: SingleArray, hop_s: float) -> FloatArray:
    """How sure each frame is that its speed is not one of the rivals that share its lines, 0 to 1."""
    if not ahead.size:
        return np.ones(ahead.shape[0])
    width = max(round(_RIVAL_WINDOW_S / hop_s) | 1, 1)
    kernel = np.ones(width)
    known = np.isfinite(ahead)
    filled = np.where(known, ahead, 0.0)
    worst = np.full(ahead.shape[0], np.inf)
    for rival in range(ahead.shape[1]):
        total = np.convolve(filled[:, rival], kernel)[width // 2 : width // 2 + ahead.shape[0]]
        count = np.convolve(known[:, rival], kernel)[width // 2 : width // 2 + ahead.shape[0]]
        mean = np.where(count > 0, total / np.maximum(count, 1), np.inf)
        worst = np.minimum(worst, np.where(known[:, rival], mean, np.inf))
    return np.asarray(1 / (1 + np.exp(np.clip(-_RIVAL_SLOPE * (worst - _RIVAL_NATS), -50, 50))))
