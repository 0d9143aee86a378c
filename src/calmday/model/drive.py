"""A drive as the forward model sees it: samples of motion, road and air, with the doubt they share."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class Drive(msgspec.Struct, frozen=True, kw_only=True):
    """Samples of a drive, arrays of shape (n,). Sample i stands for `step_s[i]` seconds.

    `elapsed_s` since the engine was started; `wind_*` at vehicle height, the way the air moves TO; `turbulence_*`
    variance of gusts along and across the mean wind, (m/s)^2; `running` 1 while the engine runs, else 0. The spreads
    are those of reduction/vehicle_weather. `weights`, shape (n, q): what to add fuel up over (column 0 the whole drive,
    then laps, legs...), each entry a duration in seconds.
    """

    step_s: FloatArray
    elapsed_s: FloatArray
    speed_mps: FloatArray
    acceleration_mps2: FloatArray
    grade: FloatArray
    heading_rad: FloatArray
    wind_east_mps: FloatArray
    wind_north_mps: FloatArray
    turbulence_along_mps2: FloatArray
    turbulence_across_mps2: FloatArray
    air_density_kgpm3: FloatArray
    temperature_k: FloatArray
    pressure_pa: FloatArray
    running: FloatArray
    wind_factor_log_sd: float
    wind_offset_sd_mps: float
    direction_sd_rad: float
    density_relative_sd: float

    def __len__(self) -> int:
        return int(self.speed_mps.size)
