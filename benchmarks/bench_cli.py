"""How long `calmday reduce --json` takes, beside a bare script that imports numpy and parses the same track.

python benchmarks/bench_cli.py [RUN.toml...] [--times 15] [--draws 20000]

Both are whole processes, interpreter start included, run in turn so that a busy machine slows both alike. Measure in
an installation with compiled byte-code, or imports are all that is measured. The table is markdown, for
docs/performance.md. Processor time (user and system) says what the work takes, whoever else wants the machine; memory
is the largest peak (neither on Windows).
"""

from __future__ import annotations

import argparse
import math
import os
import statistics
import subprocess
import sys
import time
import tomllib
from pathlib import Path
from typing import NamedTuple

EXAMPLE = Path(__file__).parents[1] / "examples" / "fen-hauler" / "run.toml"
BARE = """
import sys
import xml.etree.ElementTree as ElementTree
import numpy as np
rows = []
for path in sys.argv[1:]:
    for node in ElementTree.parse(path).iter():
        if node.tag.endswith("}trkpt"):
            when = [child.text for child in node if child.tag.endswith("}time")]
            at = np.datetime64(when[0].rstrip("Z"), "ms")
            rows.append((float(node.get("lat")), float(node.get("lon")), at))
latitude = np.array([row[0] for row in rows])
longitude = np.array([row[1] for row in rows])
times = np.array([row[2] for row in rows])
print(len(rows), latitude.mean(), longitude.mean(), times[0])
"""


def main() -> int:
    """Time both commands and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("runs", nargs="*", type=Path, default=[EXAMPLE], help="run files with GPX")
    parser.add_argument("--times", type=int, default=15, help="how often each is run")
    parser.add_argument("--draws", type=int, help="simulated vehicles, where not the default")
    given = parser.parse_args()
    print(f"{given.times} interleaved runs, Python {sys.version.split()[0]}, {os.cpu_count()} processors.\n")
    print(*HEAD, sep="\n")
    for run in given.runs:
        calmday = [str(Path(sys.executable).with_name("calmday")), "reduce", str(run), "--json"]
        if given.draws:
            calmday += ["--draws", str(given.draws)]
        bare = [sys.executable, "-c", BARE, *map(str, gpx_files(run))]
        fixes = int(subprocess.run(bare, capture_output=True, text=True, check=True).stdout.split()[0])
        print(row(run.parent.name, fixes, interleaved(bare, calmday, given.times)), flush=True)
    return 0


def gpx_files(run: Path) -> list[Path]:
    """The GPX files that the run names."""
    named = tomllib.loads(run.read_text(encoding="utf-8")).get("track", [])
    names = [named] if isinstance(named, str) else named
    return [run.parent / name for name in names if name.lower().endswith(".gpx")]


class Once(NamedTuple):
    """One process: wall and processor seconds, peak memory in MB; NaN where the platform does not tell."""

    wall: float
    processor: float
    memory: float


def interleaved(bare: list[str], calmday: list[str], times: int) -> tuple[list[Once], list[Once]]:
    """Every run of both commands, after one unmeasured round that warms the disk cache."""
    rounds = [(timed(bare), timed(calmday)) for _ in range(times + 1)][1:]
    return [one for one, _ in rounds], [other for _, other in rounds]


def timed(command: list[str]) -> Once:
    """Run one process to its end."""
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    processor = memory = math.nan
    if hasattr(os, "wait4"):
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        processor = usage.ru_utime + usage.ru_stime
        memory = usage.ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
    else:
        process.wait()
    took = time.perf_counter() - began
    if process.returncode > 1:
        raise SystemExit(f"{command[0]} left with {process.returncode}; run it by hand to see why")
    return Once(took, processor, memory)


HEAD = (
    "| run | fixes | bare, s | calmday, s | ratio of medians | ratio of processor time | peak memory, MB |",
    "|---|---:|---:|---:|---:|---:|---:|",
)


def row(name: str, fixes: int, measured: tuple[list[Once], list[Once]]) -> str:
    """One line of the markdown table: median wall seconds, and ratios of the medians."""
    bare, calmday = ([statistics.median(getattr(o, key) for o in runs) for key in Once._fields] for runs in measured)
    peak = max(once.memory for once in measured[1])
    return (
        f"| {name} | {fixes} | {bare[0]:.3f} | {calmday[0]:.3f} | {calmday[0] / bare[0]:.2f} | "
        f"{calmday[1] / bare[1]:.2f} | {peak:.0f} |"
    )


if __name__ == "__main__":
    sys.exit(main())
