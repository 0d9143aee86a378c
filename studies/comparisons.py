"""Does the comparison say what is so? Sets of 4 + 4 invented drives on eight different days, with known change.

    python studies/comparisons.py                      # 100 sets without a change, 100 with one of 4 to 6 %
    python studies/comparisons.py --sets 0:60 --careful
    python studies/comparisons.py --sets 0:40 --runs 3
    python studies/comparisons.py --rows rows.csv

The drives come from `calmday.synthetic`, which knows nothing of the model. Even sets have no change, odd ones one of
4 to 6 % up or down, made in turn to the engine, the drag area and the rolling resistance. One vehicle, road, driver,
scale, station and batch per set; wind 0 to 11 m/s, temperature and tyre pressure differ from day to day; the order is
drawn by lot. Sets are kept in /tmp/calmday_sets and made again only when the simulator has changed.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from calm_day import stamp

from calmday.synthetic.series import ChangedPart, simulate_series, write_series
from calmday.synthetic.streams import stream, uniform

CACHE = Path("/tmp/calmday_sets")
CAREFUL = {"engine_start": "warm", "stops_per_lap": 0.0, "traffic": 0.004, "has_doppler": True}
"""A test driven as the run card asks: warm, without stops, at a steady speed, with a receiver that records speed."""

PARTS: tuple[ChangedPart, ...] = ("engine", "drag", "rolling")


def folder_of(number: int, runs: int, mark: str, careful: bool) -> Path:
    """The folder of one set, simulated unless a fresh one is there."""
    folder = CACHE / f"{runs}_{'careful_' * careful}{number}"
    seal = folder / "stamp"
    if seal.exists() and seal.read_text() == mark:
        return folder
    g = stream(number, "set of a comparison")
    change = 0.0
    if number % 2:
        change = float(np.log1p(uniform(g, 0.04, 0.06) * (1 if g.random() < 0.5 else -1)))
    order = g.permutation([False] * runs + [True] * runs)
    habits = CAREFUL if careful else {}
    changed = tuple(bool(x) for x in order)
    series = simulate_series(5000 + number, changed, change, PARTS[number // 2 % 3], **habits)
    write_series(series, folder)
    seal.write_text(mark)
    return folder


def main() -> None:
    """Simulate, compare, print."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--sets", default="0:200")
    asked.add_argument("--runs", type=int, default=4, help="runs in each group")
    asked.add_argument("--careful", action="store_true", help="warm, without stops, at a steady speed")
    asked.add_argument("--rows", type=Path, help="one row per set to a CSV")
    asked.add_argument("--only-simulate", action="store_true")
    options = asked.parse_args()
    first, last = (int(x) for x in options.sets.split(":"))
    mark = stamp()
    rows = []
    for number in range(first, last):
        try:
            folder = folder_of(number, options.runs, mark, options.careful)
        except RuntimeError as problem:
            print(f"set {number}: {problem}", file=sys.stderr)
            continue
        if options.only_simulate:
            continue
        rows.append(row_of(number, folder))
    if not options.only_simulate:
        show(rows)
        if options.rows:
            with options.rows.open("w", newline="") as file:
                writer = csv.DictWriter(file, fieldnames=list(rows[0]))
                writer.writeheader()
                writer.writerows(rows)


def row_of(number: int, folder: Path) -> dict[str, float | str]:
    """One set: the comparison beside the truth, in percent of the baseline's fuel."""
    from calmday.operations.comparison import compare_file  # noqa: PLC0415

    known = json.loads((folder / "truth.json").read_text())
    truth = 100 * float(np.expm1(known["change"]))
    begin = time.perf_counter()
    result = compare_file(folder / "comparison.toml", draws=500)
    took = time.perf_counter() - begin
    row: dict[str, float | str] = {"set": number, "part": known["part"], "truth": truth, "seconds": took}
    row |= {"verdict": result.verdict, "scatter": result.scatter.found.value if result.scatter else float("nan")}
    for story in result.stories:
        figure = story.change_percent
        row |= {
            f"{story.name}: error": figure.value - truth,
            f"{story.name}: half": figure.half_width,
            f"{story.name}: inside": float(figure.low <= truth <= figure.high),
            f"{story.name}: seen": float(figure.high < 0 or figure.low > 0),
        }
    return row


def show(rows: list[dict[str, float | str]]) -> None:
    """The tables of docs/accuracy.md."""
    names = [key.split(":")[0] for key in rows[0] if key.endswith(": error")]
    changed = np.array([row["truth"] != 0 for row in rows])
    print("| figures compared | rms error, points | inside 95 % | false alarms | changes found | mean half width |")
    print("|---|---:|---:|---:|---:|---:|")
    for name in names:
        error, half, inside, seen = (
            np.array([float(row[f"{name}: {what}"]) for row in rows]) for what in ("error", "half", "inside", "seen")
        )
        print(
            f"| {name} | {np.sqrt(np.mean(error**2)):.2f} | {100 * inside.mean():.1f} % | "
            f"{100 * seen[~changed].mean():.1f} % | {100 * seen[changed].mean():.0f} % | {half.mean():.2f} |"
        )
    print(f"\n{len(rows)} sets; mean {np.mean([float(r['seconds']) for r in rows]):.2f} s each")


if __name__ == "__main__":
    main()
