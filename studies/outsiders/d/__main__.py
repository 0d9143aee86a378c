"""Command: python -m outsiders.d runs|coastdowns|sets|checks --seeds A:B --out DIR"""
from __future__ import annotations
import argparse
from pathlib import Path
import numpy as np


def main() -> None:
    p = argparse.ArgumentParser(prog="simulator", description=__doc__)
    p.add_argument("what", choices=["runs", "coastdowns", "sets", "checks"])
    p.add_argument("--seeds", default="0:10")
    p.add_argument("--out", type=Path)
    a = p.parse_args()
    if a.what == "checks":
        from .checks import run_checks
        run_checks()
        return
    from . import cases
    lo, hi = (int(x) for x in a.seeds.split(":"))
    make = {"runs": cases.make_run}
    if a.what != "runs":
        from . import coastdown, sets
        make |= {"coastdowns": coastdown.make_coastdown, "sets": sets.make_set}
    res = [make[a.what](s, a.out) for s in range(lo, hi)]
    if a.what == "runs":
        e = np.array([r["raw_error_percent"] for r in res])
        print(f"{len(res)} runs, raw error rms {np.sqrt(np.mean(e ** 2)):.2f} %, mean {e.mean():+.2f} %")
    else:
        print(f"{len(res)} {a.what}")


if __name__ == "__main__":
    main()
