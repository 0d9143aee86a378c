"""How well the lines of a spectrum fit the orders of an engine at each speed: a comb, not the tallest line.

A cycle (two turns of a four-stroke) repeats, so every line of an engine is a whole multiple k of the cycle frequency.
Multiples of the number of cylinders are firing lines and expected strong; the lines between them (cylinders unlike each
other, uneven firing) may be there or not. For each line the power over the noise floor Z speaks for "a line is here"
against "only noise": under noise Z is exponential with mean 1, under a line of strength s exponential with mean 1 + s.
What one line may say is limited, so that a single strong tone (mains, tyre, fan) cannot carry a comb by itself.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.sound_spectra import HIGHEST_HZ, Frames

FloatArray = NDArray[np.float64]
SingleArray = NDArray[np.float32]

GRID_STEP: Final = 0.005
"""Relative step from one engine speed of the grid to the next."""

_STRENGTHS: Final = np.array([2.0, 6.0, 20.0, 60.0, 200.0])
_TABLE_Z: Final = np.linspace(0.0, 40.0, 1601)


class LineClass(msgspec.Struct, frozen=True):
    """What is expected of lines of one kind: how often they are there, the most one of them may say (nats), and what
    one as strong as any nearby says against (nats), 0 where that is in order."""

    present: float
    most: float
    minor: float = 0.0


FIRING: Final = LineClass(0.75, 6.0)
FIRING_LOW: Final = LineClass(0.45, 4.0)
FIRING_HIGH: Final = LineClass(0.30, 6.0)
WHOLE: Final = LineClass(0.15, 1.0, minor=0.5)
HALF: Final = LineClass(0.10, 0.8, minor=0.5)
BETWEEN: Final = LineClass(0.10, 0.0, minor=2.5)
"""Half way between firing lines. A strong line there says that firing comes at half the speed supposed."""
UNEVEN: Final = LineClass(0.45, 3.5)
LOW_HZ: Final = 55.0
"""Below this many microphones hear little and the wind is loudest: a firing line may well be missing."""
TESTED_LINES, FEW_LINES = 12, 6
UNLIKE: Final = {2: (1.4, 4.0), 3: (1.6, 4.0)}
"""Where every second (third) of the first firing lines stands out from the others, firing comes at twice (three times)
the speed supposed: from which difference of mean log power on, and how much each further unit says against (nats)."""
AS_LOUD: Final = (1.0, 0.8, 4.0)
"""Where lines half way between the first firing lines, and a third of the way, are about as loud as those (at most so
much fainter in mean log power, and so far over the noise), firing comes at half (a third of) the speed supposed; and
how much each further unit says against."""
MOST_AGAINST: Final = 14.0
SEEN_FAINT: Final = ((0.0, 1.5, 3.0, 6.0, 12.0), (-0.4, -0.2, 0.3, 2.0, 6.0))
"""What a firing line says where its neighbours stand far out of the noise: Z, and nats. Every second one faint means
that firing comes at twice the speed supposed."""
SEEN_MISSING: Final = -0.8
"""Added where such a line is not there at all, less than `_THERE` times the noise floor: it would have been seen."""
_THERE: Final = 4.0
SEEN_FROM: Final = 2.5
"""How far the loudest nearby must raise the shade (see `sound_spectra`) for that."""
EARLY_LINES: Final = 4
"""Firing lines that are nearly always there; later ones may drown."""
MOST_FIRING_LINES: Final = 20


class EngineOrders(msgspec.Struct, frozen=True, kw_only=True):
    """What the comb knows of the engine. Speeds in rev/s; `uneven` where firing is known to be uneven."""

    cylinders: int
    strokes: int
    lowest_rps: float
    highest_rps: float
    uneven: bool = False

    @property
    def turns_per_cycle(self) -> float:
        return self.strokes / 2

    @property
    def highest_hz(self) -> float:
        """Up to where lines are looked for: three firing lines at the highest speed, within what is analysed."""
        return float(np.clip(3 * self.highest_rps * self.cylinders / self.turns_per_cycle, 600.0, HIGHEST_HZ))

    @property
    def reach_hz(self) -> float:
        """How far to look for the loudest line: over half a gap between firing lines at the highest speed."""
        return float(np.clip(0.6 * self.highest_rps * self.cylinders / self.turns_per_cycle, 60.0, 400.0))

    def grid_rps(self) -> FloatArray:
        """Engine speeds to weigh, evenly spaced in their logarithm."""
        count = int(np.log(self.highest_rps / self.lowest_rps) / GRID_STEP) + 2
        return np.asarray(self.lowest_rps * np.exp(GRID_STEP * np.arange(count)))


def evidence_table(kind: LineClass) -> FloatArray:
    """Log likelihood ratio of a line for `_TABLE_Z`, limited to what one line may say."""
    z = _TABLE_Z[:, None]
    ratio = np.exp(z * _STRENGTHS / (1 + _STRENGTHS)) / (1 + _STRENGTHS)
    told = np.minimum(np.log(1 - kind.present + kind.present * ratio.mean(axis=1)), kind.most)
    if kind.minor:
        told = told - (kind.most + kind.minor) * np.clip((_TABLE_Z - 8) / 14, 0, 1)
    return np.asarray(told)


class Comb:
    """The comb for one engine and one width of bins: gathers evidence from spectra for every speed of the grid."""

    def __init__(self, orders: EngineOrders, bin_hz: float, bins: int) -> None:
        self.orders = orders
        self.grid_rps = orders.grid_rps()
        kinds = (FIRING, FIRING_LOW, FIRING_HIGH, WHOLE, HALF, BETWEEN)
        if orders.uneven:
            kinds = (UNEVEN, FIRING_LOW, UNEVEN, UNEVEN, UNEVEN, UNEVEN)
        self._tables = np.stack([evidence_table(kind) for kind in kinds]).astype(np.float32)
        self._seen = np.interp(_TABLE_Z, *SEEN_FAINT).astype(np.float32)
        self._bins, self._bin_hz = bins, bin_hz
        number = np.arange(1.0, TESTED_LINES + 1)
        few = number[:FEW_LINES]
        self._few = self._mean_of(few)
        self._between = (self._mean_of(few - 0.5), self._mean_of(np.concatenate([few - 1 / 3, few - 2 / 3])))
        self._turns = [
            (told, self._mean_of(number[number % m == 0]), self._mean_of(number[number % m != 0]))
            for m, told in UNLIKE.items()
        ]
        places, starts, count = [], [], 0
        for rps in self.grid_rps:
            cycle_hz = rps / orders.turns_per_cycle
            most = int(min(orders.highest_hz, (bins - 2) * bin_hz) / cycle_hz)
            teeth = np.arange(1, min(most, MOST_FIRING_LINES * orders.cylinders) + 1, dtype=np.float64)
            if orders.cylinders % 2 and not orders.uneven:
                between = (np.arange(MOST_FIRING_LINES) + 0.5) * orders.cylinders
                teeth = np.concatenate([teeth, between[between < teeth[-1]]])
            place = np.rint(teeth * cycle_hz / bin_hz).astype(np.int64)
            places.append(self._kind(teeth, teeth * cycle_hz) * bins + place)
            starts.append(count)
            count += teeth.size
        self._gather = np.concatenate(places)
        self._starts = np.array(starts)

    def _mean_of(self, numbers: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
        """Bins and weights, (speeds, lines), that average the lines at these multiples of the firing frequency."""
        hz = numbers[None, :] * self.orders.cylinders * self.grid_rps[:, None] / self.orders.turns_per_cycle
        bins = np.rint(hz / self._bin_hz).astype(np.int64)
        there = (hz < self.orders.highest_hz) & (bins < self._bins - 1)
        weight = there / np.maximum(there.sum(axis=1, keepdims=True), 1)
        return np.where(there, bins, 0), weight

    def _against(self, power: SingleArray) -> SingleArray:
        """What speaks against each speed: firing lines that take turns in strength, lines as strong between them."""
        level = np.log(np.maximum(power, 1.0))
        every = (level[self._few[0]] * self._few[1]).sum(axis=1)
        out = np.zeros(self.grid_rps.size)
        for (start, slope), mine, other in self._turns:
            apart = (level[mine[0]] * mine[1]).sum(axis=1) - (level[other[0]] * other[1]).sum(axis=1)
            out += np.clip(slope * (apart - start), 0, MOST_AGAINST) * mine[1].any(axis=1)
        near, loud, slope = AS_LOUD
        for bins, weight in self._between:
            between = (level[bins] * weight).sum(axis=1)
            out += np.clip(slope * np.minimum(between - every + near, between - loud), 0, MOST_AGAINST)
        return out.astype(np.float32)

    def _kind(self, teeth: FloatArray, hz: FloatArray) -> NDArray[np.int64]:
        """Which table each tooth reads."""
        firing = teeth % self.orders.cylinders == 0
        whole = teeth % round(self.orders.turns_per_cycle) == 0
        between = ((2 * teeth) % self.orders.cylinders == 0) & (self.orders.cylinders != 2)  # a twin may be unlike
        early = np.where(hz < LOW_HZ, 1, np.where(teeth <= EARLY_LINES * self.orders.cylinders, 0, 2))
        return np.where(firing, early, np.where(between, 5, np.where(whole, 3, 4)))

    def weigh(self, frames: Frames) -> SingleArray:
        """Log likelihood ratio of every speed against noise alone, (frames, rates, speeds)."""
        scale = (_TABLE_Z.size - 1) / _TABLE_Z[-1]
        count, rates, _ = frames.power.shape
        out = np.empty((count, rates, self.grid_rps.size), np.float32)
        for i in range(count):
            for j in range(rates):
                z = np.minimum(frames.power[i, j] * scale / frames.shade[i], _TABLE_Z.size - 1).astype(np.int64)
                told = self._tables[:, z]
                if not self.orders.uneven:
                    seen = frames.shade[i] > SEEN_FROM
                    missing = SEEN_MISSING * (frames.power[i, j, seen] < _THERE)
                    told[:3, seen] = self._seen[z[seen]] + missing
                out[i, j] = np.add.reduceat(told.ravel()[self._gather], self._starts)
                if not self.orders.uneven:
                    out[i, j] -= self._against(frames.power[i, j])
        return out
