"""The same hot loop in machine code, for long-lived work: the page, sweeps, calibration studies (extra `fast`).

`kernel` settles most samples at once and needs no compiler; this one works the forces out draw by draw and sample by
sample in one fused pass, takes every draw as it comes, and gives the same figures (tested to 1e-9). Compiling takes
seconds once and is kept on disk; `warm_up` does it on purpose, so that nobody waits for it in the middle of something.

Draws are dealt out to plain threads, not to numba's own: the machine code holds no lock, and several requests of a
server may call at once, which not every threading layer of numba survives.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from calmday.errors import MissingExtraError
from calmday.model.basis import (
    DECAY_STEPS,
    HIGH_LOAD,
    HIGH_LOAD_SLOPE,
    MOST_LOAD,
    REFERENCE_DENSITY,
    Basis,
    Conditions,
    decay_weights,
    driveline_drag_n,
    engine_coefficients,
    rolling_coefficients,
)
from calmday.model.drive import Drive
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.drag import SIDE_SHARE, levelled_growth, wind_in_vehicle_axes, yaw_angle_rad

if TYPE_CHECKING:
    from concurrent.futures import ThreadPoolExecutor

FloatArray = NDArray[np.float64]

_SAMPLE_ROWS = 26
_DRAW_COLUMNS = 28
_ALONE_ELEMENTS = 100_000
"""Draws times samples below which handing out work costs more than it saves."""
_SHARES_PER_THREAD = 4


@lru_cache(maxsize=1)
def _add_energy() -> Callable[..., None]:
    """The machine code, compiled or fetched from disk. Raises MissingExtraError without numba."""
    try:
        from calmday.model.kernel_loop import add_energy  # noqa: PLC0415  (numba is an extra, and heavy)
    except ModuleNotFoundError as error:
        if error.name != "numba":
            raise
        raise MissingExtraError("the compiled kernel", "fast") from error
    return add_energy


def warm_up() -> float:
    """Compile, or fetch what was compiled before, and run once; the seconds it took. Raises MissingExtraError."""
    began = time.perf_counter()
    draws, rows, line = np.zeros((1, _DRAW_COLUMNS)), np.zeros((_SAMPLE_ROWS, 1)), np.zeros(1)
    _add_energy()(draws, rows, line, line, np.zeros(1), 0, 1, 0, 1)
    return time.perf_counter() - began


def thread_count() -> int:
    """Processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@lru_cache(maxsize=1)
def _threads(_process: int) -> ThreadPoolExecutor:
    """Threads of this process; a forked child has none of its parent's and makes its own."""
    from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415  (only for large work)

    return ThreadPoolExecutor(thread_count(), thread_name_prefix="calmday-kernel")


class CompiledDrive:
    """One vehicle on one drive, ready for any draws under any conditions. MissingExtraError without `fast`."""

    def __init__(self, model: VehicleModel, drive: Drive, basis: Basis) -> None:
        self._add = _add_energy()
        self._model, self._drive, self._basis = model, drive, basis
        self._rows = sample_rows(model, drive, basis)

    def energy_j(self, values: Values, on: Conditions, weights: FloatArray, enriched: bool = False) -> FloatArray:
        """Indicated energy of every draw summed with each column of `weights` (n, q) in seconds; shape (m, q), joule.

        `enriched`: times what a cold petrol engine takes on top, so that it is fuel energy times indicated efficiency.
        A draw with a parameter that is not a number has no energy either (NaN).
        """
        draws = draw_rows(self._model, self._basis, values, on, enriched)
        axial = axial_weight(self._drive, on)
        energy = np.zeros((weights.shape[1], len(draws)))
        for column, out in zip(weights.T, energy, strict=True):
            weighed = np.flatnonzero(column)
            if weighed.size:
                self._sum(draws, axial, np.array(column), out, int(weighed[0]), int(weighed[-1]) + 1)
        energy[:, np.isnan(draws).any(axis=1)] = np.nan
        return energy.T

    def _sum(
        self, draws: FloatArray, axial: FloatArray, weight: FloatArray, out: FloatArray, first: int, last: int
    ) -> None:
        """One column of weights over the samples that carry weight, the draws shared out over the processors."""

        def share(start: int, stop: int) -> None:
            self._add(draws, self._rows, axial, weight, out, start, stop, first, last)

        count, threads = len(draws), thread_count()
        if threads == 1 or count * (last - first) < _ALONE_ELEMENTS:
            share(0, count)
            return
        edges = np.linspace(0, count, threads * _SHARES_PER_THREAD + 1).astype(int).tolist()
        list(_threads(os.getpid()).map(share, edges[:-1], edges[1:]))


