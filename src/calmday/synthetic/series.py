"""A series of drives with one vehicle on one road, on several days, before and after something was changed."""

from __future__ import annotations

import datetime as dt
import json
import math
from pathlib import Path
from typing import Literal

import msgspec

from calmday.synthetic.air_truth import Station, moist_density
from calmday.synthetic.build_sheet import declared_terrain, full_load_csv, vehicle_toml
from calmday.synthetic.folder import fuel_lines, weather_lines
from calmday.synthetic.receiver import random_receiver, record
from calmday.synthetic.scenario import Scenario, random_scenario
from calmday.synthetic.simulate import SimulatedRun, simulate
from calmday.synthetic.streams import normal, stream, uniform
from calmday.synthetic.track_files import FILE_NAMES, track_text
from calmday.synthetic.truth import CALM_HUMIDITY, CALM_PRESSURE_PA, CALM_TEMPERATURE_C, Replayer, warm_guess
from calmday.synthetic.truth_types import AirTruth, DayTruth
from calmday.synthetic.vehicle_truth import VehicleFacts
from calmday.synthetic.weighing import random_scale, weigh_on

ChangedPart = Literal["engine", "drag", "rolling"]
_OF_A_DAY = frozenset(
    "seed pressure_ratio wind_speed_10m_mps wind_from_deg temperature_c pressure_pa relative_humidity".split()  # noqa: SIM905
)
_DAY_SPREAD_C = 4.0


class Series(msgspec.Struct, frozen=True, kw_only=True):
    """Drives in the order driven; `changed[i]` whether drive i was made after the change.

    `true_change` of the calm-day fuel, as ln(after / before), mean over the drives of all days: each trace driven again
    by the vehicle before and after, on the calm day.
    """

    runs: tuple[SimulatedRun, ...]
    changed: tuple[bool, ...]
    true_change: float
    before: VehicleFacts
    part: ChangedPart


def _day_scenario(base: Scenario, day: int, middle_c: float) -> Scenario:
    """The base scenario with the weather and the tyre pressure of another day."""
    seed = 1000 * (base.seed + 1) + day
    drawn = random_scenario(seed, body=base.body)
    g = stream(seed, "day of a series")
    own = {
        "pressure_ratio": normal(g, base.pressure_ratio, 0.015),
        "temperature_c": middle_c + normal(g, 0, _DAY_SPREAD_C),
        "wind_speed_10m_mps": drawn.wind_speed_10m_mps,
        "wind_from_deg": drawn.wind_from_deg,
        "pressure_pa": base.pressure_pa * normal(g, 1, 0.008),
        "relative_humidity": drawn.relative_humidity,
    }
    return msgspec.structs.replace(base, seed=seed, **own)


def altered(vehicle: VehicleFacts, part: ChangedPart, factor: float) -> VehicleFacts:
    """The vehicle with its fuel for the same work, its drag area or its rolling resistance times `factor`."""
    truth = vehicle.truth
    if part == "engine":
        truth = truth._replace(indicated_efficiency=truth.indicated_efficiency / factor)
    elif part == "drag":
        truth = truth._replace(drag_area_m2=truth.drag_area_m2 * factor)
    else:
        truth = truth._replace(rolling=truth.rolling * factor)
    return msgspec.structs.replace(vehicle, truth=truth)


def calm_fuel_kg(run: SimulatedRun, vehicle: VehicleFacts) -> float:
    """Fuel of a drive's own trace on the calm day with any vehicle, at today's tyre pressure."""
    from calmday.synthetic.kernel_drive import replay  # noqa: F401, PLC0415  (compiles; slow to import)

    truth = vehicle.truth._replace(pressure_ratio=run.vehicle.truth.pressure_ratio)
    own = msgspec.structs.replace(vehicle, truth=truth)
    air = AirTruth(run.wind.east_mps, run.wind.north_mps, run.wind.east_mps)
    replayer = Replayer(own, run.road, air, run.trace)
    density = moist_density(CALM_TEMPERATURE_C, CALM_PRESSURE_PA, CALM_HUMIDITY)
    calm = DayTruth(density, CALM_TEMPERATURE_C, CALM_TEMPERATURE_C, 0.0, 0.0)
    return replayer.fuel(calm, replayer.settled(calm, warm_guess(own, CALM_TEMPERATURE_C)))


def _factor_for(run: SimulatedRun, vehicle: VehicleFacts, part: ChangedPart, wanted: float) -> float:
    """The factor that changes the calm-day fuel of a drive by about `wanted` (ln): three secant steps."""
    base = math.log(calm_fuel_kg(run, vehicle))
    log_factor = wanted / {"engine": 1.0, "drag": 0.35, "rolling": 0.25}[part]
    for _ in range(3):
        found = math.log(calm_fuel_kg(run, altered(vehicle, part, math.exp(log_factor)))) - base
        log_factor *= wanted / found
    return math.exp(log_factor)


def simulate_series(
    seed: int, changed: tuple[bool, ...], change: float, part: ChangedPart = "engine", **overrides: object
) -> Series:
    """Drives on as many days as `changed` is long, with the same vehicle, road, driver and habits.

    `change` ln of fuel after over before, 0 for none. `overrides` as for `random_scenario`.
    """
    base = random_scenario(seed, **overrides)
    middle_c = uniform(stream(seed, "season"), 2.0, 24.0)
    first = simulate(base)
    before, road = first.vehicle, first.road
    after = before
    if change:
        after = altered(before, part, _factor_for(first, before, part, change))
    runs = []
    for day, is_changed in enumerate(changed):
        scenario = _day_scenario(base, day, middle_c)
        vehicle = after if is_changed else before
        truth = vehicle.truth._replace(pressure_ratio=scenario.pressure_ratio)
        runs.append(simulate(scenario, msgspec.structs.replace(vehicle, truth=truth), road))
    found = [math.log(calm_fuel_kg(run, after) / calm_fuel_kg(run, before)) for run in runs] if change else [0.0]
    return Series(runs=tuple(runs), changed=changed, true_change=sum(found) / len(found), before=before, part=part)


