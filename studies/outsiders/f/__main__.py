"""Command: python -m outsiders.f {runs,coastdowns,sets} --seeds A:B --out DIR"""
import argparse
import json
from pathlib import Path
from importlib import import_module


def main() -> None:
    p = argparse.ArgumentParser(prog="simulator", description=__doc__)
    p.add_argument("what", choices=["runs", "coastdowns", "sets"])
    p.add_argument("--seeds", default="0:10", help="first:last+1")
    p.add_argument("--out", type=Path, required=True)
    p.add_argument("--check", type=Path, help="file for the self-check lines (kept away from the cases)")
    a = p.parse_args()
    lo, hi = map(int, a.seeds.split(":"))
    module = import_module(f".{a.what}", __package__)
    lines = [module.make(s, a.out / f"{s:03d}") for s in range(lo, hi)]
    if a.check:
        a.check.parent.mkdir(parents=True, exist_ok=True)
        a.check.write_text(json.dumps(lines, indent=0, default=float))


main()
