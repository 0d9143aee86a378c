"""How long one answer about gears takes, as a page asks for it when a slider moves.

python benchmarks/bench_gears.py [VEHICLE.toml] [--times 30]

The vehicle is drawn once; then wind, grade and load are moved. Wall time on an idle machine, processor time on a busy
one: both are shown, medians and the slowest, as a markdown table for docs/performance.md. The budget is 100 ms.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

from calmday.operations.gears import conditions, study_gears_file
from calmday.reports.json_result import json_result

EXAMPLE = Path(__file__).parents[1] / "examples" / "fen-hauler" / "vehicle.toml"
BUDGET_S = 0.100


def main() -> int:
    """Time answers with several numbers of draws and print the table; 1 where the default is over its budget."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("vehicle", nargs="?", type=Path, default=EXAMPLE, help="build sheet")
    parser.add_argument("--times", type=int, default=30, help="how often each is asked")
    given = parser.parse_args()
    print("| draws | drawing the vehicle, ms | answer, wall ms | slowest | answer, processor ms | JSON, kB |")
    print("|---|---|---|---|---|---|")
    within = True
    for draws in (400, 1000, 4000):
        began = time.perf_counter()
        study = study_gears_file(given.vehicle, draws=draws)
        drawn = time.perf_counter() - began
        size = len(json_result(study.answer()))
        wall, processor = [], []
        for turn in range(given.times):
            on = conditions(head_wind_mps=0.5 * turn, grade=0.002 * turn, payload_kg=10.0 * turn)
            began, ticked = time.perf_counter(), time.process_time()
            study.answer(on, speed_kmh=80.0)
            wall.append(time.perf_counter() - began)
            processor.append(time.process_time() - ticked)
        figures = (drawn, statistics.median(wall), max(wall), statistics.median(processor))
        print(f"| {draws} | " + " | ".join(f"{1000 * seconds:.0f}" for seconds in figures) + f" | {size / 1000:.0f} |")
        within &= draws != 1000 or statistics.median(processor) < BUDGET_S
    return 0 if within else 1


if __name__ == "__main__":
    sys.exit(main())
