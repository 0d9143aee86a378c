"""Invented dials with a known truth: a speedometer that bends, an odometer, an odd tank with a swinging needle."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.records.consumption import GivenConsumption
from calmday.records.declared import Declared
from calmday.records.dials import Dials, FuelGauge, GaugeReading, OdometerStretch, RangeAsked, SpeedReading
from calmday.records.vehicle import Vehicle

FloatArray = NDArray[np.float64]
KMH = 1 / 3.6


class DialTruth(msgspec.Struct, frozen=True, kw_only=True):
    """What is true behind one set of readings. Speeds km/h, litres."""

    gain: float
    offset_kmh: float
    bend_kmh: float
    odometer_factor: float
    capacity_l: float
    shape: tuple[float, float, float]
    needle_now: float
    litres_per_100km: float

    def shown_kmh(self, true_kmh: FloatArray | float) -> FloatArray:
        """Where the needle of the speedometer stands: off, steeper, and bent by springs and friction."""
        v = np.asarray(true_kmh, dtype=float)
        return np.asarray(self.offset_kmh + self.gain * v + self.bend_kmh * np.sin(math.pi * v / 140))

    def true_kmh(self, shown_kmh: float) -> float:
        """The true speed behind a place of the needle."""
        v = np.linspace(5, 250, 20000)
        return float(np.interp(shown_kmh, self.shown_kmh(v), v))

    def needle(self, litres: FloatArray | float) -> FloatArray:
        """Where the fuel needle stands: a float arm in a tank that is not a box, with rests at both ends."""
        share = np.clip(np.asarray(litres, dtype=float) / self.capacity_l, 0, 1)
        low, high, bow = self.shape
        inner = np.clip((share - low) / (1 - low - high), 0, 1)
        return np.asarray(inner + bow * np.sin(math.pi * inner) * (1 - 0.5 * inner))

    def litres(self, needle: float) -> float:
        """The content behind a place of the fuel needle."""
        content = np.linspace(0, self.capacity_l, 20000)
        return float(np.interp(needle, self.needle(content), content))


def invent(seed: int, speeds: int = 5, stretches: int = 2, fillings: int = 6) -> tuple[Dials, DialTruth]:
    """Readings of one invented vehicle, and the truth behind them."""
    g = np.random.Generator(np.random.PCG64(seed))
    truth = DialTruth(
        gain=g.normal(1.04, 0.04), offset_kmh=g.normal(1.0, 1.5), bend_kmh=g.normal(0, 0.5),
        odometer_factor=g.normal(0.98, 0.03), capacity_l=g.uniform(35, 90),
        shape=(g.uniform(0, 0.08), g.uniform(0, 0.06), g.normal(0, 0.07)), needle_now=g.uniform(0.1, 0.9),
        litres_per_100km=g.uniform(5, 14),
    )  # fmt: skip
    readings = []
    for true in np.linspace(40, 110, speeds) + g.normal(0, 4, speeds):
        seen = 2.0 * round(float(truth.shown_kmh(true) + g.normal(0, 0.3)) / 2.0)
        receiver = round(float(true + g.normal(0, 0.25)), 1)
        readings.append(SpeedReading(indicated_mps=seen * KMH, true_mps=Declared(receiver * KMH)))
    ways = []
    start = 1000 * round(g.uniform(1e4, 2e5), 1)
    for _ in range(stretches):
        true = g.uniform(10e3, 30e3)
        along = true / truth.odometer_factor * (1 + g.normal(0, 0.0015))
        begun = start + g.uniform(0, 100)
        ended = begun + along
        ways.append(
            OdometerStretch(
                start_m=100 * math.floor(begun / 100), end_m=100 * math.floor(ended / 100),
                distance_m=Declared(true * (1 + g.normal(0, 0.001))),
            )
        )  # fmt: skip
        start = 100 * math.floor(ended / 100)
    filled = []
    content, step = abs(g.normal(0, 0.4)), truth.capacity_l / (fillings + 0.5)
    for _ in range(fillings):
        added = step * g.uniform(0.8, 1.1)
        content = min(content + added * (1 + g.normal(0, 0.004)), truth.capacity_l)
        needle = float(truth.needle(content) + g.normal(0, 0.018))
        filled.append(GaugeReading(needle=min(max(needle, -0.05), 1.05), added_m3=Declared(added / 1000)))
    stated = truth.litres_per_100km * (1 + g.normal(0, 0.025))
    seen_now = float(np.clip(truth.needle_now + g.normal(0, 0.018), 0, 1))
    dials = Dials(
        label="invented",
        vehicle=Vehicle(name="Invented"),
        speedometer=tuple(readings),
        odometer=tuple(ways),
        gauge=FuelGauge(
            capacity_m3=Declared(truth.capacity_l / 1000, 0.02 * truth.capacity_l / 1000), readings=tuple(filled)
        ),
        range=RangeAsked(
            needle=seen_now,
            consumption=GivenConsumption(value=stated, unit="L_per_100km", half_width=0.05 * stated),
        ),
    )
    return dials, truth
