"""From the records of a run to the drive the model simulates, with or without a track."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import Figure, from_normal
from calmday.model.drive import Drive
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.model.vehicle_model import wind_height_m
from calmday.records.run import Run
from calmday.reduction.reduced_track import ReducedTrack
from calmday.reduction.track import reduce_track
from calmday.reduction.vehicle_weather import VehicleWeather
from calmday.reduction.weather import bring_to_vehicle

UNKNOWN_ODOMETER_SD = 0.02
"""Relative doubt of an odometer whose factor was never found: tyres, wear and gearing; common practice, no source."""

DECLARED_DISTANCE_SD = 0.005
IDLE_AROUND_DRIVE_S = 30
"""How long the engine is taken to idle before the first and after the last movement, where a track shows parking."""

STEADY_SAMPLES = 720


class Distance(msgspec.Struct, frozen=True):
    """Distance of the run with its standard uncertainty and where it comes from."""

    metres: float
    sd_m: float
    source: str

    @property
    def figure(self) -> Figure:
        return from_normal(self.metres / 1000, self.sd_m / 1000, "km")


class DriveOfRun(msgspec.Struct, frozen=True, kw_only=True):
    """The drive, its distance, the reduced track where there is one, and the weather along it.

    `samples` are the indices of the reduced track that the drive's samples come from (none without a track);
    `scale` makes up for distance driven outside the grid (long gaps).
    """

    distance: Distance
    drive: Drive | None
    track: ReducedTrack | None
    weather: VehicleWeather
    samples: NDArray[np.int64]
    scale: float
    moving_time_s: float | None


def _without_track(run: Run) -> Distance:
    """Distance by the best of what is declared: a stated distance, laps, or the odometer."""
    if run.distance_m is not None:
        stated = run.distance_m
        sd = stated.half_width / HALF_WIDTH_PER_SD if stated.half_width else DECLARED_DISTANCE_SD * stated.value
        return Distance(stated.value, sd, "distance as declared")
    if run.laps is not None and run.lap_length_m is not None:
        lap = run.lap_length_m
        sd = lap.half_width / HALF_WIDTH_PER_SD if lap.half_width else DECLARED_DISTANCE_SD * lap.value
        return Distance(run.laps * lap.value, run.laps * sd, "laps x lap length")
    by_odometer = odometer_distance(run)
    if by_odometer is None:
        return Distance(math.nan, math.nan, "no distance")
    return by_odometer


def odometer_distance(run: Run) -> Distance | None:
    """Distance by odometer, corrected with its factor where that is known; None without both readings."""
    odometer = run.odometer
    if odometer is None or odometer.start_m is None or odometer.end_m is None:
        return None
    indicated = odometer.end_m - odometer.start_m
    if odometer.factor is None:
        return Distance(indicated, UNKNOWN_ODOMETER_SD * indicated, "odometer, factor unknown")
    factor = odometer.factor
    sd = factor.half_width / HALF_WIDTH_PER_SD if factor.half_width else 0.005 * factor.value
    return Distance(indicated * factor.value, indicated * sd, "odometer x factor")


def _steady_loop(speed_mps: float, duration_s: float) -> dict[str, FloatArray]:
    """A flat loop at the mean speed with every heading alike: what is left to assume when only laps and time are
    known."""
    n = STEADY_SAMPLES
    zero = np.zeros(n)
    return {
        "elapsed_s": (np.arange(n) + 0.5) * duration_s / n,
        "speed_mps": zero + speed_mps,
        "heading_rad": 2 * np.pi * 4 * np.arange(n) / n,
        "step_s": zero + duration_s / n,
    }


def _drive_of_loop(run: Run, distance: Distance) -> tuple[Drive | None, VehicleWeather]:
    duration = run.moving_time_s.value if run.moving_time_s is not None else math.nan
    start = run.weather.readings[0].time_s if run.weather.readings else 0.0
    known = math.isfinite(duration) and duration > 0 and math.isfinite(distance.metres) and distance.metres > 0
    loop = _steady_loop(distance.metres / duration, duration) if known else _steady_loop(1.0, 1.0)
    elevation = run.weather.field_elevation_m or 0.0
    zero = np.zeros_like(loop["speed_mps"])
    weather = bring_to_vehicle(
        run.weather, run.terrain, start + loop["elapsed_s"], zero + elevation, wind_height_m(run.vehicle)
    )
    if not known:
        return None, weather
    return _assemble(loop, zero, zero, zero + 1.0, weather), weather


def _weather_time(run: Run, time_s: FloatArray) -> FloatArray:
    """When the drive was, for the weather: a track without a date is taken to start with the first report."""
    if run.track is None or run.track.dated or not run.weather.readings or not time_s.size:
        return time_s
    return np.asarray(time_s - time_s[0] + run.weather.readings[0].time_s)


def _assemble(
    motion: dict[str, FloatArray], acceleration: FloatArray, grade: FloatArray, running: FloatArray, air: VehicleWeather
) -> Drive:
    return Drive(
        step_s=motion["step_s"],
        elapsed_s=motion["elapsed_s"],
        speed_mps=motion["speed_mps"],
        acceleration_mps2=acceleration,
        grade=grade,
        heading_rad=motion["heading_rad"],
        wind_east_mps=air.wind_east_mps,
        wind_north_mps=air.wind_north_mps,
        turbulence_along_mps2=air.turbulence_along_mps2,
        turbulence_across_mps2=air.turbulence_across_mps2,
        air_density_kgpm3=air.air_density_kgpm3,
        temperature_k=air.temperature_k,
        pressure_pa=air.pressure_pa,
        running=running,
        wind_factor_log_sd=air.wind_factor_log_sd,
        wind_offset_sd_mps=air.wind_offset_sd_mps,
        direction_sd_rad=air.direction_sd_rad,
        density_relative_sd=air.density_relative_sd,
    )


def _engine_window(track: ReducedTrack) -> slice:
    """Samples from shortly before the first to shortly after the last movement: parking at the ends is not driving."""
    moving = np.flatnonzero(track.moving)
    if moving.size == 0:
        return slice(0, len(track.time_s))
    margin = round(IDLE_AROUND_DRIVE_S / track.step_s)
    return slice(max(0, int(moving[0]) - margin), min(len(track.time_s), int(moving[-1]) + margin + 1))


def drive_of_run(run: Run) -> DriveOfRun:
    """The drive of a run. Without a track, a steady loop from distance and duration; without those, no drive."""
    if run.track is None or len(run.track) == 0:
        distance = _without_track(run)
        drive, air = _drive_of_loop(run, distance)
        moving = run.moving_time_s.value if run.moving_time_s is not None else None
        none = np.zeros(0, dtype=np.int64)
        return DriveOfRun(
            distance=distance, drive=drive, track=None, weather=air, samples=none, scale=1.0, moving_time_s=moving
        )
    track = reduce_track(run.track)
    window = _engine_window(track)
    time = track.time_s[window]
    height = track.height_m[window] if track.has_height else np.full(time.size, run.weather.field_elevation_m or 0.0)
    air = bring_to_vehicle(run.weather, run.terrain, _weather_time(run, time), height, wind_height_m(run.vehicle))
    motion = {
        "step_s": np.full(time.size, track.step_s),
        "elapsed_s": time - time[0] if time.size else time,
        "speed_mps": track.speed_mps[window],
        "heading_rad": track.heading_rad[window],
    }
    drive = _assemble(motion, track.acceleration_mps2[window], track.grade[window], np.ones(time.size), air)
    on_grid = float(np.sum(drive.speed_mps * drive.step_s))
    return DriveOfRun(
        distance=Distance(track.total_distance_m, track.total_distance_sd_m, "satellite track"),
        drive=drive if on_grid > 0 else None,
        track=track,
        weather=air,
        samples=np.arange(window.start, window.stop),
        scale=track.total_distance_m / on_grid if on_grid > 0 else 1.0,
        moving_time_s=track.moving_time_s,
    )
