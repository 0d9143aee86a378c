"""The invented air: density, the wind in time at vehicle height, and what the station reported of it."""

from __future__ import annotations

import datetime as dt
import math

import msgspec
import numpy as np

from calmday.records.weather import Terrain
from calmday.synthetic.scenario import Scenario
from calmday.synthetic.streams import chance, lognormal, normal, stream, uniform
from calmday.synthetic.truth_types import FloatArray

_KNOT = 1852 / 3600
ROUGHNESS_M: dict[Terrain, float] = {
    "water": 0.0003,
    "open": 0.03,
    "farmland": 0.10,
    "hedged": 0.25,
    "suburban": 0.6,
    "town": 1.0,
}
"""Davenport's roughness lengths (revised classes)."""


class AirFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The state of the air at the start of the lap. Temperatures degC, pressures Pa, humidity 0 to 1."""

    temperature_c: float
    pressure_pa: float
    relative_humidity: float
    density: float


class WindFacts(msgspec.Struct, frozen=True, kw_only=True):
    """True wind over the road in time, steps of `step_s`: at 10 m [m/s], and the direction it comes from
    [rad].

    `east_mps`, `north_mps`: at vehicle height, gusts included, the way the air moves TO.
    """

    step_s: float
    speed_10m: FloatArray
    from_rad: FloatArray
    east_mps: FloatArray
    north_mps: FloatArray
    roughness_m: float
    height_ratio: float


def vapour_pressure(temperature_c: float) -> float:
    """Saturation vapour pressure over water [Pa], Tetens (1930)."""
    return 610.78 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def moist_density(temperature_c: float, pressure_pa: float, relative_humidity: float) -> float:
    """Density [kg/m^3] as dry air plus vapour, both ideal gases."""
    vapour = relative_humidity * vapour_pressure(temperature_c)
    kelvin = temperature_c + 273.15
    return (pressure_pa - vapour) / (287.05 * kelvin) + vapour / (461.5 * kelvin)


def wander(g: np.random.Generator, count: int, step_s: float, memory_s: float) -> FloatArray:
    """A stationary Ornstein-Uhlenbeck process of unit variance, exact at any step."""
    keep = math.exp(-step_s / memory_s)
    kick = math.sqrt(1 - keep * keep) * g.standard_normal(count)
    values = np.empty(count)
    value = float(g.standard_normal())
    for index, shock in enumerate(kick.tolist()):
        value = keep * value + shock
        values[index] = value
    return values


def random_wind(scenario: Scenario, vehicle_height: float, count: int, step_s: float) -> WindFacts:
    """Wind of the run: log profile to 0.6 of the vehicle's height, slow drift, gusts."""
    g = stream(scenario.seed, "wind")
    seconds = (np.arange(count) - count / 2) * step_s
    slow = np.exp(0.08 * wander(g, count, step_s, 900.0)) * np.clip(1 + normal(g, 0, 0.15) * seconds / 3600, 0.3, 2.0)
    speed = scenario.wind_speed_10m_mps * slow
    turn = math.radians(normal(g, 0, 10)) * seconds / 3600 + math.radians(5) * wander(g, count, step_s, 600.0)
    come_from = math.radians(scenario.wind_from_deg) + turn
    rough = min(ROUGHNESS_M[scenario.terrain] * lognormal(g, 1.0, 0.3), 1.2)
    ratio = max(math.log(max(0.6 * vehicle_height, 1.3 * rough) / rough) / math.log(10 / rough), 0.12)
    sigma = uniform(g, 0.85, 1.05) * speed / math.log(10 / rough)
    memory = uniform(g, 3, 12)
    along = speed * ratio + sigma * wander(g, count, step_s, memory)
    across = 0.8 * sigma * wander(g, count, step_s, memory)
    to_east, to_north = -np.sin(come_from), -np.cos(come_from)
    return WindFacts(
        step_s=step_s,
        speed_10m=speed,
        from_rad=come_from,
        east_mps=along * to_east + across * to_north,
        north_mps=along * to_north - across * to_east,
        roughness_m=rough,
        height_ratio=ratio,
    )


