"""How often do the intervals of guesses, paybacks, crank degrees and cold starts hold the truth?

    python studies/guesses_cost_settings.py                 # everything, about six minutes
    python studies/guesses_cost_settings.py --only guesses --seeds 0:300

The truth never comes from what is tested: drives by `calmday.synthetic` (folders as `studies/calm_day.py` keeps them),
prices by a random walk, cams by formulas of their own, starts by a scatter of their own.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported
sys.path.insert(0, str(Path(__file__).parent))

import msgspec
import numpy as np
from calm_day import folder_of, stamp

from calmday.files.cost_file import cost_of
from calmday.files.named_files import FolderFiles, NamedDocument
from calmday.files.run_file import read_run
from calmday.files.settings_file import settings_of
from calmday.metrology.units import parse_consumption
from calmday.operations.cost import cost_sheet_of
from calmday.procedures.cold_starts import cold_starts
from calmday.procedures.lift_timing import crank_draws, degrees, draw_curve
from calmday.procedures.own_guess import own_guess
from calmday.records.run import Guessing
from calmday.records.setting import LiftCurve


def guesses(seeds: range) -> None:
    """The program's own guess against the consumption driven."""
    mark = stamp()
    for name in ("track", "steady speed"):
        errors, inside, halves = [], 0, []
        for seed in seeds:
            folder = folder_of(seed, mark)
            truth = json.loads((folder / "truth.json").read_text())
            run = read_run(folder / "run.toml")
            if name == "steady speed":
                speed = 0.85 * truth["invented"]["scenario"]["cruise_mps"]
                guessing = Guessing(speed_mps=speed)
                run = msgspec.structs.replace(run, track=None, guessing=guessing)
            made = own_guess(run, seed)
            assert made is not None
            right, figure = truth["as_driven"]["L_per_100km"], made.L_per_100km
            errors.append(100 * (parse_consumption(made.text)[0] / right - 1))
            halves.append(100 * figure.half_width / right)
            inside += figure.low <= right <= figure.high
        found = np.array(errors)
        rms, held = np.sqrt((found**2).mean()), 100 * inside / len(seeds)
        print(
            f"own guess, {name}: {len(seeds)} drives, bias {found.mean():+.1f} %, rms {rms:.1f} %, "
            f"inside {held:.1f} %, mean half width {np.mean(halves):.0f} %"
        )


def walk(random: np.random.Generator, start: float, weeks: int, week_sd: float, pull: float) -> np.ndarray:
    """A price week by week: a walk in its logarithm that is drawn back to where it began."""
    steps = random.normal(0, week_sd, weeks)
    level, path = 0.0, np.empty(weeks)
    for i, step in enumerate(steps):
        level += step - pull * level
        path[i] = level
    return start * np.exp(path)


def payback(trials: int) -> None:
    """Payback over ten years of prices that go on walking, declared from the last year seen."""
    random = np.random.default_rng(1)
    for label, pull in (("drawn back within half a year", 0.04), ("hardly drawn back", 0.004)):
        inside = ends = 0
        for trial in range(trials):
            shared = walk(random, 1.0, 52 * 11, 0.012, pull)
            prices = [start * shared * walk(random, 1.0, 52 * 11, 0.008, pull) for start in (1.81, 1.62)]
            used = random.normal((11.4, 7.5), (0.8 / 1.96, 0.4 / 1.96))
            mileage, outlay = random.normal(12000, 3000 / 1.96), random.normal(2400, 300 / 1.96)
            rows = [
                {"fuel": fuel, "price": f"{p[51]:.4f} EUR/L", "low": f"{p[:52].min():.4f} EUR/L",
                 "high": f"{p[:52].max():.4f} EUR/L"}
                for fuel, p in zip(("petrol", "diesel"), prices, strict=True)
            ]  # fmt: skip
            tables = {
                "use": [
                    {"name": "A", "fuel": "petrol", "consumption": {"value": "11.4 L/100km", "pm": "0.8 L/100km"}},
                    {"name": "B", "fuel": "diesel", "consumption": {"value": "7.5 L/100km", "pm": "0.4 L/100km"}},
                ],
                "price": rows,
                "yearly_distance": {"value": "12000 km", "pm": "3000 km"},
                "conversion": {"from": "A", "to": "B", "outlay": {"value": "2400 EUR", "pm": "300 EUR"}},
            }
            sheet = cost_of(NamedDocument(tables, FolderFiles(Path())), "cost.toml", "cost")
            back = cost_sheet_of(sheet, draws=1000, seed=trial).payback
            assert back is not None
            weekly = (used[0] * prices[0][52:] - used[1] * prices[1][52:]) / 100 * mileage / 52
            gone = np.cumsum(weekly)
            years = float(np.argmax(gone >= outlay) + 1) / 52 if gone[-1] >= outlay else math.inf
            inside += back.years.low <= years <= back.years.high
            ends += back.gain.low <= float(weekly[: 52 * 10].sum()) - outlay <= back.gain.high
        print(
            f"payback, prices {label}: {trials} trials, years inside {100 * inside / trials:.1f} %, "
            f"gain after ten years inside {100 * ends / trials:.1f} %"
        )


