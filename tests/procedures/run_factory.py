"""One weighed drive in memory, made from plain numbers, for tests of the procedures."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import msgspec
import numpy as np

from calmday.procedures.weighed_run import WeighedRun, reduce_weighed_run
from calmday.records.declared import Declared
from calmday.records.run import FuelBatch, FuelSystem, Run, Scale, Weighing
from calmday.records.track import Track
from calmday.records.vehicle import Engine, FullLoadCurve, TyreSize, Vehicle
from calmday.records.weather import Weather, WeatherReading

NOON_S = dt.datetime(2026, 4, 12, 10, 0, tzinfo=dt.UTC).timestamp()
RPM = 1 / 60

CURVE = FullLoadCurve(
    tuple(rpm * RPM for rpm in (800, 1200, 2000, 3000, 4000, 4600)), (105.0, 121.0, 139.0, 134.0, 112.0, 90.0)
)
VAN = Vehicle(
    name="Fen Hauler",
    body="van",
    test_mass_kg=Declared(1480.0),
    frontal_area_m2=Declared(2.9),
    drag_coefficient=Declared(0.44),
    rolling_resistance=Declared(0.0125),
    tyre=TyreSize("195/75 R16", 0.195, 0.75, 0.4064, True),
    tyre_pressure_pa=Declared(300e3),
    gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
    final_drive=4.1,
    driveline_efficiency=Declared(0.93),
    engine=Engine(
        displacement_m3=Declared(2.1e-3),
        cylinders=4,
        fuel="diesel",
        induction="natural",
        injection="indirect",
        idle_speed_rps=Declared(800 * RPM),
        governed_speed_rps=Declared(4600 * RPM),
        full_load=CURVE,
        overrun_fuel_cut=True,
    ),
)


def changed(record: Any, **fields: Any) -> Any:
    return msgspec.structs.replace(record, **fields)


def metre_per_degree(latitude_deg: float) -> tuple[float, float]:
    """North and east, WGS-84."""
    a, f = 6_378_137.0, 1 / 298.257223563
    e2 = f * (2 - f)
    root = 1 - e2 * math.sin(math.radians(latitude_deg)) ** 2
    north = math.radians(1) * a * (1 - e2) / root**1.5
    return north, math.radians(1) * a / math.sqrt(root) * math.cos(math.radians(latitude_deg))


def round_track(
    laps: int = 3,
    lap_m: float = 7000.0,
    speed_mps: float = 70 / 3.6,
    start_s: float = NOON_S,
    climb_m: float = 5.0,
    parked_s: int = 10,
) -> Track:
    """A circle driven at one speed, from rest to rest, fixes every second without any noise, Doppler speed included."""
    ramp = 0.8
    total = laps * lap_m
    ramp_s, ramp_m = speed_mps / ramp, speed_mps**2 / ramp / 2
    cruise_s = (total - 2 * ramp_m) / speed_mps
    end = 2 * ramp_s + cruise_s
    t = np.arange(0.0, math.ceil(end) + 2 * parked_s + 1)
    tau = np.clip(t - parked_s, 0.0, end)
    up, down = np.minimum(tau, ramp_s), np.maximum(tau - ramp_s - cruise_s, 0.0)
    level = np.clip(tau - ramp_s, 0.0, cruise_s)
    way = ramp * up**2 / 2 + speed_mps * level + speed_mps * down - ramp * down**2 / 2
    speed = ramp * up - ramp * down
    radius = lap_m / (2 * math.pi)
    angle = way / radius
    north_m, east_m = metre_per_degree(52.0)
    heading = np.degrees(angle) % 360
    return Track(
        time_s=start_s + t,
        latitude_deg=52.0 + radius * np.sin(angle) / north_m,
        longitude_deg=1.0 + radius * (1 - np.cos(angle)) / east_m,
        height_m=20.0 + climb_m * np.sin(angle),
        speed_mps=speed,
        course_deg=heading,
        hdop=np.full(t.size, 0.9),
        segment=np.zeros(t.size, dtype=np.int64),
        files=("out.gpx",),
    )


def reading(hours: float = 0.3, **fields: Any) -> WeatherReading:
    given = {
        "time_s": NOON_S + 3600 * hours,
        "source": "metar",
        "wind_speed_mps": 3.0,
        "wind_from_deg": 250.0,
        "temperature_k": 285.15,
        "qnh_pa": 101_700.0,
        "relative_humidity": 0.6,
    }
    return WeatherReading(**(given | fields))


def weighings(fuel_kg: float, gross_kg: float = 9.0, tare_kg: float = 1.02) -> tuple[Weighing, ...]:
    return (
        Weighing(when="before", gross_kg=(gross_kg, gross_kg + 0.005), tare_kg=tare_kg),
        Weighing(when="after", gross_kg=(gross_kg - fuel_kg, gross_kg - fuel_kg + 0.005), tare_kg=tare_kg),
    )


def run_of(fuel_kg: float = 1.23, **fields: Any) -> Run:
    """Three laps of 7 km at 70 km/h in a light wind, warm; the fuel is about what the van should take."""
    given: dict[str, Any] = {
        "label": "Fen loop",
        "vehicle": VAN,
        "date": dt.date(2026, 4, 12),
        "utc_offset_s": 7200.0,
        "track": None,
        "engine_start": "warm",
        "terrain": "farmland",
        "fuel": FuelBatch(kind="diesel", density_kgpm3=Declared(836.0, 2.0), density_temperature_k=288.15),
        "fuel_system": FuelSystem(arrangement="test can", repeatability_kg=0.012),
        "scale": Scale(resolution_kg=0.005, repeatability_kg=0.003, accuracy=0.001, capacity_kg=20.0),
        "weighings": weighings(fuel_kg),
        "weather": Weather(readings=(reading(),), field_elevation_m=15.0),
    }
    return Run(**(given | fields))


def without_track(fuel_kg: float = 1.23, **fields: Any) -> Run:
    """The same drive as distance and duration only."""
    return run_of(fuel_kg, **({"distance_m": Declared(21_000.0), "moving_time_s": Declared(1090.0)} | fields))


def reduced(run: Run, draws: int = 500, seed: int = 7) -> WeighedRun:
    return reduce_weighed_run(run, draws, seed)
