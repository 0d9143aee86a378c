"""Engine speed from frame to frame: forward-backward over speeds and rates of change, with "not known" as a state.

A hidden Markov model (Rabiner 1989, Proceedings of the IEEE 77, 257). The state is engine speed on an even logarithmic
grid times its relative rate of change; speed moves as the rate says, the rate changes little from frame to frame, and
an engine cannot jump. One more state says that nothing here speaks for any speed.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.engine_comb import GRID_STEP
from calmday.reduction.sound_spectra import RATES_PER_S

FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]

TEMPER_S: Final = 0.35
"""Windows overlap, and lines tell much the same from one to the next: evidence counts as fresh once in this time."""

NOTHING_NATS: Final = 1.5
"""Evidence that "nothing to be known" stands for: a comb must say more than noise does by chance."""

_LOSE, _FIND = 0.01, 0.04
_LEAP: Final = 1e-5
_STAY: Final = 0.62
_NEAR: Final = 0.35
_BLUR: Final = np.array([0.05, 0.25, 0.4, 0.25, 0.05])
RIVALS: Final = (1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 4 / 3, 3 / 2, 2.0, 3.0, 4.0)
"""Speeds that share lines with the true one, over the true one."""

LOOK_AHEAD: Final = 60
"""Frames after a chunk that may still speak about it."""


class Posterior(msgspec.Struct, frozen=True, kw_only=True):
    """What each frame is believed to turn at: `speed` (frames, speeds) over the grid and `nothing` (frames,); they add
    up to 1. `rate` (frames, rates). `ahead` (frames, rivals): evidence of the likeliest speed less that of each speed
    which it could be mistaken for, `RIVALS` times as high; NaN where that lies outside what the engine does."""

    speed: SingleArray
    rate: SingleArray
    nothing: FloatArray
    ahead: SingleArray


class Tracker:
    """Takes evidence chunk by chunk and gives the posterior of all that lies far enough behind."""

    def __init__(self, speeds: int, hop_s: float) -> None:
        self._hop = hop_s
        self._speeds = speeds
        self._rates = RATES_PER_S.size
        self._shift = RATES_PER_S * hop_s / GRID_STEP
        self._mix = _rate_changes()
        start = np.full((self._rates, speeds), 0.5 / (self._rates * speeds))
        self._belief = (start, 0.5)
        self._held: list[SingleArray] = []

    def add(self, evidence: SingleArray) -> Posterior | None:
        """More evidence, (frames, rates, speeds); the posterior of what can be told now."""
        self._held.extend(evidence)
        if len(self._held) < 4 * LOOK_AHEAD:
            return None
        return self._tell(len(self._held) - LOOK_AHEAD)

    def finish(self) -> Posterior | None:
        """The posterior of all that is left."""
        return self._tell(len(self._held)) if self._held else None

    def _tell(self, count: int) -> Posterior:
        weight = self._hop / TEMPER_S
        frames = len(self._held)
        likes = np.empty((frames, self._rates, self._speeds), np.float32)
        blank = np.empty(frames)
        ahead = np.empty_like(likes)
        nothing_ahead = np.empty(frames)
        belief, nothing = self._belief
        for t, told in enumerate(self._held):
            top = max(float(told.max()), NOTHING_NATS)
            likes[t] = np.exp(weight * (told - top))
            blank[t] = np.exp(weight * (NOTHING_NATS - top))
            if t or self._started:
                belief, nothing = self._step(belief, nothing)
            belief = belief * likes[t]
            nothing *= blank[t]
            total = belief.sum() + nothing
            belief, nothing = belief / total, nothing / total
            ahead[t], nothing_ahead[t] = belief, nothing
            if t == count - 1:
                self._belief = (belief, nothing)
        back, back_nothing = np.ones((self._rates, self._speeds)), 1.0
        speed = np.empty((count, self._speeds), np.float32)
        rate = np.empty((count, self._rates), np.float32)
        empty = np.empty(count)
        for t in range(frames - 1, -1, -1):
            if t < count:
                both, none = ahead[t] * back, nothing_ahead[t] * back_nothing
                total = both.sum() + none
                speed[t], rate[t], empty[t] = both.sum(axis=0) / total, both.sum(axis=1) / total, none / total
            back, back_nothing = self._step_back(back * likes[t], back_nothing * blank[t])
        margins = _margins(self._held[:count], speed)
        del self._held[:count]
        self._started = True
        return Posterior(speed=speed, rate=rate, nothing=empty, ahead=margins)

    _started = False

    def _step(self, belief: FloatArray, nothing: float) -> tuple[FloatArray, float]:
        """One hop of time: rates change, speeds move, some are lost or found."""
        mixed = self._mix.T @ belief
        moved = np.empty_like(mixed)
        for j in range(self._rates):
            moved[j] = _moved(mixed[j], self._shift[j])
        engine = float(moved.sum())
        flat = (engine * (1 - _LOSE) * _LEAP + nothing * _FIND) / moved.size
        return moved * ((1 - _LOSE) * (1 - _LEAP)) + flat, nothing * (1 - _FIND) + engine * _LOSE

    def _step_back(self, back: FloatArray, nothing: float) -> tuple[FloatArray, float]:
        moved = np.empty_like(back)
        for j in range(self._rates):
            moved[j] = _moved(back[j], -self._shift[j])
        flat = float(back.mean())
        held = (self._mix @ moved) * ((1 - _LOSE) * (1 - _LEAP)) + _LEAP * flat + _LOSE * nothing
        empty = (1 - _FIND) * nothing + _FIND * flat
        top = max(float(held.max()), empty, 1e-300)
        return held / top, empty / top


def _margins(told: list[SingleArray], speed: SingleArray) -> SingleArray:
    """Evidence of the likeliest speed less that of its rivals, (frames, rivals)."""
    steps = np.rint(np.log(RIVALS) / GRID_STEP).astype(np.int64)
    best = speed.argmax(axis=1)
    out = np.full((len(told), steps.size), np.nan, np.float32)
    for t, evidence in enumerate(told):
        tops = evidence.max(axis=0)
        wide = np.max([np.roll(tops, k) for k in range(-3, 4)], axis=0)
        at = best[t] + steps
        inside = (at >= 3) & (at < tops.size - 3)
        out[t, inside] = wide[best[t]] - wide[at[inside]]
    return out


def _moved(belief: FloatArray, shift: float) -> FloatArray:
    """A belief over the grid moved by so many steps and blurred a little; what leaves the grid is lost."""
    whole = int(np.floor(shift))
    past = shift - whole
    kernel = np.convolve(_BLUR, [1 - past, past])
    spread = np.convolve(belief, kernel)
    start = len(_BLUR) // 2 - whole
    out = np.zeros_like(belief)
    low, high = max(start, 0), min(start + belief.size, spread.size)
    if high > low:
        out[low - start : high - start] = spread[low:high]
    return out


def _rate_changes() -> FloatArray:
    """Chance of each rate of change after each, (rates, rates): mostly the same or a neighbour."""
    count = RATES_PER_S.size
    far = np.full((count, count), (1 - _STAY - _NEAR) / count)
    for j in range(count):
        far[j, j] += _STAY
        beside = [k for k in (j - 1, j + 1) if 0 <= k < count]
        for k in beside:
            far[j, k] += _NEAR / len(beside)
    return far
