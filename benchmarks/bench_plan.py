"""How long `calmday plan` takes beside `calmday reduce` of the demo, whole processes run in turn.

    python benchmarks/bench_plan.py 7

Prints the ratio of processor time (medians) with and without earlier runs to learn from, and with the sheets in print.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
COMMAND = [sys.executable, "-c", "import sys; from calmday.cli.main import main; sys.exit(main())"]


def processor_s(*arguments: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([*COMMAND, *arguments], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as folder:
        example = ROOT / "examples" / "plan-a-test" / "plan.toml"
        text = example.read_text().replace("../fen-hauler", (ROOT / "examples" / "fen-hauler").as_posix())
        blank = Path(folder) / "plan.toml"
        blank.write_text("\n".join(line for line in text.splitlines() if not line.startswith("runs")))
        cases = {
            "reduce the demo": ("reduce", str(ROOT / "examples" / "fen-hauler" / "run.toml"), "--json"),
            "plan, nothing learned yet": ("plan", str(blank), "--json"),
            "plan, one run to learn from": ("plan", str(example), "--json"),
            "the same, with the sheets": ("plan", str(example), "--json", "--sheets", f"{folder}/print"),
        }
        taken: dict[str, list[float]] = {name: [] for name in cases}
        for _ in range(times):
            for name, arguments in cases.items():
                taken[name].append(processor_s(*arguments))
    base = statistics.median(taken["reduce the demo"])
    for name, found in taken.items():
        print(f"{name:32s}{statistics.median(found) / base:6.1f}")


if __name__ == "__main__":
    main()
