"""How long `calmday reduce --json` takes, beside a bare script that imports numpy and parses the same track.

python benchmarks/bench_cli.py [RUN.toml] [--times 15]

Both are whole processes, interpreter start included, run in turn so that a busy machine slows both alike. The
table is markdown, for docs/performance.md. Times are medians; memory is the largest peak (not on Windows).
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import time
import tomllib
from pathlib import Path

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
    parser.add_argument("run", nargs="?", type=Path, default=EXAMPLE, help="run file with GPX")
    parser.add_argument("--times", type=int, default=15, help="how often each is run")
    given = parser.parse_args()
    tracks = gpx_files(given.run)
    calmday = [str(Path(sys.executable).with_name("calmday")), "reduce", str(given.run), "--json"]
    bare = [sys.executable, "-c", BARE, *map(str, tracks)]
    commands = {"bare script: numpy and the GPX": bare, "calmday reduce --json": calmday}
    fixes = int(subprocess.run(bare, capture_output=True, text=True, check=True).stdout.split()[0])
    measured = interleaved(commands, given.times)
    print(table(measured, given.run.parent.name, fixes, given.times))
    return 0


def gpx_files(run: Path) -> list[Path]:
    """The GPX files that the run names."""
    named = tomllib.loads(run.read_text(encoding="utf-8")).get("track", [])
    names = [named] if isinstance(named, str) else named
    return [run.parent / name for name in names if name.lower().endswith(".gpx")]


def interleaved(commands: dict[str, list[str]], times: int) -> dict[str, list[tuple[float, float]]]:
    """Wall seconds and peak memory of each run, after one unmeasured round that warms the disk cache."""
    measured: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
    for turn in range(times + 1):
        for name, command in commands.items():
            once = timed(command)
            if turn:
                measured[name].append(once)
    return measured


def timed(command: list[str]) -> tuple[float, float]:
    """Wall seconds and peak memory in MB of one process; NaN MB where the platform does not tell."""
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    if hasattr(os, "wait4"):
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        kilobytes = usage.ru_maxrss / (1000 if sys.platform == "darwin" else 1)
    else:
        process.wait()
        kilobytes = float("nan")
    took = time.perf_counter() - began
    if process.returncode > 1:
        raise SystemExit(f"{command[0]} left with {process.returncode}; run it by hand to see why")
    return took, kilobytes / 1000


def table(measured: dict[str, list[tuple[float, float]]], name: str, fixes: int, times: int) -> str:
    """The markdown table, with the ratio of the medians and the spread of the paired ratios."""
    lines = [
        f"`{name}`, {fixes} fixes, {times} interleaved runs, "
        f"Python {sys.version.split()[0]}, {os.cpu_count()} cores.",
        "",
        "| command | median, s | ratio | middle half of the ratios | peak memory, MB |",
        "|---|---|---|---|---|",
    ]
    reference = [seconds for seconds, _ in next(iter(measured.values()))]
    for command, runs in measured.items():
        seconds = [took for took, _ in runs]
        ratios = [one / other for one, other in zip(seconds, reference, strict=True)]
        low, _, high = statistics.quantiles(ratios, n=4)
        middle = statistics.median(seconds)
        ratio = middle / statistics.median(reference)
        peak = max(memory for _, memory in runs)
        lines.append(f"| {command} | {middle:.3f} | {ratio:.2f} | {low:.2f} to {high:.2f} | {peak:.0f} |")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
