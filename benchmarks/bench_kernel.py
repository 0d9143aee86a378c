"""The kernel beside the same sum in C, as ratios. Run: python benchmarks/bench_kernel.py

Needs a C compiler. Times are the best of several alternating rounds; what counts is the ratio.
"""

from __future__ import annotations

import ctypes
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from calmday.model.basis import build_basis, coefficients
from calmday.model.drive import Drive
from calmday.model.kernel import indicated_energy_j
from calmday.model.scores import draw_matrix
from calmday.model.vehicle_model import build
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, Vehicle

ROUNDS = 7
DOUBLE = ctypes.POINTER(ctypes.c_double)


def invented_drive(samples: int) -> Drive:
    """A hilly loop with stops, in wind."""
    t = np.arange(samples, dtype=float)
    speed = 20 + 2 * np.sin(t / 90) + np.sin(t / 17)
    speed *= np.clip(np.abs(np.sin(t / 350)) * 6, 0, 1)
    heading = 2 * np.pi * np.cumsum(speed) / 10_000
    zero = np.zeros(samples)
    return Drive(
        step_s=zero + 1, elapsed_s=t, speed_mps=speed, acceleration_mps2=np.gradient(speed),
        grade=0.01 * np.sin(3 * heading), heading_rad=heading, wind_east_mps=zero + 3, wind_north_mps=zero - 1,
        turbulence_along_mps2=zero + 1, turbulence_across_mps2=zero + 0.6, air_density_kgpm3=zero + 1.22,
        temperature_k=zero + 283, running=zero + 1, wind_factor_log_sd=0.2, wind_offset_sd_mps=0.5,
        direction_sd_rad=0.2, density_relative_sd=0.004,
    )  # fmt: skip


def invented_vehicle() -> Vehicle:
    """An invented van with a small engine."""
    return Vehicle(
        name="Fen Hauler", body="van", test_mass_kg=Declared(1480.0), frontal_area_m2=Declared(2.9),
        drag_coefficient=Declared(0.44), rolling_resistance=Declared(0.0125), gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
        final_drive=4.1, rolling_circumference_m=Declared(2.13),
        engine=Engine(displacement_m3=Declared(2.1e-3), fuel="diesel", injection="indirect"),
    )  # fmt: skip


def pointer(array: np.ndarray) -> ctypes.Array[ctypes.c_double]:
    return array.ctypes.data_as(DOUBLE)


def best_of(*calls: Callable[[], object]) -> list[float]:
    """Best time of each call, in seconds, the calls taking turns."""
    best = [math.inf] * len(calls)
    for _ in range(ROUNDS):
        for i, call in enumerate(calls):
            start = time.perf_counter()
            call()
            best[i] = min(best[i], time.perf_counter() - start)
    return best


def compiled(folder: Path) -> ctypes.CDLL:
    library = folder / "kernel_reference.so"
    source = Path(__file__).with_name("kernel_reference.c")
    flags = "-O3 -march=native -ffast-math -fopenmp -shared -fPIC".split()
    subprocess.run(["cc", *flags, str(source), "-o", str(library), "-lm"], check=True)
    return ctypes.CDLL(str(library))


def measure(library: ctypes.CDLL, draws: int, samples: int) -> tuple[float, float, float, float]:
    """Seconds of the kernel, of C in basis form, of C in physical form; and the largest relative difference."""
    drive, vehicle = invented_drive(samples), invented_vehicle()
    model = build(vehicle, drive, start="cold")
    basis = build_basis(model, drive)
    p = model.parameters.values(draw_matrix(draws, len(model.parameters), 1).parameters)
    c = coefficients(model, basis, p)
    weight = np.ascontiguousarray(drive.step_s)
    arrays = [np.ascontiguousarray(x) for x in (
        c.wheel, c.loss, basis.wheel, basis.loss, c.efficiency, c.gain, c.cap, c.floor_w, basis.cap_w, basis.running, weight,
    )]  # fmt: skip
    out = np.empty(draws)
    sizes = [ctypes.c_long(x) for x in (draws, samples, c.wheel.shape[1], c.loss.shape[1])]

    def basis_form() -> None:
        library.basis_form(*sizes, *(pointer(a) for a in arrays), pointer(out))

    rows = np.abs(np.random.default_rng(1).normal(1, 0.1, (draws, 16)))
    columns = [np.ascontiguousarray(np.resize(x, samples)) for x in (
        drive.speed_mps, drive.acceleration_mps2, drive.wind_east_mps, drive.wind_north_mps, np.sin(drive.heading_rad),
        np.cos(drive.heading_rad), drive.turbulence_along_mps2, drive.air_density_kgpm3, basis.early.engine_rps, basis.cap_w,
        weight,
    )]  # fmt: skip
    other = np.empty(draws)

    def physical_form() -> None:
        library.physical_form(*sizes[:2], pointer(rows), *(pointer(a) for a in columns), pointer(other))

    def ours() -> np.ndarray:
        return indicated_energy_j(basis, c, weight[:, None])

    basis_form()
    difference = float(np.abs(ours()[:, 0] / out - 1).max())
    return (*best_of(ours, basis_form, physical_form), difference)


def main() -> None:
    print("| draws | samples | kernel, ms | / C, basis form | / C, fused physics | largest difference |")
    print("|---:|---:|---:|---:|---:|---:|")
    with tempfile.TemporaryDirectory() as folder:
        library = compiled(Path(folder))
        for draws, samples in ((2000, 2700), (10_000, 3000), (20_000, 3000), (10_000, 6000), (2000, 86_400)):
            ours, basis, fused, difference = measure(library, draws, samples)
            print(
                f"| {draws} | {samples} | {1e3 * ours:.1f} | {ours / basis:.2f} | {ours / fused:.2f} | {difference:.0e} |"
            )


if __name__ == "__main__":
    sys.exit(main())
