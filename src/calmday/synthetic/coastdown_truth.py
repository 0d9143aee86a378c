"""Invented coastdowns with known truth: gusts, a road that waves, yaw, warming tyres, a thinning oil, a receiver.

Forces are those of `kernel_physics`, written from text books apart from the model that is judged by them.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import Final

import msgspec
import numpy as np

from calmday.files.tyre_code import parse_tyre
from calmday.records.coastdown import CoastdownDay, CoastdownPass
from calmday.records.declared import Declared
from calmday.records.track import Track
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Terrain, Weather, WeatherReading
from calmday.synthetic.air_truth import ROUGHNESS_M, moist_density, wander
from calmday.synthetic.receiver import to_geodetic
from calmday.synthetic.scenario import random_scenario
from calmday.synthetic.simulate import chosen_vehicle
from calmday.synthetic.streams import chance, lognormal, normal, stream, uniform
from calmday.synthetic.truth_types import DayTruth, FloatArray
from calmday.synthetic.vehicle_truth import VehicleFacts, random_vehicle

STEP_S: Final = 0.1
ROAD_STEP_M: Final = 5.0
BETWEEN_S: Final = 240.0
START: Final = dt.datetime(2026, 5, 16, 9, 30, tzinfo=dt.UTC)
_G: Final = 9.80665
_LATITUDE, _LONGITUDE = 52.4, 1.1


class CoastdownTruth(msgspec.Struct, frozen=True, kw_only=True):
    """What is really so. `rolling` the coefficient at 70 km/h and 20 degC, tyres warm at the usual pressure, without
    bearings and driveline; `not_air_70_n` tyres and driveline in neutral at 70 km/h; `road_load_n` force at
    `road_load_kmph` on the calm standard day, all of it; wind at 10 m.
    """

    drag_area_m2: float
    rolling: float
    not_air_70_n: float
    road_load_n: tuple[float, ...]
    road_load_kmph: tuple[float, ...]
    mass_kg: float
    wind_10m_mps: float
    wind_along_mps: float
    grade: float
    facts: VehicleFacts


class _Air(msgspec.Struct, frozen=True, kw_only=True):
    """Wind in time at vehicle height, the way it moves TO, and at 10 m for the reports."""

    east: FloatArray
    north: FloatArray
    speed_10m: FloatArray
    from_rad: FloatArray


class _Neutral(msgspec.Struct, frozen=True, kw_only=True):
    """What is left turning in neutral: force at rest and its growth per m/s, equivalent mass."""

    drag_n: float
    growth: float
    rotating_kg: float


def invented_coastdown(
    seed: int,
    passes: int = 8,
    wind_10m_mps: float | None = None,
    positions: bool | None = None,
    waves: bool = True,
    vehicle: VehicleFacts | None = None,
    further_m: float = 0.0,
) -> tuple[CoastdownTruth, CoastdownDay]:
    """A vehicle, a day and its passes drawn from `seed`, and what its builder wrote down.

    `wind_10m_mps` up to 5 m/s where not given; `positions` whether the recordings hold them, either where not given;
    `waves` false for a road of one slope throughout; `vehicle` one of your own; `further_m` how much further along each
    pair of passes begins than the one before.
    """
    g = stream(seed, "coastdown")
    scenario = random_scenario(seed, payload_kg=0.0)
    facts = vehicle or random_vehicle(seed, chosen_vehicle(scenario), scenario.pressure_ratio, 0.0)
    wind = uniform(g, 0, 5) if wind_10m_mps is None else wind_10m_mps
    terrain: Terrain = str(g.choice(["open", "farmland", "hedged"], p=[0.5, 0.35, 0.15]))  # type: ignore[assignment]
    temperature, humidity = uniform(g, 4, 28), uniform(g, 0.35, 0.9)
    pressure = normal(g, 100_500, 900)
    density = moist_density(temperature, pressure, humidity)
    day = DayTruth(density, temperature, temperature, 1.0, 0.0)
    count = int(passes * (BETWEEN_S + 200) / STEP_S)
    air = _wind(g, wind, terrain, facts.height_m, count)
    heading = uniform(g, 0, 2 * math.pi)
    grade, shape = _road(g)
    shape = shape if waves else np.zeros_like(shape)
    neutral = _Neutral(
        drag_n=facts.truth.spin_torque * facts.final_drive / facts.truth.wheel_radius_m * uniform(g, 0.25, 0.6),
        growth=uniform(g, 0.01, 0.05),
        rotating_kg=facts.chosen.mass_kg * uniform(g, 0.026, 0.042),
    )
    with_places = chance(g, 0.6) if positions is None else positions
    top, bottom = uniform(g, 85, 105) / 3.6, uniform(g, 15, 35) / 3.6
    split = chance(g, 0.25)
    tyre_c = temperature + (facts.truth.tyre_warm_c - 20) * uniform(g, 0.9, 1.0)
    noise, rate = uniform(g, 0.04, 0.15), float(g.choice([1.0, 1.0, 2.0, 5.0]))
    found, at = [], 0
    for number in range(passes):
        way = 1 if number % 2 == 0 else -1
        start = top * normal(g, 1.0, 0.02)
        stop = bottom
        if split:
            middle = 0.5 * (top + bottom)
            start, stop = (start, middle) if number % 4 < 2 else (middle * 1.03, bottom)
        begin = 1200.0 - further_m * (number // 2)
        where = (at, heading, way, begin)
        trace, tyre_c = _roll(facts, day, neutral, air, where, (grade, shape), (start, stop), tyre_c)
        found.append(_recorded(g, trace, (at, heading, way), (noise, rate), (with_places, grade, shape)))
        at += int((BETWEEN_S + uniform(g, -60, 60)) / STEP_S) + trace[0].size
        tyre_c = temperature + (facts.truth.tyre_warm_c - 20) * uniform(g, 0.9, 1.0)
    truth = _truth(facts, neutral, wind, air, heading, grade)
    return truth, CoastdownDay(
        label=f"seed {seed}", vehicle=_sheet(g, facts, truth), passes=tuple(found), date=START.date(),
        tyre_pressure_pa=Declared(facts.usual_pressure_kpa * 1e3 * facts.truth.pressure_ratio),
        warm_up_s=1500.0 if chance(g, 0.5) else None, terrain=terrain,
        weather=_weather(g, air, (temperature, pressure, humidity), at),
    )  # fmt: skip


def _wind(g: np.random.Generator, speed_10m: float, terrain: Terrain, height_m: float, count: int) -> _Air:
    seconds = np.arange(count) * STEP_S
    slow = np.exp(0.08 * wander(g, count, STEP_S, 900.0)) * np.clip(1 + normal(g, 0, 0.15) * seconds / 3600, 0.4, 2)
    speed = speed_10m * slow
    turn = math.radians(normal(g, 0, 10)) * seconds / 3600 + math.radians(5) * wander(g, count, STEP_S, 600.0)
    come_from = uniform(g, 0, 2 * math.pi) + turn
    rough = min(ROUGHNESS_M[terrain] * lognormal(g, 1.0, 0.3), 1.2)
    ratio = max(math.log(max(0.6 * height_m, 1.3 * rough) / rough) / math.log(10 / rough), 0.12)
    sigma = uniform(g, 0.85, 1.05) * speed / math.log(10 / rough)
    memory = uniform(g, 3, 12)
    along = speed * ratio + sigma * wander(g, count, STEP_S, memory)
    across = 0.8 * sigma * wander(g, count, STEP_S, memory)
    to_east, to_north = -np.sin(come_from), -np.cos(come_from)
    return _Air(
        east=along * to_east + across * to_north, north=along * to_north - across * to_east, speed_10m=speed,
        from_rad=come_from,
    )  # fmt: skip


def _road(g: np.random.Generator) -> tuple[float, FloatArray]:
    """Mean grade the first way, and its waves over the places of the road."""
    waves = wander(g, 1200, ROAD_STEP_M, uniform(g, 60, 250)) * uniform(g, 0.0003, 0.003)
    smooth = np.convolve(waves, np.full(9, 1 / 9), mode="same")
    return uniform(g, -0.006, 0.006), smooth


def _roll(
    facts: VehicleFacts,
    day: DayTruth,
    neutral: _Neutral,
    air: _Air,
    where: tuple[int, float, int, float],
    road: tuple[float, FloatArray],
    between: tuple[float, float],
    tyre_c: float,
) -> tuple[tuple[FloatArray, FloatArray], float]:
    """Speed and place along the road every STEP_S of one pass, and the tyre's temperature at its end. `where`: first
    sample of the air, heading of the road, way, how far before the middle of the road the pass begins [m]."""
    from calmday.synthetic.kernel_physics import air_force, rolling_force  # noqa: PLC0415  # compiles

    truth, (at, heading, way, before_m), (grade, waves) = facts.truth, where, road
    sin, cos = math.sin(heading) * way, math.cos(heading) * way
    middle = 0.5 * waves.size * ROAD_STEP_M
    place, speed = middle - way * before_m, between[0]
    speeds, places = [speed], [place]
    index = at
    inertia = truth.mass_kg + neutral.rotating_kg
    while speed > between[1] and len(speeds) < 3000 and index < air.east.size:
        e, n = float(air.east[index]), float(air.north[index])
        slope = way * (grade + float(waves[int(np.clip(place / ROAD_STEP_M, 0, waves.size - 1))]))
        force = air_force(truth, speed, e * sin + n * cos, e * cos - n * sin, day.density)
        rolling = rolling_force(truth, speed, slope, tyre_c)
        force += rolling + truth.mass_kg * _G * slope + neutral.drag_n * (1 + neutral.growth * speed)
        heat = rolling * speed - truth.tyre_cooling * (tyre_c - day.tyre_air_c)
        tyre_c += STEP_S * heat / truth.tyre_capacity
        fresh = speed - STEP_S * force / inertia
        place += way * STEP_S * 0.5 * (speed + fresh)
        speed = fresh
        speeds.append(speed)
        places.append(place)
        index += 1
    return (np.array(speeds), np.array(places)), tyre_c


def _recorded(
    g: np.random.Generator,
    trace: tuple[FloatArray, FloatArray],
    where: tuple[int, float, int],
    receiver: tuple[float, float],
    road: tuple[bool, float, FloatArray],
) -> CoastdownPass:
    """What a receiver keeps of a pass, with its own speed; with positions and heights, or alone with a heading."""
    (speeds, places), (at, heading, way), (noise, rate) = trace, where, receiver
    with_places, grade, waves = road
    seconds = np.arange(0.0, (speeds.size - 1) * STEP_S, 1 / rate)
    grid = np.arange(speeds.size) * STEP_S
    seen = np.round(np.interp(seconds, grid, speeds) + noise * g.standard_normal(seconds.size), 2)
    none = np.full(seconds.size, np.nan)
    latitude, longitude, height = none, none, none
    if with_places:
        along = np.interp(seconds, grid, places)
        drift = [1.5 * wander(g, seconds.size, 1 / rate, 60.0) for _ in range(2)]
        east, north = along * math.sin(heading) + drift[0], along * math.cos(heading) + drift[1]
        latitude, longitude = to_geodetic(east, north, np.zeros(east.size), _LATITUDE, _LONGITUDE)
        profile = np.concatenate([[0.0], np.cumsum((grade + waves) * ROAD_STEP_M)])
        height = 40.0 + np.interp(along, np.arange(profile.size) * ROAD_STEP_M, profile) + normal(g, 0, 5)
        height = height + uniform(g, 1.0, 3.0) * wander(g, seconds.size, 1 / rate, uniform(g, 60, 300))
        height = np.round(height + 0.3 * g.standard_normal(seconds.size), 1)
    clock = START.timestamp() + at * STEP_S + seconds if with_places else seconds
    told = None if with_places else (math.degrees(heading) + (0 if way > 0 else 180) + normal(g, 0, 3)) % 360
    track = Track(
        time_s=clock, latitude_deg=latitude, longitude_deg=longitude, height_m=height, speed_mps=seen, course_deg=none,
        hdop=none, segment=np.zeros(seconds.size, np.int64),
    )  # fmt: skip
    return CoastdownPass(track=track, heading_deg=told)


def _truth(
    facts: VehicleFacts, neutral: _Neutral, wind: float, air: _Air, heading: float, grade: float
) -> CoastdownTruth:
    from calmday.synthetic.kernel_physics import air_force, rolling_force  # noqa: PLC0415  # compiles

    usual = facts.truth._replace(pressure_ratio=1.0)
    warm = usual.tyre_warm_c
    v70 = 70 / 3.6
    density = moist_density(20.0, 100_000.0, 0.5)
    speeds = (40.0, 60.0, 80.0, 100.0)
    load = tuple(
        rolling_force(usual, v / 3.6, 0.0, warm)
        + air_force(usual, v / 3.6, 0.0, 0.0, density)
        + neutral.drag_n * (1 + neutral.growth * v / 3.6)
        for v in speeds
    )
    tyres = rolling_force(usual, v70, 0.0, warm)
    along = air.east * math.sin(heading) + air.north * math.cos(heading)
    return CoastdownTruth(
        drag_area_m2=usual.drag_area_m2, rolling=tyres / (usual.mass_kg * _G),
        not_air_70_n=tyres + neutral.drag_n * (1 + neutral.growth * v70),
        road_load_n=load, road_load_kmph=speeds, mass_kg=usual.mass_kg, wind_10m_mps=wind,
        wind_along_mps=float(-along.mean()), grade=grade, facts=facts,
    )  # fmt: skip


def _sheet(g: np.random.Generator, facts: VehicleFacts, truth: CoastdownTruth) -> Vehicle:
    """The build sheet: mostly right, never exactly; drag coefficient stated by half of the builders."""
    stated = chance(g, 0.5)
    return Vehicle(
        name="Invented", body=facts.chosen.body,
        test_mass_kg=Declared(truth.mass_kg * normal(g, 1, 0.005, 2), 0.01 * truth.mass_kg),
        frontal_area_m2=Declared(facts.area_m2 * normal(g, 1, 0.03, 2)),
        drag_coefficient=Declared(facts.drag_coefficient * normal(g, 1, 0.08, 2.5)) if stated else None,
        height_m=Declared(facts.height_m), tyre=parse_tyre(facts.tyre),
        tyre_pressure_pa=Declared(facts.usual_pressure_kpa * 1e3),
    )  # fmt: skip


def _weather(g: np.random.Generator, air: _Air, state: tuple[float, float, float], steps: int) -> Weather:
    """Two readings with a hand-held meter at 2 m in the open, or a mast's reports, before and after."""
    temperature, pressure, humidity = state
    roadside = chance(g, 0.6)
    factor = lognormal(g, 0.62, 0.15) if roadside else lognormal(g, 1.0, 0.15)
    turn = normal(g, 0, 8 if roadside else 12)
    readings = []
    for index in (0, min(steps, air.speed_10m.size - 1)):
        speed = max(float(air.speed_10m[index]) * factor + normal(g, 0, 0.3), 0.0)
        readings.append(
            WeatherReading(
                time_s=START.timestamp() + index * STEP_S, source="roadside" if roadside else "metar",
                wind_speed_mps=round(speed, 1),
                wind_from_deg=(math.degrees(float(air.from_rad[index])) + turn) % 360,
                height_m=2.0 if roadside else 10.0, temperature_k=temperature + 273.15 + normal(g, 0, 0.6),
                pressure_pa=pressure, relative_humidity=humidity,
            )
        )  # fmt: skip
    return Weather(readings=tuple(readings))