def sample_rows(model: VehicleModel, drive: Drive, basis: Basis) -> FloatArray:
    """What the loop needs of every sample, shape (26, n), whatever the conditions."""
    v = drive.speed_mps
    head, cross = wind_in_vehicle_axes(drive.wind_east_mps, drive.wind_north_mps, drive.heading_rad)
    half = 0.5 * drive.air_density_kgpm3 * v
    centre = model.parameters["cold_time"].centre
    swept, rising, swept_late, rising_late, churning = basis.loss[:5]
    return np.array([
        v, head, cross, np.sin(drive.heading_rad), np.cos(drive.heading_rad),
        SIDE_SHARE * half, half * levelled_growth(yaw_angle_rad(v, head, cross)), *basis.wheel[-4:-2],
        *basis.wheel[:6], basis.cap_w,
        swept, swept_late - swept, rising, rising_late - rising, churning,
        *(np.exp(-drive.elapsed_s / (centre * step)) for step in DECAY_STEPS), drive.running, basis.decay,
    ])  # fmt: skip


def axial_weight(drive: Drive, on: Conditions) -> FloatArray:
    """Half density times speed, shape (n,): signed by the reported wind, of the day's air or of reference air."""
    v = drive.speed_mps
    if not on.wind:
        return np.asarray(0.5 * (drive.air_density_kgpm3 if on.air else REFERENCE_DENSITY) * v)
    head, _ = wind_in_vehicle_axes(drive.wind_east_mps, drive.wind_north_mps, drive.heading_rad)
    return np.asarray(0.5 * drive.air_density_kgpm3 * np.where(v + head >= 0, v, -v))


def draw_rows(model: VehicleModel, basis: Basis, p: Values, on: Conditions, enriched: bool) -> FloatArray:
    """What the loop needs of every draw, shape (m, 28). Wheel terms carry gain over driveline efficiency."""
    engine = engine_coefficients(model, basis, p, on)
    zero = np.zeros_like(engine.gain)
    pull = engine.gain / engine.efficiency
    area = p["drag_area"] * (p["air_density"] if on.air else 1.0)
    wind: tuple[Any, ...] = (zero, zero, zero, zero, zero)
    if on.wind:
        factor, turn = p["wind_factor"], p["wind_direction"]
        offsets = (p["wind_offset_east"], p["wind_offset_north"])
        wind = (p["turbulence"], factor * np.cos(turn), factor * np.sin(turn), *offsets)
    cold = [engine.cold * weight for weight in decay_weights(p["cold_time"], model.parameters["cold_time"].centre)]
    columns = [
        pull * area, p["yaw_growth"], *wind,
        *(pull * column for column in rolling_coefficients(model, basis, p, on)), pull * p["test_mass"],
        engine.efficiency**2, HIGH_LOAD * engine.gain * p["full_load_scale"], engine.floor_w,
        p["gear_habit"], engine.friction, engine.rising, driveline_drag_n(basis, p, on), engine.pumping,
        p["accessory_power"],
        *cold, engine.enrichment if enriched else zero, zero + HIGH_LOAD_SLOPE,
        zero + MOST_LOAD / HIGH_LOAD,
    ]  # fmt: skip
    return np.stack(columns, axis=1)
