"""Weather from the station and the roadside to the vehicle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.records.weather import Terrain, Weather
from calmday.reduction.vehicle_weather import VehicleWeather
from calmday.reduction.weather_air import road_air
from calmday.reduction.weather_wind import road_wind
from calmday.reduction.wind_profile import VEHICLE_HEIGHT_M

FloatArray = NDArray[np.float64]


def bring_to_vehicle(
    weather: Weather,
    terrain: Terrain | None,
    time_s: FloatArray,
    road_height_m: FloatArray,
    vehicle_height_m: float = VEHICLE_HEIGHT_M,
) -> VehicleWeather:
    """Weather at every sample of a drive, as the vehicle meets it, with the doubt of bringing it there.

    `time_s` seconds since 1970 UTC and `road_height_m` above sea (NaN where not known), shape (n,). Nothing
    is required: what was not reported is assumed, widely, and said in `notes`.
    """
    times = np.asarray(time_s, dtype=np.float64)
    heights = np.broadcast_to(np.asarray(road_height_m, dtype=np.float64), times.shape)
    air = road_air(weather, times, heights)
    wind = road_wind(weather.readings, terrain, times, vehicle_height_m)
    return VehicleWeather(
        wind_east_mps=wind.east_mps,
        wind_north_mps=wind.north_mps,
        turbulence_along_mps2=wind.along_mps2,
        turbulence_across_mps2=wind.across_mps2,
        air_density_kgpm3=air.air_density_kgpm3,
        temperature_k=air.temperature_k,
        pressure_pa=air.pressure_pa,
        relative_humidity=air.relative_humidity,
        wind_factor_log_sd=wind.factor_log_sd,
        wind_offset_sd_mps=wind.offset_sd_mps,
        direction_sd_rad=wind.direction_sd_rad,
        density_relative_sd=air.density_relative_sd,
        temperature_sd_k=air.temperature_sd_k,
        wind_at_mast_mps=wind.at_mast_mps,
        gust_at_mast_mps=wind.gust_at_mast_mps,
        wind_known=wind.known,
        weather_known=bool(weather.readings),
        notes=(*weather.notes, *wind.notes, *air.notes),
    )
