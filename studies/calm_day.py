"""How good is a calm-day figure? Hundreds of invented drives with known truth, on the command's own path.

    python studies/calm_day.py                    # seeds 0 to 299, two processes
    python studies/calm_day.py --seeds 0:50
    python studies/calm_day.py --seeds 7,19,23 --rows
    python studies/calm_day.py --dask tcp://192.0.2.7:8786   # on a cluster that has this folder on its path

Folders are kept in /tmp/calmday_sim/<seed> and made again only when the simulator has changed. One
row per seed goes to a CSV for closer looks. Percentages are of the truth.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import math
import os
import sys
import tempfile
import time
import traceback
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import numpy as np

from calmday import operations
from calmday.metrology.figure import Figure
from calmday.operations.chunks import Kept, Work, work_out
from calmday.synthetic import random_scenario, simulate, write_folder

ROOT = Path(__file__).resolve().parents[1]
CACHE = Path("/tmp/calmday_sim")


def stamp() -> str:
    """Changes when the simulator does."""
    digest = hashlib.sha256()
    for path in sorted((ROOT / "src/calmday/synthetic").glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def folder_of(seed: int, mark: str) -> Path:
    """The folder of one seed, simulated unless a fresh one is there."""
    folder = CACHE / str(seed)
    seal = folder / "stamp"
    if not (seal.exists() and seal.read_text() == mark):
        fresh = CACHE / f"{seed}.{os.getpid()}"  # another study may be at work on the same seed
        write_folder(simulate(random_scenario(seed)), fresh)
        folder.mkdir(exist_ok=True)
        for path in fresh.iterdir():
            path.replace(folder / path.name)
        fresh.rmdir()
        seal.write_text(mark)
    return folder


def figure(prefix: str, found: Figure, truth: float) -> dict[str, float]:
    """Error, 95 % bounds, half width and z of one figure, relative to the truth in percent."""
    scale = 100 / truth
    spread = max(found.standard_uncertainty, 1e-300)
    return {
        f"{prefix}_error": (found.value - truth) * scale,
        f"{prefix}_half": (found.high - found.low) / 2 * scale,
        f"{prefix}_inside": float(found.low <= truth <= found.high),
        f"{prefix}_z": (found.value - truth) / spread,
    }


def points(prefix: str, found: Figure, truth: float) -> dict[str, float]:
    """The same for a figure that is itself a percentage: differences in points."""
    spread = max(found.standard_uncertainty, 1e-300)
    return {
        f"{prefix}_true": truth,
        f"{prefix}_error": found.value - truth,
        f"{prefix}_half": (found.high - found.low) / 2,
        f"{prefix}_inside": float(found.low <= truth <= found.high),
        f"{prefix}_z": (found.value - truth) / spread if spread > 1e-6 else math.nan,
    }


def rows_of(shared: bytes, start: int, stop: int) -> bytes:
    """One part of a study: its rows, as JSON. Not a number where a figure is none."""
    seeds, mark = json.loads(shared)
    return json.dumps([row_of((seed, mark)) for seed in seeds[start:stop]]).encode()


def row_of(job: tuple[int, str]) -> dict[str, object]:
    """One seed: simulate or fetch, reduce, compare."""
    seed, mark = job
    try:
        return compare(seed, mark)
    except Exception as problem:  # a study must tell which seeds fail, and go on
        last = traceback.extract_tb(problem.__traceback__)[-1]
        return {"seed": seed, "failed": f"{problem!r} at {last.filename}:{last.lineno}"}


def compare(seed: int, mark: str) -> dict[str, object]:
    """The result of one seed beside its truth."""
    folder = folder_of(seed, mark)
    known = json.loads((folder / "truth.json").read_text())
    scenario, truth = known["invented"]["scenario"], known["invented"]["truth"]
    begin = time.perf_counter()
    result = operations.reduce_file(folder / "run.toml").result
    took = time.perf_counter() - begin
    row: dict[str, object] = {
        "seed": seed,
        "seconds": took,
        "wind_10m": truth["mean_wind_10m_mps"],
        "start": scenario["engine_start"],
        "route": "out and back" if scenario["route_kind"] == "out and back" else "loop",
        "fuel": scenario["fuel"],
        "doppler": "Doppler" if scenario["has_doppler"] else "positions only",
        "injection": scenario["injection"],
        "body": scenario["body"],
        "temperature_c": scenario["temperature_c"],
        "terrain": scenario["terrain"],
        "km": known["distance"],
        "fuel_kg": known["fuel_mass"],
        "laps_right": float(len(result.laps) in ((0, 1) if truth["laps"] == 1 else (truth["laps"],))),
        "flags": " ".join(flag.code for flag in result.flags),
        "stop_flags": " ".join(flag.code for flag in result.flags if flag.severity == "stop"),
        "raw_error": 100 * (truth["fuel_burnt_kg"] / truth["calm_fuel_kg"] - 1),
        "as_read_error": 100 * (result.as_driven.g_per_km.value / known["calm_day"]["g_per_km"] - 1),
        **figure("distance", result.distance, known["distance"]),
        **figure("mass", result.fuel_mass, known["fuel_mass"]),
        **figure("driven", result.as_driven.L_per_100km, known["as_driven"]["L_per_100km"]),
    }
    if result.quality is not None:
        row |= {"effective": result.quality.effective_draws, "surprise": result.quality.surprise}
    if result.calm_day is None or result.penalties is None:
        return row | {"failed": "no calm-day figure"}
    row |= figure("calm", result.calm_day.g_per_km, known["calm_day"]["g_per_km"])
    row |= figure("litres", result.calm_day.L_per_100km, known["calm_day"]["L_per_100km"])
    for name, true in known["penalties"].items():
        row |= points(name, getattr(result.penalties, name), true)
    return row


def numbers(rows: list[dict[str, object]], key: str) -> np.ndarray:
    values = [row.get(key) for row in rows]
    return np.array([float(v) for v in values if isinstance(v, int | float) and math.isfinite(v)])


def rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2))) if values.size else math.nan


COLUMNS = ("rms", "bias", "sd", "cover", "half", "z sd", "worst")
HEAD = f"{'':34s}{'n':>5s}" + "".join(f"{name:>8s}" for name in COLUMNS)
WIND_BANDS = ((0, 3), (3, 6), (6, 15))


def line(label: str, rows: list[dict[str, object]], prefix: str) -> str:
    error = numbers(rows, f"{prefix}_error")
    if not error.size:
        return f"{label:34s}    0"
    cover, half, z = (numbers(rows, f"{prefix}_{part}") for part in ("inside", "half", "z"))
    worst = error[np.abs(error).argmax()]
    tail = f"{100 * cover.mean():8.1f}{half.mean():8.3f}{z.std():8.2f}" if cover.size else f"{'':24s}"
    return f"{label:34s}{error.size:5d}{rms(error):8.3f}{error.mean():8.3f}{error.std():8.3f}{tail}{worst:8.2f}"


def groups(rows: list[dict[str, object]]) -> list[tuple[str, list[dict[str, object]]]]:
    bands = [(f"wind {a} to {b} m/s", [r for r in rows if a <= r["wind_10m"] < b]) for a, b in WIND_BANDS]
    kinds = [
        (f"{key}: {value}", [r for r in rows if r[key] == value])
        for key in ("start", "route", "fuel", "injection", "doppler", "terrain", "body")
        for value in sorted({str(r[key]) for r in rows})
    ]
    return [("all", rows), *bands, *kinds]


def report(rows: list[dict[str, object]]) -> str:
    failed = [row for row in rows if "failed" in row]
    good = [row for row in rows if "failed" not in row]
    out = [f"{len(rows)} drives, {len(failed)} failed"]
    out += [f"  seed {row['seed']}: {row['failed']}" for row in failed[:12]]
    if not good:
        return "\n".join(out)
    stopped = [row for row in good if row["stop_flags"]]
    named = "; ".join(f"{r['seed']} {r['stop_flags']}" for r in stopped[:12])
    out.append(f"stop flags on {len(stopped)}: {named}")
    right, seconds = 100 * numbers(good, "laps_right").mean(), numbers(good, "seconds").mean()
    out.append(f"laps right {right:.1f} %   reduce {seconds:.2f} s")
    surprise, effective = numbers(good, "surprise"), numbers(good, "effective")
    out.append(f"surprise sd {surprise.std():.2f} mean {surprise.mean():.2f}")
    out.append(f"effective draws: fewest {effective.min():.0f}, median {np.median(effective):.0f}")
    out += ["", "Percent of the truth; penalties in points", HEAD]
    out += [
        line("raw, true mass, against calm day", good, "raw"),
        line("as read against calm day", good, "as_read"),
    ]
    for label, prefix in (
        ("calm day, g/km", "calm"),
        ("calm day, L/100 km", "litres"),
        ("as driven, L/100 km", "driven"),
        ("distance", "distance"),
        ("fuel mass", "mass"),
        ("wind penalty", "wind"),
        ("air density penalty", "air_density"),
        ("cold engine penalty", "cold_engine"),
        ("cold tyres penalty", "cold_tyres"),
    ):
        out.append(line(label, good, prefix))
    split = {"Calm day, g/km": "calm", "As read": "as_read", "Wind penalty": "wind", "Distance": "distance"}
    for title, prefix in split.items():
        out += ["", title, HEAD]
        out += [line(name, members, prefix) for name, members in groups(good) if members]
    return "\n".join(out)


def seeds_of(text: str) -> list[int]:
    if ":" in text:
        first, last = text.split(":")
        return list(range(int(first), int(last)))
    return [int(part) for part in text.split(",")]


def save(rows: list[dict[str, object]], path: Path) -> None:
    keys = list(dict.fromkeys(key for row in rows for key in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, keys)
        writer.writeheader()
        writer.writerows(rows)


def main() -> int:
    shape = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=shape)
    parser.add_argument("--seeds", default="0:300", help="0:300 or 3,5,8")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--dask", default="", help="scheduler of a cluster to work on instead")
    parser.add_argument("--out", type=Path, default=Path("/tmp/calmday_study.csv"))
    parser.add_argument("--rows", action="store_true", help="print one line per seed")
    parser.add_argument("--only-simulate", action="store_true", help="fill the cache and stop")
    given = parser.parse_args()
    mark = stamp()
    seeds = seeds_of(given.seeds)
    CACHE.mkdir(exist_ok=True)
    folder_of(seeds[0], mark)  # compile once, before the processes part
    function = "calm_day:simulate_only" if given.only_simulate else "calm_day:rows_of"
    work = Work(function=function, shared=json.dumps([seeds, mark]).encode(), count=len(seeds), size=4)
    with tempfile.TemporaryDirectory() as folder:
        kept = Kept(Path(folder), work)
        work_out(work, kept, workers=given.processes, dask=given.dask)
        rows = [row for part in kept.contents(work.parts) for row in json.loads(part)]
    if given.only_simulate:
        return 0
    save(rows, given.out)
    if given.rows:
        for row in rows:
            print({key: round(v, 3) if isinstance(v, float) else v for key, v in row.items()})
    print(report(rows))
    print(f"\nrows: {given.out}")
    return 0 if not any("failed" in row for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
