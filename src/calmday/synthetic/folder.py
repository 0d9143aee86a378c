"""A simulated run as a folder of plain files, as a tester would keep it, with the truth beside it."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import msgspec

from calmday.synthetic.air_truth import Station, metar_lines, random_station
from calmday.synthetic.build_sheet import declared_density, declared_terrain, full_load_csv, vehicle_toml
from calmday.synthetic.receiver import random_receiver, record
from calmday.synthetic.simulate import SimulatedRun
from calmday.synthetic.streams import chance, normal, stream, uniform
from calmday.synthetic.track_files import FILE_NAMES, track_text
from calmday.synthetic.weighing import WeighedFuel, weigh


def fuel_lines(run: SimulatedRun, weighed: WeighedFuel) -> list[str]:
    """Fuel, fuel system, scale and weighings as lines of run.toml."""
    g = stream(run.scenario.seed, "fuel lines")
    lines = ["[fuel]", f'kind = "{run.scenario.fuel}"']
    density = declared_density(run)
    if density is not None:
        lines += [f'density = "{density} kg/m^3"', 'density_temperature = "15 degC"']
    lines += ["[fuel_system]", f'arrangement = "{g.choice(["test can", "drained tank"])}"']
    if chance(g, 0.6):
        lines.append('repeatability = "12 g"')
    scale = weighed.scale
    lines += ["[scale]", f'resolution = "{scale.resolution_kg * 1e3:.0f} g"']
    if chance(g, 0.6):
        lines.append(f'repeatability = "{scale.repeatability_kg * 1e3:.1f} g"')
    if chance(g, 0.75):
        lines.append(f'accuracy = "{scale.stated_accuracy * 100:g} %"')
    lines.append(f'capacity = "{scale.capacity_kg:.0f} kg"')
    for part in weighed.parts:
        gross = ", ".join(f'"{value:.3f} kg"' for value in part.gross_kg)
        lines += [
            "[[weighing]]",
            f'when = "{part.when}"',
            f"gross = [{gross}]",
            f'tare = "{part.tare_kg:.3f} kg"',
        ]
    return lines


def weather_lines(run: SimulatedRun, station: Station | None = None) -> list[str]:
    """What a tester noted of the weather, as lines of run.toml; from a station drawn at random where none is given."""
    seed, scenario = run.scenario.seed, run.scenario
    g = stream(seed, "weather lines")
    if station is None:
        station = random_station(seed, scenario.pressure_pa, scenario.elevation_m)
    reports = metar_lines(seed, station, run.air, run.wind, start=run.start_utc, in_inches=chance(g, 0.15))
    quoted = ", ".join(f'"{line}"' for line in reports)
    lines = ["[weather]", f"metar = [{quoted}]"]
    if chance(g, 0.9):
        lines.append(f'field_elevation = "{station.field_elevation_m:.0f} m"')
    if chance(g, 0.12):
        lines += _roadside(run, uniform(g, 0.2, 0.8))
    return lines


def _roadside(run: SimulatedRun, part: float) -> list[str]:
    """A hand-held reading at 2 m beside the road: two minutes' mean, so the gusts are in it."""
    g = stream(run.scenario.seed, "roadside")
    wind, air = run.wind, run.air
    index = int(part * (wind.speed_10m.size - 1))
    speed = max(wind.speed_10m[index] * wind.height_ratio * 1.08 * normal(g, 1, 0.12) + normal(g, 0, 0.3), 0.0)
    come_from = (wind.from_rad[index] * 57.29578 + normal(g, 0, 12)) % 360
    local = run.start_utc + dt.timedelta(seconds=index * wind.step_s, hours=run.scenario.utc_offset_h)
    return [
        "[[weather.reading]]",
        f"time = {local:%Y-%m-%dT%H:%M:%S}",
        f'wind_speed = "{speed:.1f} m/s"',
        f'wind_from = "{round(come_from / 10) * 10 % 360} deg"',
        'height = "2 m"',
        f'temperature = "{air.temperature_c + normal(g, 0, 0.5):.1f} degC"',
        f'pressure = "{air.pressure_pa / 100 + normal(g, 0, 0.7):.1f} hPa"',
    ]


