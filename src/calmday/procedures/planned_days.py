"""Days on which a planned test may be driven: the forecast with its error, as the reports of the day will show it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.draws import FloatArray, standard_normal
from calmday.model.drive import Drive
from calmday.model.vehicle_model import wind_height_m
from calmday.procedures.planned_route import LappedDrive, Route
from calmday.records.plan import Forecast, Plan
from calmday.records.weather import Weather, WeatherReading
from calmday.reduction.vehicle_weather import VehicleWeather
from calmday.reduction.weather import bring_to_vehicle
from calmday.reduction.weather_wind import USUAL_WIND_SD_MPS
from calmday.reduction.wind_profile import MAST_HEIGHT_M, mast_to_road_ratio, vehicle_wind_ratio

FORECAST_WIND_SD_MPS: Final = 1.5
"""Error of each component of a wind foretold for the next day or two, at 10 m, one standard deviation; assumed."""

FORECAST_TEMPERATURE_SD_K: Final = 2.0
FORECAST_PRESSURE_SD_PA: Final = 300.0
HAND_HEIGHT_M: Final = 2.0
HOUR_S: Final = 3600.0
NOON_S: Final = 12 * HOUR_S


class Day(msgspec.Struct, frozen=True, kw_only=True):
    """One possible day: the drive in the weather that its reports show, with the doubt that those leave."""

    drive: Drive
    weather: VehicleWeather


def foretold(plan: Plan) -> tuple[Forecast, ...]:
    """What is foretold, station reports and readings given beside it counted alike; in the order of time."""
    given = [
        *plan.forecast,
        *(
            Forecast(
                time_s=r.time_s,
                wind_speed_mps=r.wind_speed_mps,
                wind_from_deg=r.wind_from_deg,
                gust_mps=r.gust_mps,
                height_m=r.height_m,
                temperature_k=r.temperature_k,
                pressure_pa=r.pressure_pa,
                relative_humidity=r.relative_humidity,
            )
            for r in plan.weather.readings
        ),
    ]
    return tuple(sorted(given, key=lambda f: f.time_s if f.time_s is not None else -math.inf))


def start_of(plan: Plan) -> float:
    """When the drive is to start, seconds since 1970 UTC; noon of the day, or the forecast's time, where not said."""
    if plan.start_s is not None:
        return plan.start_s
    timed = [f.time_s for f in foretold(plan) if f.time_s is not None]
    if timed:
        return timed[0]
    if plan.date is None:
        return NOON_S
    midnight = (plan.date.toordinal() - 719_163) * 86_400.0
    return midnight + NOON_S - (plan.utc_offset_s or 0.0)


def days_of(plan: Plan, route: Route, laps: LappedDrive, count: int, seed: int) -> tuple[Day, ...]:
    """`count` possible days. The same seed gives the same days."""
    told = foretold(plan)
    errors = standard_normal(max(count, 2), 4, seed + 7)[:count]
    start = start_of(plan)
    return tuple(_day(plan, route, laps, told, start, error) for error in errors)


def forecast_day(plan: Plan, route: Route, laps: LappedDrive) -> Day:
    """The day as foretold, without error."""
    return _day(plan, route, laps, foretold(plan), start_of(plan), np.zeros(4))


def _day(
    plan: Plan, route: Route, laps: LappedDrive, told: Sequence[Forecast], start_s: float, error: FloatArray
) -> Day:
    motion = laps.paced
    elapsed = np.asarray((np.arange(motion.speed_mps.size) + 0.5) * motion.step_s, dtype=np.float64)
    times = start_s + elapsed
    readings = _readings(plan, told, start_s, float(elapsed[-1]) if elapsed.size else 0.0, error)
    elevation = route.elevation_m if route.elevation_m is not None else plan.weather.field_elevation_m or 0.0
    air = bring_to_vehicle(
        Weather(readings=readings, field_elevation_m=plan.weather.field_elevation_m),
        plan.terrain,
        times,
        np.full(times.size, elevation),
        wind_height_m(plan.vehicle),
    )
    drive = Drive(
        step_s=np.full(times.size, motion.step_s),
        elapsed_s=elapsed,
        speed_mps=motion.speed_mps,
        acceleration_mps2=motion.acceleration_mps2,
        grade=route.grade[laps.node],
        heading_rad=route.heading_rad[laps.node],
        wind_east_mps=air.wind_east_mps,
        wind_north_mps=air.wind_north_mps,
        turbulence_along_mps2=air.turbulence_along_mps2,
        turbulence_across_mps2=air.turbulence_across_mps2,
        air_density_kgpm3=air.air_density_kgpm3,
        temperature_k=air.temperature_k,
        pressure_pa=air.pressure_pa,
        running=np.ones(times.size),
        wind_factor_log_sd=air.wind_factor_log_sd,
        wind_offset_sd_mps=air.wind_offset_sd_mps,
        direction_sd_rad=air.direction_sd_rad,
        density_relative_sd=air.density_relative_sd,
    )
    return Day(drive=drive, weather=air)


