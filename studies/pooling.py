"""Does pooling narrow the calm-day figure as far as it says? Three runs and one coastdown of one invented vehicle.

    python studies/pooling.py                 # vehicles 0 to 29
    python studies/pooling.py --seeds 0:8 --rows

Each vehicle is driven three times, each on a day and a road of its own (`calmday.synthetic`), and rolled eight times on
a fourth day. The third run is reduced alone, then with the two other runs, then with the coastdown too. The truth is
the fuel that the invented vehicle burns on the calm standard day. Percentages are of the truth.

What is told of the narrowing (root mean square of the half widths over that alone) stands beside what is so (root mean
square of the errors over that alone).
"""

from __future__ import annotations

import argparse
import os
import tempfile
from functools import partial
from multiprocessing import Pool
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import msgspec
import numpy as np

from calmday.files.run_file import read_run
from calmday.operations.knowledge import known_vehicle
from calmday.procedures.weighed_run import reduce_weighed_run
from calmday.records.declared import Declared
from calmday.records.run import Run
from calmday.synthetic import random_scenario, simulate, write_folder
from calmday.synthetic.coastdown_truth import invented_coastdown
from calmday.synthetic.simulate import SimulatedRun, chosen_vehicle
from calmday.synthetic.vehicle_truth import random_vehicle

NAMES = ("alone", "with two runs", "with a coastdown", "with both")


def tests_of(seed: int, folder: Path) -> tuple[list[Run], SimulatedRun]:
    """Three runs of one vehicle as their builder wrote them down, and the truth of the last."""
    first = random_scenario(seed, payload_kg=0.0)
    facts = random_vehicle(seed, chosen_vehicle(first), 1.0, 0.0)
    same = {key: getattr(first, key) for key in ("body", "fuel", "injection", "induction", "displacement_l", "mass_kg")}
    runs, truth = [], None
    for number in range(3):
        scenario = random_scenario(seed + 1000 * number, payload_kg=0.0, pressure_ratio=1.0, **same)
        truth = simulate(scenario, facts)
        write_folder(truth, folder / str(number))
        runs.append(read_run(folder / str(number) / "run.toml"))
    sheet = msgspec.structs.replace(runs[0].vehicle, file="")
    assert truth is not None
    return [msgspec.structs.replace(run, vehicle=sheet) for run in runs], truth


def row_of(seed: int, draws: int) -> list[list[float]]:
    """Error, half width and coverage of the third run's calm-day fuel per distance, for each of NAMES."""
    with tempfile.TemporaryDirectory() as folder:
        runs, truth = tests_of(seed, Path(folder))
    _, day = invented_coastdown(seed + 5000, vehicle=truth.vehicle)
    sheet = runs[0].vehicle
    day = msgspec.structs.replace(day, vehicle=sheet, tyre_pressure_pa=Declared(truth.vehicle.usual_pressure_kpa * 1e3))
    known = truth.truth.calm_fuel_kg / truth.truth.distance_m
    rows = []
    for others, days in (([], []), (runs[:2], []), ([], [day]), (runs[:2], [day])):
        learnt = None
        if others or days:
            learnt = known_vehicle(sheet, runs=others, coastdowns=days, draws=draws, seed=seed + 1).shared
        calm = reduce_weighed_run(runs[2], draws, seed + 1, learnt=learnt).draws.calm_day_kgpm
        assert calm is not None
        low, high = np.quantile(calm, [0.025, 0.975])
        rows.append([100 * (calm.mean() / known - 1), 50 * (high - low) / known, float(low <= known <= high)])
    return rows


def main() -> None:
    """Run the study and print one line for each way."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="0:30", help="first:last+1")
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--rows", action="store_true", help="print every vehicle")
    given = parser.parse_args()
    first, _, last = given.seeds.partition(":")
    seeds = range(int(first), int(last))
    with Pool(2) as workers:
        every = workers.map(partial(row_of, draws=given.draws), seeds, chunksize=1)
    if given.rows:
        for seed, row in zip(seeds, every, strict=True):
            print(seed, " ".join(f"{n} {e:+.1f}±{h:.1f}" for n, (e, h, _) in zip(NAMES, row, strict=True)))
    table = np.array(every)
    print(f"{len(table)} vehicles")
    rms = np.sqrt(np.mean(table**2, axis=0))
    for k, name in enumerate(NAMES):
        print(
            f"{name:16s} mean {table[:, k, 0].mean():+.2f} %, rms {rms[k, 0]:.2f} %, "
            f"give or take (median) {np.median(table[:, k, 1]):.2f} %, inside {table[:, k, 2].mean():.1%}; over alone: "
            f"give or take {rms[k, 1] / rms[0, 1]:.3f} (mean {np.mean(table[:, k, 1] / table[:, 0, 1]):.3f}), "
            f"error {rms[k, 0] / rms[0, 0]:.3f}"
        )


if __name__ == "__main__":
    main()
