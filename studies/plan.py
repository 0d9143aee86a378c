"""Does a plan keep its word? Invented tests, planned first, then driven by the simulator and reduced.

    python studies/plan.py --seeds 0:120

For each seed the plan knows the build sheet, the lap (its length alone with the usual speed on it, or a track of it
as driven before), the scale, and a forecast that is off by 1.5 m/s in either component of the wind and by 2 K. The test
is then driven by `calmday.synthetic`, which imports neither physics nor model, and its run file is reduced. Compared
are the give-or-take that was predicted with the one that came out, and the fuel that was predicted with the fuel burnt.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import tomllib
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import calm_day
import numpy as np
import tomli_w

from calmday import operations
from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure
from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import AS_DRIVEN
from calmday.procedures.simulated_run import SimulatedRun

CACHE = Path("/tmp/calmday_plan_sim")
WIND_ERROR_MPS, TEMPERATURE_ERROR_K = 1.5, 2.0
NAMES = {"length": "from the length", "track": "from the track", "told": "from the track, wind known"}


def plan_text(folder: Path, known: dict[str, object], seed: int, route: bool, usual_mps: float, told: bool) -> str:
    """The plan that could have been written the evening before."""
    run = tomllib.loads((folder / "run.toml").read_text())
    scenario = known["invented"]["scenario"]  # type: ignore[index]
    g = np.random.default_rng([seed, 5])
    bearing = math.radians(scenario["wind_from_deg"])
    east, north = (
        -scenario["wind_speed_10m_mps"] * part + WIND_ERROR_MPS * g.standard_normal()
        for part in (math.sin(bearing), math.cos(bearing))
    )
    plan: dict[str, object] = {
        key: run[key]
        for key in ("vehicle", "date", "timezone", "engine_start", "payload", "tyre_pressure", "terrain")
        if key in run
    }
    plan |= {
        "label": f"Seed {seed}",
        "laps": scenario["laps"],
        "most_laps": scenario["laps"],
        "readings": len(run["weighing"][0]["gross"]),
        "fuel": run["fuel"],
        "fuel_system": run["fuel_system"],
        "scale": {key: value for key, value in run["scale"].items() if key != "capacity"},
        "weather": {
            "wind_on_the_day": "station",
            "forecast": [
                {
                    "wind_speed": f"{math.hypot(east, north):.2f} m/s",
                    "wind_from": f"{math.degrees(math.atan2(-east, -north)) % 360:.0f} deg",
                    "temperature": f"{scenario['temperature_c'] + TEMPERATURE_ERROR_K * g.standard_normal():.1f} degC",
                    "pressure": f"{scenario['pressure_pa'] / 100:.0f} hPa",
                }
            ],
        },
    }
    if told:
        told_wind = scenario["wind_speed_10m_mps"]
        plan["weather"]["forecast"][0]["wind_speed"] = f"{told_wind:.2f} m/s"  # type: ignore[index]
        plan["weather"]["forecast"][0]["wind_from"] = f"{scenario['wind_from_deg'] % 360:.0f} deg"  # type: ignore[index]
        plan["weather"]["forecast_doubt"] = "0.3 m/s"  # type: ignore[index]
    if route:
        plan["route"] = run["track"]
    else:
        plan["lap_length"] = f"{scenario['lap_length_m']:.0f} m"
        plan["speed"] = f"{3.6 * usual_mps:.0f} km/h"
    return tomli_w.dumps(plan)


def half(figure: Figure) -> float:
    return 100 * figure.half_width / figure.value


def row_of(seed: int, mark: str) -> dict[str, float]:
    folder = calm_day.folder_of(seed, mark)
    known = json.loads((folder / "truth.json").read_text())
    reduction = operations.reduce_file(folder / "run.toml")
    result, simulated = reduction.result, reduction.weighed.simulated
    assert simulated is not None
    usual = float(np.quantile(reduction.curves["speed_mps"], 0.6))
    assert result.calm_day is not None
    row = {
        "seed": seed,
        "achieved": half(result.calm_day.L_per_100km),
        "wind": known["invented"]["scenario"]["wind_speed_10m_mps"],
    }
    row["model"] = math.log(known["fuel_mass"] / simulated.expected_fuel_kg)
    row["model sd"] = simulated.conditioned.expected_sd
    row |= widths(simulated, math.log(known["fuel_mass"] / reduction.weighed.path.scale))
    row["achieved driven"] = half(result.as_driven.L_per_100km)
    truth = known["calm_day"]["L_per_100km"]
    row["error"] = 100 * (result.calm_day.L_per_100km.value / truth - 1)
    for name in NAMES:
        (folder / f"plan_{name}.toml").write_text(
            plan_text(folder, known, seed, name != "length", usual, name == "told")
        )
        plan = operations.plan_file(folder / f"plan_{name}.toml")
        row[name] = plan.uncertainty_percent
        row[f"{name} driven"] = plan.as_driven_percent
        row[f"{name} fuel"] = math.log(known["fuel_mass"] / plan.fuel_mass.value)
        row[f"{name} inside"] = float(plan.fuel_mass.low <= known["fuel_mass"] <= plan.fuel_mass.high)
        row[f"{name} half"] = half(plan.fuel_mass)
        row[f"{name} time"] = math.log(known["invented"]["truth"]["duration_s"] / plan.duration.value)
        row[f"{name} calm inside"] = float(plan.calm_day.L_per_100km.low <= truth <= plan.calm_day.L_per_100km.high)
    return row


def widths(simulated: SimulatedRun, log_truth: float) -> dict[str, float]:
    """How far the middle of all draws lies off on the drive as recorded, and what the width of each default adds to the
    fuel at its centre: half as much again of something costs more than a third less saves."""
    model, forward = simulated.model, simulated.forward
    heating = math.log(fuel_properties(model.fuel).net_heating_value_jpkg)
    count = len(model.parameters)
    centre = forward.fuel_energy_j(model.parameters.values(np.zeros((1, count))), AS_DRIVEN)[0]
    middle = float(np.median(forward.fuel_energy_j(simulated.before, AS_DRIVEN)))
    found = {"middle": log_truth - math.log(middle) + heating}
    drawn = standard_normal(200, 1, 7)[:, 0]
    for place, key in enumerate(model.parameters.keys):
        scores = np.zeros((drawn.size, count))
        scores[:, place] = drawn
        energy = forward.fuel_energy_j(model.parameters.values(scores), AS_DRIVEN)
        found[f"width of {key}"] = float(np.log(energy / centre).mean())
    return found


def table(rows: list[dict[str, float]]) -> str:
    def column(key: str) -> np.ndarray:
        return np.array([row[key] for row in rows])

    out = [
        f"{len(rows)} tests",
        "",
        "| give or take of the calm day, % | predicted, mean | achieved, mean | ratio | scatter of the ratio, % |",
    ]
    out.append("|---|---:|---:|---:|---:|")
    groups = {"all": np.ones(len(rows), bool)} | {
        f"wind {a} to {b} m/s": (column("wind") >= a) & (column("wind") < b) for a, b in ((0, 3), (3, 6), (6, 15))
    }
    for name, words in NAMES.items():
        for group, chosen in groups.items():
            predicted, achieved = column(name)[chosen], column("achieved")[chosen]
            spread = 100 * np.log(predicted / achieved).std()
            out.append(
                f"| {words}, {group} | {predicted.mean():.2f} | {achieved.mean():.2f} | "
                f"{predicted.mean() / achieved.mean():.2f} | {spread:.0f} |"
            )
    for name, words in NAMES.items():
        predicted, achieved = column(f"{name} driven"), column("achieved driven")
        out.append(
            f"| as driven, {words} | {predicted.mean():.2f} | {achieved.mean():.2f} | "
            f"{predicted.mean() / achieved.mean():.2f} | {100 * np.log(predicted / achieved).std():.0f} |"
        )
    error = column("error")
    out += [
        "",
        f"error of the calm day {np.sqrt((error**2).mean()):.2f} % rms; mean give or take over 1.96 "
        f"{column('achieved').mean() / 1.96:.2f} %",
    ]
    off, sd = column("model"), column("model sd")
    out.append(
        f"fuel against the model on the drive as recorded: bias {100 * off.mean():+.1f} %, rms "
        f"{100 * np.sqrt((off**2).mean()):.1f} %; in its own spreads {(off / sd).mean():+.2f} with a scatter of "
        f"{(off / sd).std():.2f}"
    )
    added = {key[9:]: 100 * column(key).mean() for key in rows[0] if key.startswith("width of ")}
    largest = sorted(added.items(), key=lambda item: -item[1])[:6]
    out.append(
        f"the same of the middle of all draws: bias {100 * column('middle').mean():+.1f} %; the width of the defaults "
        f"adds {sum(added.values()):.1f} %: " + ", ".join(f"{key} {value:.1f}" for key, value in largest)
    )
    out += [
        "",
        "| fuel to expect | bias, % | rms, % | inside 95 % | mean half width, % | time, bias, % | rms, % |",
        "|---|---:|---:|---:|---:|---:|---:|",
    ]
    for name, words in NAMES.items():
        off, clock = 100 * column(f"{name} fuel"), 100 * column(f"{name} time")
        out.append(
            f"| {words} | {off.mean():+.1f} | {np.sqrt((off**2).mean()):.1f} | "
            f"{100 * column(f'{name} inside').mean():.0f} | {column(f'{name} half').mean():.0f} | "
            f"{clock.mean():+.1f} | {np.sqrt((clock**2).mean()):.1f} |"
        )
    return "\n".join(out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", default="0:120", help="0:120 or 3,5,8")
    parser.add_argument("--rows", action="store_true", help="print one line per seed")
    given = parser.parse_args()
    calm_day.CACHE = CACHE
    CACHE.mkdir(exist_ok=True)
    mark = calm_day.stamp()
    rows = []
    for seed in calm_day.seeds_of(given.seeds):
        rows.append(row_of(seed, mark))
        if given.rows:
            print({key: round(value, 3) for key, value in rows[-1].items()}, flush=True)
    print(table(rows))


if __name__ == "__main__":
    main()
