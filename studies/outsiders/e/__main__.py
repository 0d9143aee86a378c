"""python -m outsiders.e runs|coastdowns|sets --seeds A:B --out DIR"""
from __future__ import annotations

import argparse
import importlib
from pathlib import Path


def main() -> None:
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("what", choices=["runs", "coastdowns", "sets"])
    p.add_argument("--seeds", default="0:10")
    p.add_argument("--out", type=Path, required=True)
    a = p.parse_args()
    module, name = {"runs": ("runs", "make_run"), "coastdowns": ("coastdown", "make_coastdown"), "sets": ("sets", "make_set")}[a.what]
    make = getattr(importlib.import_module(f".{module}", __package__), name)
    lo, hi = map(int, a.seeds.split(":"))
    for seed in range(lo, hi):
        make(seed, a.out)


if __name__ == "__main__":
    main()
