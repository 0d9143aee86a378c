"""python -m outsiders.c {runs|coastdowns|sets|check} --seeds 0:200 --out DIR"""
from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np


def main() -> int:
    """Command line."""
    p = argparse.ArgumentParser(prog="simulator")
    p.add_argument("what", choices=["runs", "coastdowns", "sets", "check"])
    p.add_argument("--seeds", default="0:10")
    p.add_argument("--out", type=Path, default=Path("cases"))
    a = p.parse_args()
    if a.what == "check":
        from .check import check
        return check()
    lo, hi = (int(x) for x in a.seeds.split(":"))
    rows = []
    for seed in range(lo, hi):
        if a.what == "runs":
            from .runs import one_run as make
        elif a.what == "coastdowns":
            from .coastdowns import one_coastdown as make
        else:
            from .sets import one_set as make
        rows.append(make(seed, a.out))
        print(seed, " ".join(f"{k}={x:.4g}" for k, x in rows[-1].items()), file=sys.stderr)
    for k in rows[0]:
        x = np.array([q[k] for q in rows])
        print(f"{k}: mean {x.mean():.4g} rms {np.sqrt((x * x).mean()):.4g} min {x.min():.4g} max {x.max():.4g}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
