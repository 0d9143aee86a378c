"""A fuel gauge by what was in the tank: content over needle as a rising curve with doubt, and how far the fuel goes.

Content is a Gaussian process over the place of the needle: an even dial from empty to the tank's capacity, with senders
that bend by a tenth of the tank, smoothly. Conditioned on the readings it gives draws, each made rising (pool adjacent
violators: Barlow et al., Statistical Inference under Order Restrictions, 1972; from memory).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import from_draws
from calmday.metrology.fuels import fuel_properties
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.procedures.dials_result import GaugePoint, GaugeResult
from calmday.records.declared import Declared
from calmday.records.dials import FuelGauge

FloatArray = NDArray[np.float64]

NEEDLE_SD: Final = 0.02
"""How well a needle is read, as a share of the dial: swing, parallax, a slope underfoot. Assumed."""

BEND_SD: Final = 0.10
BEND_LENGTH: Final = 0.35
"""How far a sender is from even, as a share of the tank, and over which share of the dial it bends. Assumed."""

ENDS_SD: Final = 0.06
"""What is left at "empty", and missing at "full", as a share of the tank, beyond the bend. Assumed."""

USUAL_TANK_M3: Final = 0.055
USUAL_TANK_SPREAD: Final = 0.25
"""Capacity where nobody says. Assumed."""

START_SD_M3: Final = 0.0005
VOLUME_SD: Final = 0.005
MASS_SD: Final = 0.002
"""What a drained tank keeps, and the relative doubt of a filling by volume and by weight. Assumed."""

GRID: Final = np.linspace(-0.1, 1.1, 61)
SHOWN: Final = (0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0)


class DrawnGauge:
    """Draws (m, g) of content over the needle at `GRID`, m3, and of the tank's capacity (m,)."""

    def __init__(self, content_m3: FloatArray, capacity_m3: FloatArray, read: list[tuple[float, FloatArray]]) -> None:
        self.content_m3, self.capacity_m3, self.read = content_m3, capacity_m3, read

    def at(self, needle: FloatArray) -> FloatArray:
        """Content at a place of the needle, one for each draw (m,)."""
        place = np.clip((needle - GRID[0]) / (GRID[1] - GRID[0]), 0, GRID.size - 1.001)
        left = place.astype(np.int64)
        row = np.arange(self.content_m3.shape[0])
        low, high = self.content_m3[row, left], self.content_m3[row, left + 1]
        return np.asarray(low + (high - low) * (place - left))


def draw_gauge(gauge: FuelGauge, fuel: str | None, draws: int, seed: int) -> DrawnGauge:
    """Condition the curve on the readings; with none, an even dial with wide doubt."""
    scores = standard_normal(draws, 4 + 3 * len(gauge.readings) + GRID.size, seed)
    capacity = _drawn(gauge.capacity_m3, USUAL_TANK_M3, USUAL_TANK_SPREAD, 0.02, scores[:, 0])
    contents = _contents(gauge, fuel, scores[:, 1:])
    middle = float(capacity.mean())
    places = np.array([reading.needle for reading in gauge.readings])
    grid_prior = _covariance(GRID, GRID)
    half = np.linalg.cholesky(grid_prior + 1e-9 * np.eye(GRID.size))
    free = (half @ scores[:, -GRID.size :].T).T * middle
    even = np.clip(GRID, 0.0, 1.0)[None, :] * capacity[:, None]
    drawn = even + free
    if places.size:
        noise = scores[:, 4 + len(places) : 4 + 2 * len(places)] * NEEDLE_SD * middle
        spread = np.array([float(c.std()) for c in contents]) / middle
        known = _covariance(places, places) + np.diag(NEEDLE_SD**2 + spread**2 + 1e-6)
        gain = _covariance(GRID, places) @ np.linalg.inv(known)
        at = np.stack([np.interp(places, GRID, row) for row in drawn])
        # each prior draw is moved by what its own pretended readings miss the real ones by (Matheron's rule)
        own = np.stack([c - c.mean() for c in contents], axis=1)
        missed = np.stack([np.full(draws, c.mean()) for c in contents], axis=1) + own - (at + noise)
        drawn = drawn + missed @ gain.T
    rising = np.stack([_rising(row) for row in drawn])
    content = np.clip(rising, 0.0, 1.08 * capacity[:, None])
    return DrawnGauge(content, capacity, list(zip(places.tolist(), contents, strict=True)))