class Station(msgspec.Struct, frozen=True, kw_only=True):
    """How the station differs from the road: wind factor, direction offset [deg], temperature offset [K],
    place.
    """

    wind_factor: float
    direction_offset_deg: float
    temperature_offset: float
    field_elevation_m: float
    qnh_hpa: float
    name: str = "ZZAA"


def random_station(seed: int, road_pressure_pa: float, road_elevation_m: float) -> Station:
    """A station up to 60 m above or below the road, with its own wind."""
    g = stream(seed, "station")
    elevation = max(round(road_elevation_m + uniform(g, -60, 60)), 0)
    kelvin = 288.15 - 0.0065 * road_elevation_m
    qnh = road_pressure_pa / 100 * (288.15 / kelvin) ** 5.2559 + normal(g, 0, 0.4)
    return Station(
        wind_factor=lognormal(g, 1.0, 0.15),
        direction_offset_deg=normal(g, 0, 12),
        temperature_offset=normal(g, 0, 0.7),
        field_elevation_m=elevation,
        qnh_hpa=qnh,
    )


def metar_lines(
    seed: int, station: Station, air: AirFacts, wind: WindFacts, *, start: dt.datetime, in_inches: bool
) -> list[str]:
    """Reports at 20 and 50 past the hour that a tester would copy: 25 min before to 10 min after the run."""
    g = stream(seed, "metar")
    end = start + dt.timedelta(seconds=wind.speed_10m.size * wind.step_s)
    moment = start.replace(minute=20, second=0, microsecond=0) - dt.timedelta(hours=1)
    lines = []
    while moment < end + dt.timedelta(minutes=10):
        if moment > start - dt.timedelta(minutes=25):
            second = (moment - start).total_seconds()
            lines.append(_metar(g, station, air, wind, second=second, moment=moment, in_inches=in_inches))
        moment += dt.timedelta(minutes=30)
    return lines if chance(g, 0.7) else lines[len(lines) // 2 : len(lines) // 2 + 1]


def _metar(
    g: np.random.Generator,
    station: Station,
    air: AirFacts,
    wind: WindFacts,
    *,
    second: float,
    moment: dt.datetime,
    in_inches: bool,
) -> str:
    last = wind.speed_10m.size - 1
    begin, end = (int(np.clip((second - back) / wind.step_s, 0, last)) for back in (600, 0))
    mean = float(wind.speed_10m[begin : end + 1].mean()) * station.wind_factor + normal(g, 0, 0.7)
    mean = max(mean, 0.0)
    come_from = math.degrees(float(wind.from_rad[begin : end + 1].mean())) + station.direction_offset_deg
    peak = mean * (1 + uniform(g, 2.4, 3.1) / math.log(10 / 0.03))
    speed, gust = round(mean / _KNOT), round(peak / _KNOT)
    tens = round(come_from / 10) % 36 * 10 or 360
    group = "00000" if speed == 0 else f"{'VRB' if speed < 3 else f'{tens:03d}'}{speed:02d}"
    group += f"G{gust:02d}" if gust - speed >= 10 and speed >= 3 else ""
    temperature = air.temperature_c + station.temperature_offset + normal(g, 0, 0.2)
    ratio = math.log(air.relative_humidity * vapour_pressure(air.temperature_c) / 610.78)
    dew = min(237.3 * ratio / (17.27 - ratio), temperature)
    qnh = f"A{round(station.qnh_hpa * 2.952998):04d}" if in_inches else f"Q{math.floor(station.qnh_hpa):04d}"
    words = "10SM" if in_inches else "9999"
    clouds = str(g.choice(["FEW025", "SCT030", "BKN040", "SCT045"]))
    time = moment.strftime("%d%H%MZ")
    return f"METAR {station.name} {time} {group}KT {words} {clouds} {_signed(temperature)}/{_signed(dew)} {qnh}"


def _signed(celsius: float) -> str:
    whole = round(celsius)
    return f"M{-whole:02d}" if celsius < 0 and whole <= 0 else f"{whole:02d}"
