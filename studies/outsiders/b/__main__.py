"""python -m outsiders.b runs|coastdowns|sets --seeds A:B --out DIR"""
from __future__ import annotations
import argparse, time
from pathlib import Path


def main() -> None:
    p = argparse.ArgumentParser(prog="simulator", description=__doc__)
    p.add_argument("what", choices=["runs", "coastdowns", "sets", "check"]); p.add_argument("--seeds", default="0:10"); p.add_argument("--out", type=Path, default=Path("cases"))
    a = p.parse_args()
    if a.what == "check":
        from .check import main as check
        check(); return
    if a.what == "runs": from .runs import make
    elif a.what == "coastdowns": from .coastdowns import make
    else: from .sets import make
    lo, hi = (int(x) for x in a.seeds.split(":")); t0 = time.time(); raw: list[float] = []
    for s in range(lo, hi):
        t = make(s, a.out)
        if "raw_error_percent" in t: raw.append(t["raw_error_percent"])
    msg = f"{hi - lo} cases in {time.time() - t0:.1f} s"
    if raw: msg += f"; raw error rms {(sum(x * x for x in raw) / len(raw)) ** .5:.2f} %, mean {sum(raw) / len(raw):.2f} %"
    print(msg)


if __name__ == "__main__":
    main()
