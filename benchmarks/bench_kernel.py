"""Both kernels beside the same sum in C, as ratios. Run: python benchmarks/bench_kernel.py

Needs a C compiler and the extra `fast`. Every call goes from parameter values to fuel energy per draw, as a reduction
asks for it; C is given its rows ready made and only adds up. Times are the best of alternating rounds; what counts is
the ratio. The tables are markdown, for docs/performance.md.
"""

from __future__ import annotations

import ctypes
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from calmday.model.basis import AS_DRIVEN, build_basis
from calmday.model.drive import Drive
from calmday.model.forward import Forward
from calmday.model.kernel_compiled import axial_weight, draw_rows, sample_rows, thread_count, warm_up
from calmday.model.scores import draw_matrix
from calmday.model.vehicle_model import build
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, Vehicle

FLAGS = ["-O3", "-march=native", "-ffast-math", "-fopenmp", "-shared", "-fPIC"]
SIZES = ((2000, 2700), (10_000, 3000), (20_000, 3000), (10_000, 6000), (2000, 86_400))
LINEAR_SIZES = ((2000, 3000), (4000, 3000), (8000, 3000), (2000, 6000), (2000, 12_000))
ROUNDS = 9
DOUBLE = ctypes.POINTER(ctypes.c_double)


def invented_drive(samples: int) -> Drive:
    """A hilly loop of ten kilometres with stops, in wind."""
    t = np.arange(samples, dtype=float)
    speed = 20 + 2 * np.sin(t / 90) + np.sin(t / 17)
    speed *= np.clip(np.abs(np.sin(t / 350)) * 6, 0, 1)
    heading = 2 * np.pi * np.cumsum(speed) / 10_000
    zero = np.zeros(samples)
    return Drive(
        step_s=zero + 1,
        elapsed_s=t,
        speed_mps=speed,
        acceleration_mps2=np.gradient(speed),
        grade=0.01 * np.sin(3 * heading),
        heading_rad=heading,
        wind_east_mps=zero + 3,
        wind_north_mps=zero - 1,
        turbulence_along_mps2=zero + 1,
        turbulence_across_mps2=zero + 0.6,
        air_density_kgpm3=zero + 1.22,
        temperature_k=zero + 283,
        pressure_pa=zero + 99.4e3,
        running=zero + 1,
        wind_factor_log_sd=0.2,
        wind_offset_sd_mps=0.5,
        direction_sd_rad=0.2,
        density_relative_sd=0.004,
    )


def invented_vehicle() -> Vehicle:
    """An invented van with a small engine."""
    return Vehicle(
        name="Fen Hauler",
        body="van",
        test_mass_kg=Declared(1480.0),
        frontal_area_m2=Declared(2.9),
        drag_coefficient=Declared(0.44),
        rolling_resistance=Declared(0.0125),
        gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
        final_drive=4.1,
        rolling_circumference_m=Declared(2.13),
        engine=Engine(displacement_m3=Declared(2.1e-3), fuel="diesel", injection="indirect"),
    )


def pointer(array: np.ndarray) -> ctypes.Array[ctypes.c_double]:
    """An array as C sees it."""
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


def reference(folder: Path) -> ctypes.CDLL:
    """The C reference, built for this machine."""
    library = folder / "kernel_reference.so"
    source = Path(__file__).with_name("kernel_reference.c")
    subprocess.run(["cc", *FLAGS, str(source), "-o", str(library)], check=True)
    return ctypes.CDLL(str(library))


class Case:
    """One size of problem, ready for every way of solving it."""

    def __init__(self, library: ctypes.CDLL, draws: int, samples: int) -> None:
        drive = invented_drive(samples)
        model = build(invented_vehicle(), drive, start="cold")
        basis = build_basis(model, drive)
        values = model.parameters.values(draw_matrix(draws, len(model.parameters), 1).parameters)
        self._values = values
        self._portable = Forward(model, drive, basis)
        self._compiled = Forward(model, drive, basis, compiled=True)
        self._arrays = [
            draw_rows(model, basis, values, AS_DRIVEN, True),
            sample_rows(model, drive, basis),
            axial_weight(drive, AS_DRIVEN),
            np.ascontiguousarray(drive.step_s),
        ]
        self._sizes = [ctypes.c_long(draws), ctypes.c_long(samples)]
        self._library = library
        self.energy = np.empty(draws)

    def in_c(self) -> np.ndarray:
        """The sum in C, from rows that are ready."""
        self._library.fuel_energy(*self._sizes, *map(pointer, self._arrays), pointer(self.energy))
        return self.energy / self._values["indicated_efficiency"]

    def compiled(self) -> np.ndarray:
        """The extra `fast`, from parameter values."""
        return self._compiled.fuel_energy_j(self._values)

    def portable(self) -> np.ndarray:
        """Plain numpy, from parameter values."""
        return self._portable.fuel_energy_j(self._values)

    def differences(self) -> tuple[float, float]:
        """Largest relative difference of any draw from C: compiled, portable."""
        c = self.in_c()
        return float(np.abs(self.compiled() / c - 1).max()), float(np.abs(self.portable() / c - 1).max())


def against_c(library: ctypes.CDLL) -> list[str]:
    """The table of ratios to C."""
    lines = [
        "| draws | samples | C, ms | compiled / C | portable / C | compiled differs by | portable differs by |",
        "|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for draws, samples in SIZES:
        case = Case(library, draws, samples)
        compiled_differs, portable_differs = case.differences()
        c, compiled, portable = best_of(case.in_c, case.compiled, case.portable)
        lines.append(
            f"| {draws} | {samples} | {1e3 * c:.1f} | {compiled / c:.2f} | {portable / c:.2f} | "
            f"{compiled_differs:.0e} | {portable_differs:.0e} |"
        )
    return lines


def linearity(library: ctypes.CDLL) -> list[str]:
    """Time per draw and sample over that of the smallest size: 1 everywhere is perfectly linear."""
    cases = [Case(library, draws, samples) for draws, samples in LINEAR_SIZES]
    times = best_of(*(call for case in cases for call in (case.in_c, case.compiled, case.portable)))
    lines = ["| draws | samples | C | compiled | portable |", "|---:|---:|---:|---:|---:|"]
    for i, (draws, samples) in enumerate(LINEAR_SIZES):
        share = (LINEAR_SIZES[0][0] * LINEAR_SIZES[0][1]) / (draws * samples)
        ratios = " | ".join(f"{times[3 * i + k] * share / times[k]:.2f}" for k in range(3))
        lines.append(f"| {draws} | {samples} | {ratios} |")
    return lines


def warming() -> list[str]:
    """Seconds to get the machine code ready in a new process: compiled from nothing, then fetched from disk."""
    script = "from calmday import warm_up; print(warm_up())"
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"NUMBA_CACHE_DIR": folder}
        seconds = [
            float(
                subprocess.run([sys.executable, "-c", script], env=environment, capture_output=True, check=True).stdout
            )
            for _ in range(2)
        ]
    return [f"Warming up in a new process: {seconds[0]:.1f} s compiling, {seconds[1]:.2f} s fetching from disk."]


def main() -> None:
    """Print the tables."""
    warm_up()
    with tempfile.TemporaryDirectory() as folder:
        library = reference(Path(folder))
        print(f"{thread_count()} processors, best of {ROUNDS} alternating rounds.\n")
        print(*against_c(library), "", "Time per draw and sample, first row = 1:", "", sep="\n")
        print(*linearity(library), "", *warming(), sep="\n")


if __name__ == "__main__":
    sys.exit(main())