def _covariance(a: FloatArray, b: FloatArray) -> FloatArray:
    bend = BEND_SD**2 * np.exp(-0.5 * ((a[:, None] - b[None, :]) / BEND_LENGTH) ** 2)
    empty, full = np.exp(-((a / 0.3) ** 2)), np.exp(-(((1 - a) / 0.3) ** 2))
    empty_b, full_b = np.exp(-((b / 0.3) ** 2)), np.exp(-(((1 - b) / 0.3) ** 2))
    return np.asarray(bend + ENDS_SD**2 * (np.outer(empty, empty_b) + np.outer(full, full_b)))


def _drawn(
    stated: Declared | None, usual: float, usual_spread: float, stated_spread: float, scores: FloatArray
) -> FloatArray:
    if stated is None:
        return np.asarray(usual * np.exp(usual_spread * scores))
    sd = stated.half_width / HALF_WIDTH_PER_SD if stated.half_width else stated_spread * stated.value
    return np.asarray(np.maximum(stated.value + sd * scores, 0.0))


def _contents(gauge: FuelGauge, fuel: str | None, scores: FloatArray) -> list[FloatArray]:
    """What was in the tank at each reading, draws (m,): stated, or summed up from the fillings before."""
    start = gauge.at_start_m3
    now = _drawn(start, 0.0, 0.0, 0.02, scores[:, 0]) if start is not None else np.abs(START_SD_M3 * scores[:, 0])
    density = _density(gauge.density_kgpm3, fuel, scores[:, 1])
    found = []
    for i, reading in enumerate(gauge.readings):
        own = scores[:, 2 + i]
        if reading.content_m3 is not None:
            now = _drawn(reading.content_m3, 0.0, 0.0, VOLUME_SD, own)
        elif reading.added_m3 is not None:
            now = now + _drawn(reading.added_m3, 0.0, 0.0, VOLUME_SD, own)
        elif reading.added_kg is not None:
            now = now + _drawn(reading.added_kg, 0.0, 0.0, MASS_SD, own) / density
        found.append(np.asarray(now))
    return found


def _density(stated: Declared | None, fuel: str | None, scores: FloatArray) -> FloatArray:
    usual = fuel_properties(fuel)
    spread = usual.density_15_sd_kgpm3 / usual.density_15_kgpm3
    return _drawn(stated, usual.density_15_kgpm3, spread, 0.002, scores)


def _rising(row: FloatArray) -> FloatArray:
    """The nearest row that never falls (pool adjacent violators)."""
    if np.all(np.diff(row) >= 0):
        return row
    values: list[float] = []
    counts: list[int] = []
    for value in row.tolist():
        values.append(value)
        counts.append(1)
        while len(values) > 1 and values[-2] > values[-1]:
            total = counts[-2] + counts[-1]
            values[-2] = (values[-2] * counts[-2] + values[-1] * counts[-1]) / total
            counts[-2] = total
            values.pop()
            counts.pop()
    return np.repeat(np.array(values), counts)


def gauge_of(gauge: FuelGauge, drawn: DrawnGauge) -> GaugeResult:
    """The result: content over the dial in litres."""
    ones = np.ones(drawn.capacity_m3.size)
    points = tuple(GaugePoint(needle=q, content=from_draws(1000 * drawn.at(q * ones), "L")) for q in SHOWN)
    off = np.stack([1000 * (drawn.at(q * ones) - q * drawn.capacity_m3) for q in SHOWN], axis=1)
    worst = int(np.argmax(np.abs(off.mean(axis=0))))
    return GaugeResult(
        capacity=from_draws(1000 * drawn.capacity_m3, "L"),
        readings=len(gauge.readings),
        points=points,
        read=tuple(GaugePoint(needle=q, content=from_draws(1000 * c, "L")) for q, c in drawn.read),
        linear_off=from_draws(off[:, worst], "L"),
    )