def crank(trials: int) -> None:
    """Steps in crank degrees on cams of several shapes, each measured once with gauge and protractor."""
    random = np.random.default_rng(2)
    shapes = {
        "harmonic": lambda t: 1.6 * (1 - math.cos(math.pi * t)),
        "parabolic": lambda t: 3.2 * (2 * t * t if t < 0.5 else 1 - 2 * (1 - t) ** 2),
        "straight after a ramp": lambda t: 3.2 * (t - 0.05 * (1 - math.exp(-t / 0.05))),
    }
    for name, shape in shapes.items():

        def lift(angle: float, of: object = shape) -> float:
            return of(min(max((angle - 6.0) / 40.0, 0.0), 1.0))  # type: ignore[operator]

        inside, halves = 0, []
        for trial in range(trials):
            apart = random.choice([1.0, 2.0, 4.0])
            angles = np.arange(4.0, 42.1, apart)
            held = angles + random.normal(0, 0.5 / 1.96, angles.size)
            read = np.maximum([lift(a) + random.normal(0, 0.02 / 1.96) for a in held], 0.0)
            drawn = draw_curve(LiftCurve(crank_rad=tuple(np.radians(angles)), lift_m=tuple(read / 1000)), 2, trial)
            if drawn is None:
                continue
            a, b = random.uniform(18, 30, 2)
            found = [
                crank_draws(drawn, (lift(x) + random.normal(0, 0.02 / 1.96)) / 1000, i, None)
                for i, x in enumerate((a, b))
            ]
            step = degrees(found[1] - found[0])
            assert step is not None
            inside += step.low <= b - a <= step.high
            halves.append(step.half_width)
        print(
            f"crank degrees, {name} cam: {len(halves)} trials, inside {100 * inside / len(halves):.1f} %, "
            f"mean half width {np.mean(halves):.2f} deg"
        )


def cold(trials: int) -> None:
    """One more cold start, left out of the line."""
    random = np.random.default_rng(3)
    for count in (4, 6, 12):
        inside = 0
        for _ in range(trials):
            warm = random.uniform(-8, 15, count)
            seconds = np.exp(1.2 - 0.06 * warm + random.normal(0, 0.25, count))
            rows = [{"temperature": f"{t:.3f} degC", "time": f"{s:.4f} s"} for t, s in zip(warm, seconds, strict=True)]
            log = settings_of(NamedDocument({"cold_start": rows}, FolderFiles(Path())), "setting.toml", "s")
            found = cold_starts(log.cold_starts, None)
            assert found is not None
            last = found.starts[-1]
            assert last.expected is not None
            inside += last.expected.low <= last.time <= last.expected.high
        print(f"cold start, {count} starts: {trials} trials, inside {100 * inside / trials:.1f} %")


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", choices=["guesses", "payback", "crank", "cold"])
    parser.add_argument("--seeds", default="0:200")
    parser.add_argument("--trials", type=int, default=600)
    asked = parser.parse_args()
    start, _, stop = asked.seeds.partition(":")
    if asked.only in (None, "guesses"):
        guesses(range(int(start), int(stop)))
    if asked.only in (None, "payback"):
        payback(asked.trials)
    if asked.only in (None, "crank"):
        crank(asked.trials)
    if asked.only in (None, "cold"):
        cold(4 * asked.trials)


if __name__ == "__main__":
    main()