def _station(base: int, run: SimulatedRun) -> Station:
    """The same station on every day: half the variance of its difference to the road stays, half is the day's."""
    place, day = stream(base, "station"), stream(run.scenario.seed, "station")
    scenario = run.scenario
    elevation = max(round(scenario.elevation_m + uniform(place, -60, 60)), 0)
    kelvin = 288.15 - 0.0065 * scenario.elevation_m
    half = math.sqrt(0.5)
    return Station(
        wind_factor=math.exp(0.15 * half * (normal(place, 0, 1) + normal(day, 0, 1))),
        direction_offset_deg=12 * half * (normal(place, 0, 1) + normal(day, 0, 1)),
        temperature_offset=normal(day, 0, 0.7),
        field_elevation_m=elevation,
        qnh_hpa=scenario.pressure_pa / 100 * (288.15 / kelvin) ** 5.2559 + normal(day, 0, 0.4),
    )


def write_series(series: Series, folder: str | Path) -> Path:
    """Write the files of every drive and a comparison.toml that names them; gives its path. truth.json is beside it."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    first = series.runs[0]
    base = first.scenario.seed // 1000 - 1
    scale = random_scale(base, 1.5 + 3.5 + max(run.truth.fuel_burnt_kg for run in series.runs))
    sheet = msgspec.structs.replace(
        first, vehicle=series.before, scenario=msgspec.structs.replace(first.scenario, seed=base)
    )
    (folder / "vehicle.toml").write_text(vehicle_toml(sheet, f"Invented {first.scenario.body} {base}"))
    (folder / "full_load.csv").write_text(full_load_csv(sheet))
    names: tuple[list[str], list[str]] = ([], [])
    begin = dt.date(2026, 2, 1)
    for number, (run, is_changed) in enumerate(zip(series.runs, series.changed, strict=True), start=1):
        day = begin + dt.timedelta(days=3 * number)
        moved = msgspec.structs.replace(
            run, start_utc=run.start_utc.replace(year=day.year, month=day.month, day=day.day)
        )
        g = stream(run.scenario.seed, "can")
        weighed = weigh_on(moved, scale, tare_kg=1.2, left_kg=uniform(g, 1.0, 3.0), repeats=2)
        track = FILE_NAMES[run.scenario.track_format].replace("track", f"track_{number}")
        if track == FILE_NAMES[run.scenario.track_format]:
            track = f"{number}_{track}"
        fixes = record(moved, random_receiver(base))
        (folder / track).write_text(track_text(fixes, run.scenario.track_format, f"Day {number}"), newline="")
        same = msgspec.structs.replace(moved, scenario=msgspec.structs.replace(run.scenario, seed=base))
        (folder / f"run_{number}.toml").write_text(_run_text(moved, same, weighed, track, base))
        names[is_changed].append(f'"run_{number}.toml"')
    path = folder / "comparison.toml"
    path.write_text(
        f'label = "Invented series {base}"\nbaseline = [{", ".join(names[0])}]\nchanged = [{", ".join(names[1])}]\n'
    )
    known = {
        "change": series.true_change,
        "part": series.part,
        "runs": [
            {
                "file": f"run_{number}.toml",
                "as_driven_g_per_km": 1e6 * run.truth.fuel_burnt_kg / run.truth.distance_m,
                "calm_day_g_per_km": 1e6 * run.truth.calm_fuel_kg / run.truth.distance_m,
                "wind_10m_mps": run.truth.mean_wind_10m_mps,
                "penalties": run.truth.penalties_percent,
            }
            for number, run in enumerate(series.runs, start=1)
        ],
    }
    (folder / "truth.json").write_text(json.dumps(known, indent=1) + "\n")
    return path


def _run_text(run: SimulatedRun, same: SimulatedRun, weighed: object, track: str, base: int) -> str:
    """run.toml of one day: habits of the owner from `same`, weather and tyre pressure of the day from `run`."""
    scenario = run.scenario
    offset = scenario.utc_offset_h
    local = run.start_utc + dt.timedelta(hours=offset)
    g = stream(scenario.seed, "run lines")
    pressure = run.vehicle.usual_pressure_kpa * scenario.pressure_ratio * normal(g, 1, 0.02)
    lines = [
        'vehicle = "vehicle.toml"',
        f"date = {local:%Y-%m-%d}",
        f'timezone = "{"+" if offset >= 0 else "-"}{abs(int(offset)):02d}:00"',
        f'track = ["{track}"]',
        f'engine_start = "{scenario.engine_start}"',
        f'tyre_pressure = "{pressure:.0f} kPa"',
    ]
    if scenario.payload_kg:
        lines.append(f'payload = "{scenario.payload_kg:.0f} kg"')
    terrain = declared_terrain(same)
    if terrain:
        lines.append(f'terrain = "{terrain}"')
    return "\n".join([*lines, *fuel_lines(same, weighed), *weather_lines(run, _station(base, run)), ""])  # type: ignore[arg-type]
