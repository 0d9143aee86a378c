"""The verb sweep: a whole grid of imagined changes, in parts, here or on a cluster."""

from __future__ import annotations

import csv
import io
import math
import tempfile
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Final

import msgspec
import numpy as np

from calmday import __version__
from calmday.files.grid_file import read_grid
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.metrology.draws import FloatArray
from calmday.operations.chunks import Kept, Told, Work, work_out
from calmday.operations.imagined import learnt_from_tests
from calmday.procedures.sweep_result import Place, SweepResult
from calmday.procedures.weighed_run_result import Provenance
from calmday.procedures.what_if import USUAL_SPEED_MPS
from calmday.procedures.what_if_draws import Drawn, as_it_is, thinned_drawn
from calmday.procedures.what_if_grid import COLUMNS, grid_rows
from calmday.records.what_if import Grid

DEFAULT_SWEEP_SEED: Final = 20260412
PART: Final = 2_000
BEST: Final = 20
_FORM: Final = np.dtype("<f8")

__all__ = ["SweepResult", "sweep_file"]


_ARRAYS: Final = ("smooth_rps", "thinning", "chart_air_kgpm3", "engine_inertia_kgm2", "wheels_kg")


def sweep_file(
    path: Path | str,
    *,
    rows: Path | str | None = None,
    folder: Path | str | None = None,
    workers: int = 0,
    dask: str = "",
    seed: int = DEFAULT_SWEEP_SEED,
    told: Told = lambda _done, _all: None,
    wanted: Callable[[], bool] = lambda: True,
) -> SweepResult:
    """Work a grid out. `rows` a CSV file for every combination; `folder` where finished parts are kept, so that work
    that was stopped goes on there; `workers`, `dask`, `told`, `wanted` as for `work_out`.

    Raises InputError, StoppedError, MissingExtraError.
    """
    place = Path(path)
    seen = SeenFiles(place.parent)
    grid, tests = read_grid(place, seen=seen)
    if grid.circumstances.speed_mps is None:
        here = msgspec.structs.replace(grid.circumstances, speed_mps=USUAL_SPEED_MPS)
        grid = msgspec.structs.replace(grid, circumstances=here)
    known, _ = learnt_from_tests(grid.vehicle, tests, place.parent, seen, grid.draws, seed)
    drawn = thinned_drawn(as_it_is(grid.vehicle, grid.draws, seed, known), grid.draws)
    shared = msgspec.msgpack.encode(_packed(grid, seed, drawn))
    work = Work(function="calmday.operations.sweep:part", shared=shared, count=grid.count, size=PART)
    with tempfile.TemporaryDirectory(prefix="calmday-sweep-") as spare:
        kept = Kept(Path(folder) if folder is not None else Path(spare), work)
        work_out(work, kept, workers=workers, dask=dask, told=told, wanted=wanted)
        best = _gather(grid, kept.contents(work.parts), Path(rows) if rows is not None else None)
    return SweepResult(
        vehicle=grid.vehicle.name,
        combinations=grid.count,
        draws=grid.draws,
        axes=tuple(axis.key for axis in grid.axes),
        held=best.held,
        best=tuple(_place(grid, index, row) for index, row in best.ranked()),
        provenance=Provenance(
            program="calmday",
            version=__version__,
            seed=seed,
            inputs_sha256=inputs_digest(seen.sha256.items()),
            files=tuple(seen.sha256),
        ),
    )


def part(shared: bytes, start: int, stop: int) -> bytes:
    """The rows of one part of a grid, as bytes."""
    grid, drawn, seed = _opened(shared)
    return grid_rows(grid, drawn, seed, start, stop).astype(_FORM).tobytes()


def _packed(grid: Grid, seed: int, drawn: Drawn) -> dict[str, object]:
    """The question and every draw as plain values: a worker gets the very vehicle, and draws nothing itself."""
    draws = drawn.vehicle.values | {name: getattr(drawn.vehicle, name) for name in _ARRAYS}
    draws |= {"energy_jpm3": drawn.energy_jpm3, "density_kgpm3": drawn.density_kgpm3}
    told = {name: value.astype(_FORM).tobytes() for name, value in draws.items()}
    return {"grid": msgspec.to_builtins(grid), "seed": seed, "draws": told}


@lru_cache(maxsize=2)
def _opened(shared: bytes) -> tuple[Grid, Drawn, int]:
    found = msgspec.msgpack.decode(shared)
    grid = msgspec.convert(found["grid"], Grid)
    draws = {name: np.frombuffer(value, _FORM).astype(np.float64) for name, value in found["draws"].items()}
    plain = as_it_is(grid.vehicle, grid.draws, found["seed"]).vehicle
    energy, density = draws.pop("energy_jpm3"), draws.pop("density_kgpm3")
    arrays = {name: draws.pop(name) for name in _ARRAYS}
    vehicle = msgspec.structs.replace(plain, values=draws, **arrays)
    return grid, Drawn(vehicle=vehicle, energy_jpm3=energy, density_kgpm3=density), found["seed"]


class _Best:
    """The combinations that use least, and how many hold the speed at all; one part in memory at a time."""

    def __init__(self) -> None:
        self.held = 0
        self._rows: list[tuple[float, int, FloatArray]] = []

    def take(self, start: int, found: FloatArray) -> None:
        fuel = found[:, 0]
        able = np.flatnonzero(np.isfinite(fuel))
        self.held += able.size
        for i in able[np.argsort(fuel[able], kind="stable")[:BEST]]:
            self._rows.append((float(fuel[i]), start + int(i), found[i].copy()))
        self._rows.sort(key=lambda row: row[:2])
        del self._rows[BEST:]

    def ranked(self) -> Iterator[tuple[int, FloatArray]]:
        return ((index, row) for _, index, row in self._rows)


def _gather(grid: Grid, parts: Iterator[bytes], rows: Path | None) -> _Best:
    best, start = _Best(), 0
    file = rows.open("w", newline="", encoding="utf-8-sig") if rows is not None else io.StringIO()
    with file:
        writer = csv.writer(file)
        writer.writerow([*(axis.key for axis in grid.axes), *COLUMNS])
        for content in parts:
            found = np.frombuffer(content, _FORM).reshape(-1, len(COLUMNS))
            best.take(start, found)
            if rows is not None:
                for i, row in enumerate(found.tolist()):
                    writer.writerow([*_texts(grid, start + i), *(f"{v:.6g}" if math.isfinite(v) else "" for v in row)])
            start += len(found)
    return best


def _texts(grid: Grid, index: int) -> list[str]:
    places = np.unravel_index(index, [len(axis.numbers) for axis in grid.axes])
    return [axis.texts[place] for axis, place in zip(grid.axes, places, strict=True)]


def _place(grid: Grid, index: int, row: FloatArray) -> Place:
    fuel, low, high, gear, engine, holds = row.tolist()
    return Place(
        settings=dict(zip((axis.key for axis in grid.axes), _texts(grid, index), strict=True)),
        fuel_L_per_100km=fuel,
        low=low,
        high=high,
        gear=int(gear),
        engine_speed_rpm=engine,
        holds=holds,
    )
