"""Weather as the vehicle met it, sample by sample, with the doubt of the transfer from the mast."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class VehicleWeather(msgspec.Struct, frozen=True, kw_only=True):
    """Weather along a drive, arrays of shape (n,) on the drive's own samples.

    `wind_east_mps`, `wind_north_mps`: mean wind at vehicle height, the way the air moves TO. `turbulence_along_mps2`,
    `turbulence_across_mps2`: variance of the gusts about that mean, along and across the mean wind, (m/s)^2.
    `air_density_kgpm3`, `temperature_k`, `pressure_pa`, `relative_humidity` on the road.
    `wind_factor_log_sd`: standard deviation of the log of the factor by which the whole wind may be wrong (mast to
    vehicle, station to road). `wind_offset_sd_mps`: an added error of each component at vehicle height.
    `direction_sd_rad`. `density_relative_sd`, `temperature_sd_k`. `wind_known` false when no report gave a wind: then
    the wind arrays hold a class guess with a wide factor. `weather_known` false when nothing was reported at all.
    """

    wind_east_mps: FloatArray
    wind_north_mps: FloatArray
    turbulence_along_mps2: FloatArray
    turbulence_across_mps2: FloatArray
    air_density_kgpm3: FloatArray
    temperature_k: FloatArray
    pressure_pa: FloatArray
    relative_humidity: FloatArray
    wind_factor_log_sd: float
    wind_offset_sd_mps: float
    direction_sd_rad: float
    density_relative_sd: float
    temperature_sd_k: float
    wind_at_mast_mps: float
    gust_at_mast_mps: float | None
    wind_known: bool
    weather_known: bool
    notes: tuple[str, ...] = ()