def _readings(
    plan: Plan, told: Sequence[Forecast], start_s: float, duration_s: float, error: FloatArray
) -> tuple[WeatherReading, ...]:
    """What the reports of the day will say: every hour of the drive, the forecast plus its error."""
    source = plan.wind_on_the_day or "station"
    height = HAND_HEIGHT_M if source == "roadside" else MAST_HEIGHT_M
    doubt = plan.forecast_doubt_mps if plan.forecast_doubt_mps is not None else FORECAST_WIND_SD_MPS
    found = []
    for k in range(int(duration_s / HOUR_S) + 2):
        at = start_s + min(k * HOUR_S, duration_s)
        east, north, gust = _wind(told, at, doubt, error)
        if source == "roadside":
            down = mast_to_road_ratio(plan.terrain, HAND_HEIGHT_M)
            gust = None if gust is None else gust + (down - 1) * math.hypot(east, north)
            east, north = down * east, down * north
        speed = math.hypot(east, north)
        temperature = _value(told, "temperature_k", at)
        pressure = _value(told, "pressure_pa", at)
        if temperature is not None:
            temperature += FORECAST_TEMPERATURE_SD_K * float(error[2])
        found.append(
            WeatherReading(
                time_s=at,
                source="roadside" if source == "roadside" else "metar",
                wind_speed_mps=None if source == "none" else speed,
                wind_from_deg=math.degrees(math.atan2(-east, -north)) % 360,
                gust_mps=gust if gust is not None and gust > speed and source != "none" else None,
                height_m=height,
                temperature_k=temperature,
                pressure_pa=None if pressure is None else pressure + FORECAST_PRESSURE_SD_PA * float(error[3]),
                relative_humidity=_value(told, "relative_humidity", at),
            )
        )
    return tuple(found)


def _wind(
    told: Sequence[Forecast], at: float, doubt_mps: float, error: FloatArray
) -> tuple[float, float, float | None]:
    """Wind at 10 m on the day, the way the air moves to, and its gust; an ordinary day's where none is foretold.

    A forecast in error is likelier to come from a more usual wind: mean and variance of each true component given the
    forecast, both normal, are the share t^2/(t^2 + s^2) of the forecast and of s^2 (as for reports, docs/method.md, 9).
    """
    windy = [f for f in told if f.wind_speed_mps is not None]
    if not windy:
        return USUAL_WIND_SD_MPS * float(error[0]), USUAL_WIND_SD_MPS * float(error[1]), None
    parts = []
    for f in windy:
        up = 1 / vehicle_wind_ratio(None, MAST_HEIGHT_M, f.height_m) if f.height_m < MAST_HEIGHT_M else 1.0
        speed = (f.wind_speed_mps or 0.0) * up
        bearing = math.radians(f.wind_from_deg) if f.wind_from_deg is not None else _any_bearing(error)
        parts.append((-speed * math.sin(bearing), -speed * math.cos(bearing), speed))
    clock = [f.time_s if f.time_s is not None else at for f in windy]
    east, north = (float(np.interp(at, clock, [p[k] for p in parts])) for k in (0, 1))
    mean = math.hypot(east, north)
    share = USUAL_WIND_SD_MPS**2 / (USUAL_WIND_SD_MPS**2 + doubt_mps**2)
    off = math.sqrt(share) * doubt_mps
    east, north = share * east + off * float(error[0]), share * north + off * float(error[1])
    peaks = [f.gust_mps - p[2] for f, p in zip(windy, parts, strict=True) if f.gust_mps is not None]
    above = max(peaks, default=None) if peaks else None
    speed = math.hypot(east, north)
    gust = None if above is None or above <= 0 else speed + above * (speed / mean if mean > 0.5 else 1.0)
    return east, north, gust


def _any_bearing(error: FloatArray) -> float:
    """A bearing of no preference, the same for the same day."""
    return math.tau * (0.5 * math.erfc(-float(error[3]) / math.sqrt(2)))


def _value(told: Sequence[Forecast], name: str, at: float) -> float | None:
    known = [(f.time_s if f.time_s is not None else at, getattr(f, name)) for f in told if getattr(f, name) is not None]
    return float(np.interp(at, [t for t, _ in known], [v for _, v in known])) if known else None
