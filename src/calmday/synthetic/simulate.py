"""From a scenario to a simulated drive with known truth."""

from __future__ import annotations

import datetime as dt

import msgspec
import numpy as np

from calmday.synthetic.air_truth import AirFacts, WindFacts, moist_density, random_wind, wander
from calmday.synthetic.road_truth import random_road
from calmday.synthetic.scenario import Scenario
from calmday.synthetic.streams import stream, uniform
from calmday.synthetic.truth import STEP_S, Replayer, Truth, known_truth, warm_guess
from calmday.synthetic.truth_types import (
    COOLANT,
    GEARBOX,
    OIL,
    TYRE,
    AirTruth,
    DayTruth,
    FloatArray,
    IntArray,
    RoadTruth,
    Trace,
)
from calmday.synthetic.vehicle_truth import Chosen, VehicleFacts, random_vehicle

_LAPSE = 1 / 8400


class SimulatedRun(msgspec.Struct, frozen=True, kw_only=True):
    """A drive as it truly was. Series over time from the moment the engine starts, one value per second:
    `east_m`, `north_m` from the start of the lap, `height_m`, `speed_mps`, `acceleration_mps2`,
    `engine_gear`,
    `fuel_kgps`, `distance_m`.
    """

    scenario: Scenario
    vehicle: VehicleFacts
    road: RoadTruth
    air: AirFacts
    wind: WindFacts
    start_utc: dt.datetime
    truth: Truth
    east_m: FloatArray
    north_m: FloatArray
    height_m: FloatArray
    speed_mps: FloatArray
    course_rad: FloatArray
    gear: IntArray
    fuel_kgps: FloatArray
    distance_m: FloatArray
    trace: Trace


def _traffic(seed: int, count: int, spread: float) -> FloatArray:
    """Factor on the speed the driver would like: a slow wander, and now and then a slow vehicle ahead."""
    g = stream(seed, "traffic")
    factor = 1 + spread * wander(g, count, STEP_S, uniform(g, 25, 70))
    for _ in range(int(g.poisson(count * STEP_S / 900))):
        begin = int(g.integers(0, count))
        factor[begin : begin + int(uniform(g, 30, 120) / STEP_S)] *= uniform(g, 0.72, 0.9)
    return np.clip(factor, 0.5, 1.12)


def _stops(scenario: Scenario, lap_m: float) -> tuple[FloatArray, FloatArray]:
    """Places [m] and lengths [s] of stops: engine start, junctions on the way, the end."""
    g = stream(scenario.seed, "stops")
    total = lap_m * scenario.laps
    count = int(g.poisson(scenario.stops_per_lap * scenario.laps))
    places = np.sort(g.uniform(400, total - 400, count))
    places = places[np.concatenate([[True], np.diff(places) > 300])] if count else places
    waits = g.uniform(2, 30, places.size)
    ends = np.array([uniform(g, 5, 15)]), np.array([uniform(g, 2, 6)])
    return np.concatenate([[0.0], places, [total]]), np.concatenate([ends[0], waits, ends[1]])


def _start_state(scenario: Scenario, vehicle: VehicleFacts) -> FloatArray:
    g = stream(scenario.seed, "start")
    ambient = scenario.temperature_c
    warm = warm_guess(vehicle, ambient)
    if scenario.engine_start == "cold":
        warm[[TYRE, COOLANT, OIL, GEARBOX]] = ambient + uniform(g, 0, 1.5)
        return warm
    for part in (TYRE, GEARBOX):
        warm[part] = ambient + uniform(g, 0.7, 1.0) * (warm[part] - ambient)
    warm[OIL] -= uniform(g, 0, 12)
    return warm


def chosen_vehicle(scenario: Scenario) -> Chosen:
    """What the builder of the scenario's vehicle chose."""
    return Chosen(
        body=scenario.body,
        fuel=scenario.fuel,
        injection=scenario.injection,
        induction=scenario.induction,
        litres=scenario.displacement_l,
        mass_kg=scenario.mass_kg,
    )