def run_toml(run: SimulatedRun, weighed: WeighedFuel, track_name: str) -> str:
    """Text of run.toml."""
    scenario = run.scenario
    g = stream(scenario.seed, "run lines")
    offset = scenario.utc_offset_h
    local = run.start_utc + dt.timedelta(hours=offset)
    head = [
        'vehicle = "vehicle.toml"',
        f'label = "Seed {scenario.seed}: {scenario.route_kind}, {scenario.laps} laps"',
        f"date = {local:%Y-%m-%d}",
        f'timezone = "{"+" if offset >= 0 else "-"}{abs(int(offset)):02d}:00"',
        f'track = ["{track_name}"]',
        f'engine_start = "{scenario.engine_start}"',
    ]
    if scenario.payload_kg:
        head.append(f'payload = "{scenario.payload_kg + normal(g, 0, 2):.0f} kg"')
    pressure = run.vehicle.usual_pressure_kpa * scenario.pressure_ratio * normal(g, 1, 0.02)
    if chance(g, 0.8):
        head.append(f'tyre_pressure = "{pressure:.0f} kPa"')
    terrain = declared_terrain(run)
    if terrain:
        head.append(f'terrain = "{terrain}"')
    return "\n".join([*head, *fuel_lines(run, weighed), *weather_lines(run), ""])


def result_truth(run: SimulatedRun) -> dict[str, object]:
    """The truth under the names and in the units of a result, so that the two can be laid side by side."""
    truth, density = run.truth, run.vehicle.density_15

    def consumption(fuel_kg: float) -> dict[str, float]:
        per_metre = fuel_kg / truth.distance_m
        litres = per_metre / density * 1e8
        return {
            "L_per_100km": litres,
            "mpg_us": 100 * 3.785411784 / (litres * 1.609344),
            "mpg_imp": 100 * 4.54609 / (litres * 1.609344),
            "g_per_km": per_metre * 1e6,
        }

    return {
        "distance": truth.distance_m / 1e3,
        "fuel_mass": truth.fuel_burnt_kg,
        "fuel_density_15C": density,
        "as_driven": consumption(truth.fuel_burnt_kg),
        "calm_day": consumption(truth.calm_fuel_kg),
        "penalties": truth.penalties_percent,
        "estimates": {"drag_area": run.vehicle.truth.drag_area_m2, "test_mass": run.vehicle.truth.mass_kg},
    }


def truth_json(run: SimulatedRun, weighed: WeighedFuel) -> str:
    """The truth as JSON: in the names of a result, then the scenario, energies and the true vehicle."""
    vehicle = {
        key: value if isinstance(value, bool | float | int) else [float(x) for x in value]
        for key, value in run.vehicle.truth._asdict().items()
    }
    content = {
        **result_truth(run),
        "invented": {
            "scenario": msgspec.to_builtins(run.scenario),
            "truth": msgspec.to_builtins(run.truth),
            "air": msgspec.to_builtins(run.air),
            "weighing": {"hidden_kg": weighed.hidden_kg, "span_error": weighed.scale.span_error},
            "vehicle": vehicle,
        },
    }
    return json.dumps(content, indent=1) + "\n"


def write_folder(run: SimulatedRun, folder: str | Path) -> Path:
    """Write run.toml, vehicle.toml, full_load.csv, the track and truth.json; gives the path of run.toml."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    weighed = weigh(run)
    name = FILE_NAMES[run.scenario.track_format]
    track = record(run, random_receiver(run.scenario.seed))
    files = {
        name: track_text(track, run.scenario.track_format, f"Seed {run.scenario.seed}"),
        "vehicle.toml": vehicle_toml(run, f"Invented {run.scenario.body} {run.scenario.seed}"),
        "full_load.csv": full_load_csv(run),
        "truth.json": truth_json(run, weighed),
        "run.toml": run_toml(run, weighed, name),
    }
    for file, text in files.items():
        (folder / file).write_text(text, encoding="utf-8", newline="")
    return folder / "run.toml"
