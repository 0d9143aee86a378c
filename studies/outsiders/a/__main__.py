"""python -m outsiders.a runs|coastdowns|sets|check --seeds 0:200 --out DIR"""
from __future__ import annotations
import argparse
import importlib
from pathlib import Path


def main() -> int:
    p = argparse.ArgumentParser(prog="simulator", description=__doc__)
    p.add_argument("what", choices=["runs", "coastdowns", "sets", "check"])
    p.add_argument("--seeds", default="0:10", help="first:last+1")
    p.add_argument("--out", type=Path, default=Path("cases"))
    a = p.parse_args()
    if a.what == "check":
        from .selfcheck import main as check
        return check()
    make = importlib.import_module(f".{a.what}", __package__).make_case
    lo, hi = (int(x) for x in a.seeds.split(":"))
    for seed in range(lo, hi):
        make(seed, a.out / str(seed))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