def _start_moment(scenario: Scenario) -> dt.datetime:
    g = stream(scenario.seed, "calendar")
    day = dt.datetime(2026, 1, 1, tzinfo=dt.UTC) + dt.timedelta(days=int(g.integers(0, 200)))
    return day + dt.timedelta(hours=uniform(g, 9, 17) - scenario.utc_offset_h)


def _cut(trace: Trace, steps: int) -> Trace:
    return Trace(
        speed=trace.speed[:steps].copy(),
        acceleration=trace.acceleration[:steps].copy(),
        gear=trace.gear[:steps].copy(),
        mode=trace.mode[:steps].copy(),
        place=trace.place[:steps].copy(),
    )


def simulate(scenario: Scenario, vehicle: VehicleFacts | None = None, road: RoadTruth | None = None) -> SimulatedRun:
    """Drive the scenario and work out the truth, with the conditions of the day and with each taken away.

    `vehicle` and `road` of one's own in place of those the scenario would draw. Raises RuntimeError where the
    vehicle cannot finish the drive.
    """
    from calmday.synthetic import kernel_drive  # noqa: PLC0415  # compiles; slow to import

    if vehicle is None:
        vehicle = random_vehicle(scenario.seed, chosen_vehicle(scenario), scenario.pressure_ratio, scenario.payload_kg)
    top = 0.9 * vehicle.top_speed_mps
    if road is None:
        road = random_road(scenario, top, vehicle.driver.braking)
    stop_at, stop_for = _stops(scenario, road.step_m * road.grade.size)
    longest = float(stop_at[-1]) / (0.3 * min(scenario.cruise_mps, top)) + float(stop_for.sum()) + 600
    count = int(longest / STEP_S)
    wind = random_wind(scenario, vehicle.height_m, count, STEP_S)
    air = AirTruth(wind.east_mps, wind.north_mps, _traffic(scenario.seed, count, scenario.traffic))
    state = AirFacts(
        temperature_c=scenario.temperature_c,
        pressure_pa=scenario.pressure_pa,
        relative_humidity=scenario.relative_humidity,
        density=moist_density(scenario.temperature_c, scenario.pressure_pa, scenario.relative_humidity),
    )
    today = DayTruth(state.density, scenario.temperature_c, scenario.temperature_c, 1.0, _LAPSE)
    begin = _start_state(scenario, vehicle)
    steps, ground, speeds, trace = kernel_drive.drive(
        vehicle.truth, vehicle.driver, today, road, air, stop_at, stop_for, begin, STEP_S
    )
    if steps >= count:
        raise RuntimeError(f"seed {scenario.seed}: the drive did not end within {longest:.0f} s")
    trace = _cut(trace, steps)
    replayer = Replayer(vehicle, road, air, trace)
    truth, flow = known_truth(scenario, replayer, today, begin, wind)
    every = np.arange(0, steps, round(1 / STEP_S))
    lap = road.step_m * road.grade.size
    place = (ground[every] % lap) / road.step_m
    nodes = np.arange(road.grade.size + 1)
    return SimulatedRun(
        scenario=scenario,
        vehicle=vehicle,
        road=road,
        air=state,
        wind=msgspec.structs.replace(
            wind, speed_10m=wind.speed_10m[:steps].copy(), from_rad=wind.from_rad[:steps].copy()
        ),
        start_utc=_start_moment(scenario),
        truth=truth,
        east_m=np.interp(place, nodes, np.append(road.east_m, road.east_m[0])),
        north_m=np.interp(place, nodes, np.append(road.north_m, road.north_m[0])),
        height_m=np.interp(place, nodes, np.append(road.height_m, road.height_m[0])) + scenario.elevation_m,
        speed_mps=speeds[every],
        course_rad=np.arctan2(road.heading_east[trace.place[every]], road.heading_north[trace.place[every]]),
        gear=trace.gear[every],
        fuel_kgps=flow[every],
        distance_m=np.concatenate([[0.0], np.cumsum(trace.speed * STEP_S)])[every],
        trace=trace,
    )
