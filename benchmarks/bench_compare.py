"""How long a comparison takes beside reducing each of its runs, the baseline run in the same process.

python benchmarks/bench_compare.py [--times 5]

Eight invented drives with tracks. Processor time, the least of several, as a ratio to reducing the eight runs one by
one with their sheets: for docs/performance.md.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

from calmday.operations import compare_file, reduce_file
from calmday.synthetic.series import simulate_series, write_series

ORDER = (False, True, True, False, False, True, True, False)


def least(of: Callable[[], object], times: int) -> float:
    """Least processor time of several, s."""
    found = []
    for _ in range(times):
        began = time.process_time()
        of()
        found.append(time.process_time() - began)
    return min(found)


def main() -> None:
    """Time both and print the ratio."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=5, help="how often each is timed")
    times = parser.parse_args().times
    with tempfile.TemporaryDirectory() as place:
        file = write_series(simulate_series(7, ORDER, -0.05, "drag"), place)
        runs = [Path(place) / f"run_{i}.toml" for i in range(1, 9)]
        compare_file(file)  # everything loaded
        compared = least(lambda: compare_file(file), times)
        reduced = least(lambda: [reduce_file(run).result for run in runs], times)
    print(f"comparison {compared:.2f} s, its eight runs one by one {reduced:.2f} s: {compared / reduced:.2f}")


if __name__ == "__main__":
    main()
