"""How good are runs, coastdowns and comparisons on the inventions of authors who know nothing of Calmday?

    python studies/against_outsiders.py runs --seeds 1000:1200
    python studies/against_outsiders.py coastdowns --seeds 1000:1060 --by abc
    python studies/against_outsiders.py sets --seeds 1000:1040

The six simulators are in `studies/outsiders`. Their files are made in /tmp/calmday_outsiders where they are missing.
Percentages are of the truth, penalties in points; "inside" counts truths within the 95 % interval.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from multiprocessing import Pool
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import numpy as np

from calmday import operations
from calmday.errors import InputError
from calmday.metrology.figure import Figure

HERE = Path(__file__).parent
CACHE = Path("/tmp/calmday_outsiders")
PENALTIES = ("wind", "air_density", "cold_engine", "cold_tyres")

Row = dict[str, tuple[float, float, float]]
"""By figure: error, half width, 1.0 where the truth is inside."""

Known = dict[str, Any]
"""An author's truth.json."""


def against(found: Figure, truth: float, scale: float) -> tuple[float, float, float]:
    """One figure beside its truth, both times `scale`."""
    inside = float(found.low <= truth <= found.high)
    return (found.value - truth) * scale, 0.5 * (found.high - found.low) * scale, inside


def run_row(folder: Path, known: Known) -> Row:
    """A weighed run."""
    result = operations.reduce_file(folder / "run.toml").result
    assert result.calm_day is not None
    assert result.penalties is not None
    km = known["distance_m"] / 1e3
    calm = known["calm_day_fuel_g"] / km
    as_read = known["fuel_g"] / known["calm_day_fuel_g"] - 1
    fuel = known["fuel_g"] / (1e3 if result.fuel_mass.unit == "kg" else 1)
    row: Row = {
        "as read": (100 * as_read, 0.0, 0.0),
        "calm day": against(result.calm_day.g_per_km, calm, 100 / calm),
        "distance": against(result.distance, km, 100 / km),
        "fuel": against(result.fuel_mass, fuel, 100 / fuel),
    }
    for name in PENALTIES:
        row[name] = against(getattr(result.penalties, name), known["penalties_percent"][name], 1.0)
    return row


def coastdown_row(folder: Path, known: Known) -> Row:
    """A day of coastdowns."""
    result = operations.reduce_coastdown_file(folder / "coastdown.toml")
    area, rolling, force = (known[key] for key in ("drag_area_m2", "rolling_coefficient", "resistance_at_80_kmh_n"))
    load = result.road_load
    at_80 = load.f0.value + 80 * load.f1.value + 6400 * load.f2.value
    return {
        "drag area": against(result.drag_area, area, 100 / area),
        "rolling": against(result.rolling_resistance, rolling, 100 / rolling),
        "force at 80 km/h": (100 * (at_80 / force - 1), 0.0, 0.0),
    }


def set_row(folder: Path, known: Known) -> Row:
    """A comparison of 4 + 4 runs, and whether it saw a change that there was, or one that there was not."""
    found = operations.compare_file(folder / "comparison.toml", draws=500).change_percent
    truth = known["change_percent"]
    seen = float(found.low > 0 or found.high < 0)
    real = abs(truth) > 0.5
    return {"change": against(found, truth, 1.0), "found" if real else "false alarm": (seen, 0.0, 0.0)}


KINDS: dict[str, Callable[[Path, Known], Row]] = {"runs": run_row, "coastdowns": coastdown_row, "sets": set_row}


def row_of(job: tuple[str, Path]) -> Row | str:
    """One case; what was wrong where it cannot be read."""
    kind, folder = job
    try:
        return KINDS[kind](folder, json.loads((folder / "truth.json").read_text()))
    except InputError as problem:
        return f"{folder.name}: {problem}"


def folders(author: str, kind: str, seeds: str) -> Iterator[Path]:
    """The cases of one author, invented where they are missing."""
    out = CACHE / author / kind / seeds.replace(":", "_")
    if not out.exists():
        command = [sys.executable, "-m", f"outsiders.{author}", kind, "--seeds", seeds, "--out", str(out)]
        subprocess.run(command, cwd=HERE, check=True, capture_output=True)
    yield from sorted(path.parent for path in out.glob("*/truth.json"))


def show(author: str, rows: list[Row]) -> None:
    """One line for each figure."""
    for name in dict.fromkeys(name for row in rows for name in row):
        error, half, inside = np.array([row[name] for row in rows if name in row]).T
        if name in ("found", "false alarm"):
            print(f"| {author} | {name} | {100 * error.mean():.0f} % of {error.size} | | | |")
            continue
        rms = np.sqrt(np.mean(error**2))
        known = f"{100 * inside.mean():.1f} % | {half.mean():.2f}" if half.any() else "|"
        print(f"| {author} | {name} | {error.mean():+.2f} | {rms:.2f} | {known} |")


def main() -> None:
    """Invent, reduce, compare, print."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("kind", choices=tuple(KINDS))
    asked.add_argument("--seeds", default="1000:1200")
    asked.add_argument("--by", default="abcdef", help="which authors")
    options = asked.parse_args()
    print("| author | figure | bias | rms | inside 95 % | mean half width |\n|---|---|---:|---:|---:|---:|")
    for author in options.by:
        jobs = [(options.kind, folder) for folder in folders(author, options.kind, options.seeds)]
        with Pool(2) as workers:
            rows = workers.map(row_of, jobs, chunksize=2)
        show(author, [row for row in rows if not isinstance(row, str)])
        for row in rows:
            if isinstance(row, str):
                print(row, file=sys.stderr)


if __name__ == "__main__":
    main()
