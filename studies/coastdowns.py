"""How good are drag and rolling from coastdowns? Invented days with known truth.

    python studies/coastdowns.py                       # seeds 0 to 119, 8 passes
    python studies/coastdowns.py --passes 6 --even --rows

`calmday.synthetic.coastdown_truth` invents vehicle, road, wind and receiver with physics of its own, up to 5 m/s of
wind at 10 m. `--even`: a road without waves beyond its mean slope. `--growth 0.15`: plainer vehicles, as in text
books: rolling resistance that grows by so much up to 100 km/h whatever the tyres' warmth, nothing left turning in
neutral. `--further 300`: positions are always recorded, and each pair of passes begins so many metres further along
than the one before. Percentages are of the truth; "inside" counts truths within the 95 % interval.
"force 80" is all that holds the vehicle back at 80 km/h on the calm standard day; "all but
air" the same at 70 km/h less the air; "rolling" the tyres alone.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import msgspec
import numpy as np

import calmday.synthetic.coastdown_truth as invented
from calmday.procedures.coastdown import fit_coastdown
from calmday.procedures.coastdown_load import parts_at
from calmday.synthetic.scenario import random_scenario
from calmday.synthetic.simulate import chosen_vehicle
from calmday.synthetic.vehicle_truth import VehicleFacts, random_vehicle

NAMES = ("drag area", "rolling", "all but air", "force 80")


def plain_vehicle(seed: int, growth: float) -> VehicleFacts:
    """The seed's vehicle with text-book tyres and no driveline in neutral."""
    scenario = random_scenario(seed, payload_kg=0.0)
    facts = random_vehicle(seed, chosen_vehicle(scenario), scenario.pressure_ratio, 0.0)
    truth = facts.truth._replace(
        spin_torque=0.0, rolling_speed2=growth / (100 / 3.6) ** 2, tyre_temperature_slope=0.0086, tyre_capacity=1e12
    )
    return msgspec.structs.replace(facts, truth=truth)


def row_of(
    seed: int, passes: int, even: bool, draws: int, growth: float | None, further_m: float | None
) -> tuple[list[list[float]], bool]:
    """Error in percent, half width in percent and whether the truth is inside, for each of NAMES; and soundness."""
    vehicle = None if growth is None else plain_vehicle(seed, growth)
    truth, day = invented.invented_coastdown(
        seed,
        passes,
        waves=not even,
        vehicle=vehicle,
        positions=None if further_m is None else True,
        further_m=further_m or 0.0,
    )
    fitted = fit_coastdown(day, draws, seed + 1)
    p = fitted.values
    _, tyres, driveline = parts_at(p, 70 / 3.6)
    found = (p["drag_area"], p["rolling_resistance"], tyres + driveline, sum(parts_at(p, 80 / 3.6)))
    known = (truth.drag_area_m2, truth.rolling, truth.not_air_70_n, truth.road_load_n[2])
    rows = []
    for draws_of, true in zip(found, known, strict=True):
        low, high = np.quantile(draws_of, [0.025, 0.975])
        rows.append([100 * (draws_of.mean() / true - 1), 50 * (high - low) / true, float(low <= true <= high)])
    return rows, fitted.posterior.sound


def main() -> None:
    """Run the study and print one line for each figure."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="0:120", help="first:last+1")
    parser.add_argument("--passes", type=int, default=8)
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--even", action="store_true", help="a road without waves")
    parser.add_argument("--growth", type=float, help="text-book vehicles with this growth up to 100 km/h")
    parser.add_argument("--further", type=float, help="metres by which each pair begins further along")
    parser.add_argument("--rows", action="store_true", help="print every seed")
    given = parser.parse_args()
    first, _, last = given.seeds.partition(":")
    every, sound = [], []
    for seed in range(int(first), int(last)):
        rows, fine = row_of(seed, given.passes, given.even, given.draws, given.growth, given.further)
        every.append(rows)
        sound.append(fine)
        if given.rows:
            print(seed, " ".join(f"{n} {e:+.1f}±{h:.1f}" for n, (e, h, _) in zip(NAMES, rows, strict=True)), flush=True)
    table = np.array(every)
    print(f"{len(table)} days of {given.passes} passes; simulation settled in {np.mean(sound):.0%}")
    for k, name in enumerate(NAMES):
        error = table[:, k, 0]
        print(
            f"{name:12s} mean {error.mean():+.1f} %, rms {np.sqrt(np.mean(error**2)):.1f} %, "
            f"give or take (median) {np.median(table[:, k, 1]):.1f} %, inside {table[:, k, 2].mean():.0%}"
        )


if __name__ == "__main__":
    main()
