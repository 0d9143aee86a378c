"""Temperature, pressure and humidity of the air on the road, from readings or from the standard
atmosphere.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.air_density import moist_air_density, saturation_vapour_pressure
from calmday.metrology.constants import STANDARD_ATMOSPHERE_PA
from calmday.metrology.middle import median
from calmday.records.weather import Weather, WeatherReading
from calmday.reduction.blend import at_times, mean_of, time_variance, weighted, weights_of
from calmday.reduction.pressure import (
    LAPSE_KPM,
    pressure_at_height,
    pressure_from_qnh,
    standard_temperature,
)

FloatArray = NDArray[np.float64]
Estimate = tuple[FloatArray, FloatArray]

# Doubts below: one standard deviation, assumed.
_TEMPERATURE_SD_K: Final = {"metar": 1.3, "roadside": 1.0}
"""Rounding to whole degrees and the way from the station to the road; a thermometer held in the shade."""
_UNREAD_TEMPERATURE_SD_K: Final = 8.0
_TEMPERATURE_WALK: Final = 1.0
_HUMIDITY_SD: Final = {"metar": 0.08, "roadside": 0.08}
_UNREAD_HUMIDITY: Final = (0.65, 0.2)
_READ_PRESSURE_SD_PA: Final = 150.0
_QNH_SD_PA: Final = 60.0
_UNREAD_PRESSURE_SD_PA: Final = 900.0
_PRESSURE_WALK_PA2: Final = 60.0**2
_PASCAL_PER_METRE: Final = 12.0
_HEIGHT_SD_M: Final = {"track": 20.0, "station": 50.0, "guess": 250.0}
_GUESSED_HEIGHT_M: Final = 150.0
_STATION_APART_M: Final = 250.0


class RoadAir(msgspec.Struct, frozen=True, kw_only=True):
    """The air along a drive, arrays of shape (n,), and how far it may be wrong as a whole."""

    temperature_k: FloatArray
    pressure_pa: FloatArray
    relative_humidity: FloatArray
    air_density_kgpm3: FloatArray
    temperature_sd_k: float
    density_relative_sd: float
    notes: tuple[str, ...]


def _road_height(weather: Weather, road_height_m: FloatArray, notes: list[str]) -> tuple[FloatArray, float]:
    """Height of the road above sea [m] without holes, and its standard deviation."""
    known = np.isfinite(road_height_m)
    field = weather.field_elevation_m
    if known.any():
        middle = median(road_height_m[known])
        if field is not None and abs(middle - field) > _STATION_APART_M:
            notes.append(f"the road lies at {middle:.0f} m, the weather station at {field:.0f} m")
        return np.where(known, road_height_m, middle), _HEIGHT_SD_M["track"]
    if field is not None:
        notes.append("height of the road not recorded: the weather station's is used")
        return np.full(road_height_m.shape, field), _HEIGHT_SD_M["station"]
    notes.append(f"height of the road not known: {_GUESSED_HEIGHT_M:.0f} m assumed")
    return np.full(road_height_m.shape, _GUESSED_HEIGHT_M), _HEIGHT_SD_M["guess"]


def _by_source(
    weather: Weather, value: Callable[[WeatherReading], float | None]
) -> dict[str, tuple[list[float], list[float]]]:
    """Times and values of one quantity by kind of source, in time order."""
    found: dict[str, tuple[list[float], list[float]]] = {}
    for reading in sorted(weather.readings, key=lambda r: r.time_s):
        got = value(reading)
        if got is not None:
            times, values = found.setdefault(reading.source, ([], []))
            times.append(reading.time_s)
            values.append(got)
    return found


def _combined(estimates: list[Estimate]) -> tuple[FloatArray, float]:
    """Inverse-variance mean and its standard deviation over the drive."""
    weights = weights_of([variance for _, variance in estimates])
    variance = 1.0 / np.sum([1.0 / np.maximum(v, 1e-12) for _, v in estimates], axis=0)
    return weighted([value for value, _ in estimates], weights), float(np.sqrt(mean_of(variance)))


def _temperature(
    weather: Weather, time_s: FloatArray, height_m: FloatArray, notes: list[str]
) -> tuple[FloatArray, float]:
    estimates: list[Estimate] = []
    for source, (times, values) in _by_source(weather, lambda r: r.temperature_k).items():
        found = at_times(times, values, time_s)
        if source == "metar" and weather.field_elevation_m is not None:
            found = found - LAPSE_KPM * (height_m - weather.field_elevation_m)
        walk = time_variance(times, time_s, per_hour=_TEMPERATURE_WALK, most=25.0)
        estimates.append((found, _TEMPERATURE_SD_K[source] ** 2 + walk))
    if not estimates:
        notes.append("no temperature was reported: the standard atmosphere's, give or take 16 degrees")
        return standard_temperature(height_m), _UNREAD_TEMPERATURE_SD_K
    return _combined(estimates)


def _humidity(weather: Weather, time_s: FloatArray) -> tuple[FloatArray, float]:
    estimates: list[Estimate] = []
    for source, (times, values) in _by_source(weather, lambda r: r.relative_humidity).items():
        walk = time_variance(times, time_s, per_hour=0.05**2, most=0.2**2)
        estimates.append((at_times(times, values, time_s), _HUMIDITY_SD[source] ** 2 + walk))
    if not estimates:
        return np.full(time_s.shape, _UNREAD_HUMIDITY[0]), _UNREAD_HUMIDITY[1]
    humidity, sd = _combined(estimates)
    return np.clip(humidity, 0.0, 1.0), sd


def _pressure(
    weather: Weather,
    time_s: FloatArray,
    *,
    height_m: FloatArray,
    height_sd_m: float,
    temperature_k: FloatArray,
    notes: list[str],
) -> tuple[FloatArray, float]:
    height_variance = (_PASCAL_PER_METRE * height_sd_m) ** 2
    estimates: list[Estimate] = []
    middle = median(height_m) if height_m.size else 0.0
    for times, values in _by_source(weather, lambda r: r.pressure_pa).values():
        # Read somewhere along the road: taken as at its middle height.
        found = pressure_at_height(at_times(times, values, time_s), height_m - middle, temperature_k)
        walk = time_variance(times, time_s, per_hour=_PRESSURE_WALK_PA2, most=800.0**2)
        estimates.append((found, _READ_PRESSURE_SD_PA**2 + walk))
    for times, values in _by_source(weather, lambda r: r.qnh_pa).values():
        found = pressure_from_qnh(at_times(times, values, time_s), height_m)
        walk = time_variance(times, time_s, per_hour=_PRESSURE_WALK_PA2, most=800.0**2)
        estimates.append((found, _QNH_SD_PA**2 + height_variance + walk))
    if not estimates:
        notes.append("no pressure was reported: the standard atmosphere's at the road's height is assumed")
        spread = float(np.hypot(_UNREAD_PRESSURE_SD_PA, np.sqrt(height_variance)))
        return pressure_from_qnh(STANDARD_ATMOSPHERE_PA, height_m), spread
    return _combined(estimates)


def road_air(weather: Weather, time_s: FloatArray, road_height_m: FloatArray) -> RoadAir:
    """Temperature [K], pressure [Pa], relative humidity [0..1] and density [kg/m^3] of the air along a drive.

    QNH becomes pressure at the height of the road by the standard atmosphere; a pressure read at the roadside
    is taken as it is. What was not reported is the standard atmosphere's, with a wide spread. Density by
    CIPM-2007.
    """
    notes: list[str] = []
    height, height_sd = _road_height(weather, np.asarray(road_height_m, dtype=np.float64), notes)
    temperature, temperature_sd = _temperature(weather, time_s, height, notes)
    humidity, humidity_sd = _humidity(weather, time_s)
    pressure, pressure_sd = _pressure(
        weather, time_s, height_m=height, height_sd_m=height_sd, temperature_k=temperature, notes=notes
    )
    p, t = mean_of(pressure, STANDARD_ATMOSPHERE_PA), mean_of(temperature, 288.15)
    vapour = 0.378 * float(saturation_vapour_pressure(t)) / p
    relative = np.sqrt((pressure_sd / p) ** 2 + (temperature_sd / t) ** 2 + (vapour * humidity_sd) ** 2)
    return RoadAir(
        temperature_k=temperature,
        pressure_pa=pressure,
        relative_humidity=humidity,
        air_density_kgpm3=moist_air_density(temperature, pressure, humidity),
        temperature_sd_k=temperature_sd,
        density_relative_sd=float(relative),
        notes=tuple(notes),
    )
