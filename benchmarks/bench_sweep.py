"""How long what-ifs and sweeps take, beside a bare script and by size, and how much memory.

    python benchmarks/bench_sweep.py [--combinations 100000]

A what-if in a process that is already running; then sweeps of growing size in one process, with time for each
combination beside that of the smallest, the same on two processes, and the largest memory of this process.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import tempfile
import time
from pathlib import Path

from calmday import operations

EXAMPLE = Path(__file__).parents[1] / "examples" / "fen-hauler" / "vehicle.toml"
GRID = """
vehicle = "{vehicle}"
speed = "80 km/h"
wind = "3 m/s"
draws = {draws}
[[axis]]
key = "final_drive"
from = 3.0
to = 4.6
steps = {a}
[[axis]]
key = "drag_coefficient"
from = "-20 %"
to = "+20 %"
steps = {b}
[[axis]]
key = "rolling_resistance"
from = "-20 %"
to = "+20 %"
steps = 10
"""


def single() -> float:
    """Median seconds of one what-if with two changes, in a warm process."""
    asked = ("final_drive=3.7", "drag_coefficient=-10 %")
    taken = []
    for _ in range(9):
        begin = time.perf_counter()
        operations.what_if_words(EXAMPLE, asked, {"speed": "80 km/h", "wind": "3 m/s"})
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken[1:])


def sweep(folder: Path, combinations: int, workers: int, draws: int = 100) -> float:
    """Seconds of one sweep."""
    side = max(round((combinations / 10) ** 0.5), 2)
    file = folder / f"sweep-{combinations}.toml"
    file.write_text(GRID.format(vehicle=EXAMPLE, a=side, b=side, draws=draws), encoding="utf-8")
    begin = time.perf_counter()
    found = operations.sweep_file(file, workers=workers)
    return (time.perf_counter() - begin) / found.combinations * combinations


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--combinations", type=int, default=100_000)
    most = parser.parse_args().combinations
    print(f"what-if, two changes, in a warm process: {1000 * single():.0f} ms")
    with tempfile.TemporaryDirectory() as spare:
        folder = Path(spare)
        base = 0.0
        for combinations in (most // 100, most // 10, most):
            took = sweep(folder, combinations, 1)
            each = 1e6 * took / combinations
            base = base or each
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{combinations:9d} x 100, one process: {took:7.1f} s, {each:6.1f} us each, "
                f"{each / base:.2f} of the smallest, {peak:.0f} MB"
            )
        double = sweep(folder, most // 10, 1, 200) / sweep(folder, most // 10, 1, 100)
        print(f"twice the draws take {double:.2f} of the time")
        two = sweep(folder, most, 2)
        print(f"{most:9d} x 100, two processes: {two:7.1f} s")


if __name__ == "__main__":
    main()
