"""Wind at vehicle height along a drive, from aerodrome reports and roadside readings."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.records.weather import Terrain, WeatherReading
from calmday.reduction.blend import HOUR_S, at_times, mean_of, time_variance, weighted, weights_of
from calmday.reduction.wind_profile import (
    MAST_HEIGHT_M,
    TERRAIN_CLASSES,
    across_variance,
    country_over_mast,
    mast_to_road_ratio,
    transfer_log_sd,
    turbulence_sd,
    vehicle_wind_ratio,
)

FloatArray = NDArray[np.float64]

UNREPORTED_WIND_MPS: Final = 3.4
UNREPORTED_WIND_LOG_SD: Final = 0.6
"""Wind at 10 m where none was reported: log-normal with mean 4 m/s, near a Weibull of shape 2; assumed."""

ANY_DIRECTION_SD_RAD: Final = math.pi
"""Direction not known at all: wide enough that a normal turn leaves no mean wind."""

# Doubts below: one standard deviation, assumed. Offsets are of each component, at 10 m.
STATION_OFFSET_MPS: Final = {"metar": 0.7, "roadside": 0.6}
_NEAR_GROUND_OFFSET_MPS: Final = 0.2
_EXPOSURE_LOG_SD: Final = {"metar": 0.08, "roadside": 0.15}
"""One spot beside the road, by a gate or a hedge, stands for the whole course less well than it seems to."""

_GUSTS_LEFT: Final = {"metar": 0.0, "roadside": 0.4}
"""Share of the gusts' standard deviation left in a mean over two minutes by hand (memory of a gust about 10 s)."""

_BEARING_SD_RAD: Final = {"metar": math.radians(2.9), "roadside": math.radians(8.0)}
_TERRAIN_TURN_SHARE: Final = {"metar": 1.0, "roadside": 0.5}
_WIND_WALK_PER_HOUR: Final = 0.7
_WIND_WALK_MOST: Final = 6.0
USUAL_WIND_SD_MPS: Final = 4.5
"""Spread of each component of the wind at 10 m by day over a year (Rayleigh speeds of mean 5.6 m/s); assumed."""

PLACE_LOG_SD: Final = 0.15
"""How far the wind at 10 m over the road lies from that over the mast, as the standard deviation of its log: the part
of the doubt about the transfer that is not the height. Assumed."""

_FAR_REPORT_S: Final = 2.0 * HOUR_S

_STATION: Final = re.compile(r"^\s*(?:METAR|SPECI)?\s*(?:COR\s+)?([A-Z][A-Z0-9]{3})\s+\d{6}Z")


class RoadWind(msgspec.Struct, frozen=True, kw_only=True):
    """Wind along a drive at vehicle height: components the way the air moves to, gust variances, and
    doubts.
    """

    east_mps: FloatArray
    north_mps: FloatArray
    along_mps2: FloatArray
    across_mps2: FloatArray
    factor_log_sd: float
    offset_sd_mps: float
    direction_sd_rad: float
    at_mast_mps: float
    gust_at_mast_mps: float | None
    known: bool
    notes: tuple[str, ...]


class _Series(msgspec.Struct, frozen=True, kw_only=True):
    """One source at the drive's samples."""

    east: FloatArray
    north: FloatArray
    along: FloatArray
    at_mast: FloatArray
    offset_variance: FloatArray
    factor_log_sd: float
    direction_sd: float


def _sources(readings: Sequence[WeatherReading]) -> list[list[WeatherReading]]:
    """Readings with a wind, by station; all roadside readings are one source."""
    found: dict[str, list[WeatherReading]] = {}
    for reading in sorted(readings, key=lambda r: r.time_s):
        if reading.wind_speed_mps is None:
            continue
        station = _STATION.match(reading.text) if reading.source == "metar" else None
        found.setdefault(reading.source + (station.group(1) if station else ""), []).append(reading)
    return list(found.values())


def _bearings(readings: list[WeatherReading]) -> tuple[list[float], float]:
    """Where the wind comes from [rad]; variable ones take the nearest report's, with the share that was
    variable.
    """
    told = [r for r in readings if r.wind_from_deg is not None and r.wind_speed_mps]
    bearings, variable = [], 0
    for reading in readings:
        from_deg = reading.wind_from_deg
        if from_deg is None and reading.wind_speed_mps:
            variable += 1
            nearest = min(told, key=lambda r: abs(r.time_s - reading.time_s), default=None)
            from_deg = nearest.wind_from_deg if nearest else None
        bearings.append(math.radians(from_deg or 0.0))
    windy = sum(1 for r in readings if r.wind_speed_mps)
    return bearings, variable / windy if windy else 0.0


def _country_share(reading: WeatherReading, terrain: Terrain | None) -> float:
    """What of a reading blows in the country about the road, at the height of the reading [1]: an aerodrome's mast
    stands elsewhere."""
    return country_over_mast(terrain) if reading.source == "metar" else 1.0


def _above_mean(reading: WeatherReading) -> float | None:
    """How far the reported gust stands above the reported mean [m/s]."""
    return None if reading.gust_mps is None else reading.gust_mps - (reading.wind_speed_mps or 0.0)


def _likelier(source: str) -> float:
    """How much of a reported wind to believe [1]: a report in error is likelier to come from a more usual
    wind.

    Mean of the true component given the report, both normal: tau^2 / (tau^2 + s^2). Left out, the square of
    the wind on the road would be too large on average.
    """
    return USUAL_WIND_SD_MPS**2 / (USUAL_WIND_SD_MPS**2 + STATION_OFFSET_MPS[source] ** 2)


def _series(
    readings: list[WeatherReading], terrain: Terrain | None, time_s: FloatArray, vehicle_height_m: float
) -> _Series:
    source = readings[0].source
    times = [r.time_s for r in readings]
    speeds = _country_share(readings[0], terrain) * np.array([r.wind_speed_mps or 0.0 for r in readings])
    at_road = speeds * [vehicle_wind_ratio(terrain, r.height_m, vehicle_height_m) for r in readings]
    from_mast = mast_to_road_ratio(terrain, vehicle_height_m)
    at_mast = at_road / from_mast
    bearings, variable = _bearings(readings)
    towards = np.array(bearings) + math.pi
    at_vehicle = at_road * _likelier(source)
    east = at_times(times, list(at_vehicle * np.sin(towards)), time_s)
    north = at_times(times, list(at_vehicle * np.cos(towards)), time_s)
    gusts = [
        turbulence_sd(terrain, speed, r.height_m, _above_mean(r)) ** 2
        for speed, r in zip(speeds, readings, strict=True)
    ]
    turn = TERRAIN_CLASSES[terrain].direction_sd_rad * _TERRAIN_TURN_SHARE[source]
    direction_sd = math.hypot(turn, _BEARING_SD_RAD[source])
    direction_sd = math.hypot(direction_sd * (1.0 - variable), ANY_DIRECTION_SD_RAD * variable)
    transfer = max(transfer_log_sd(terrain, r.height_m, vehicle_height_m) for r in readings)
    factor = math.hypot(transfer, _EXPOSURE_LOG_SD[source])
    walk = time_variance(times, time_s, per_hour=_WIND_WALK_PER_HOUR, most=_WIND_WALK_MOST)
    offset = (
        from_mast**2 * (_likelier(source) * STATION_OFFSET_MPS[source] ** 2 + walk)
        + _NEAR_GROUND_OFFSET_MPS**2
        + _GUSTS_LEFT[source] ** 2 * at_times(times, gusts, time_s)
    )
    return _Series(
        east=east,
        north=north,
        along=at_times(times, gusts, time_s),
        at_mast=at_times(times, list(at_mast), time_s),
        offset_variance=offset,
        factor_log_sd=factor,
        direction_sd=direction_sd,
    )


def _guess(terrain: Terrain | None, time_s: FloatArray, vehicle_height_m: float) -> RoadWind:
    """What to reckon with where nobody reported a wind: an ordinary day, from anywhere."""
    speed = UNREPORTED_WIND_MPS * mast_to_road_ratio(terrain, vehicle_height_m)
    along = turbulence_sd(terrain, UNREPORTED_WIND_MPS * country_over_mast(terrain), MAST_HEIGHT_M) ** 2
    transfer = transfer_log_sd(terrain, MAST_HEIGHT_M, vehicle_height_m)
    return RoadWind(
        east_mps=np.zeros(time_s.shape),
        north_mps=np.full(time_s.shape, -speed),
        along_mps2=np.full(time_s.shape, along),
        across_mps2=np.full(time_s.shape, across_variance(along)),
        factor_log_sd=math.hypot(UNREPORTED_WIND_LOG_SD, transfer),
        offset_sd_mps=_NEAR_GROUND_OFFSET_MPS,
        direction_sd_rad=ANY_DIRECTION_SD_RAD,
        at_mast_mps=UNREPORTED_WIND_MPS,
        gust_at_mast_mps=None,
        known=False,
        notes=("no wind was reported: an ordinary day's, 1 to 9 m/s at 10 m and from anywhere, is assumed",),
    )


def _strongest_gust(readings: Sequence[WeatherReading], terrain: Terrain | None, time_s: FloatArray) -> float | None:
    """Strongest gust reported within an hour of the drive, as at 10 m [m/s]; None where none was."""
    if not time_s.size:
        return None
    start, end = float(time_s.min()) - HOUR_S, float(time_s.max()) + HOUR_S
    # Gusts stand out by the same metres per second at all heights near the ground: only the mean is scaled.
    gusts = []
    for r in readings:
        if r.gust_mps is not None and start <= r.time_s <= end:
            to_road = _country_share(r, terrain) * vehicle_wind_ratio(terrain, r.height_m)
            up = to_road / mast_to_road_ratio(terrain) - 1.0
            gusts.append(r.gust_mps + (r.wind_speed_mps or 0.0) * up)
    return max(gusts, default=None)


def _notes(sources: list[list[WeatherReading]], time_s: FloatArray) -> tuple[str, ...]:
    notes = []
    variable = sum(1 for s in sources for r in s if r.wind_from_deg is None and r.wind_speed_mps)
    if variable:
        notes.append(f"{variable} of the wind reports gave no direction (variable)")
    times = np.array([r.time_s for s in sources for r in s])
    if time_s.size:
        away = max(float(times.min() - time_s.max()), float(time_s.min() - times.max()), 0.0)
        if away > _FAR_REPORT_S:
            notes.append(f"the nearest wind report is {away / HOUR_S:.0f} h away from the drive")
    return tuple(notes)


def _variances(series: list[_Series]) -> list[FloatArray]:
    """Variance of each source's components, as weights against each other.

    Relative doubts are taken of the strongest wind that any source reports: else a source would gain weight by reading
    low.
    """
    strongest = np.max([s.east**2 + s.north**2 for s in series], axis=0)
    return [s.offset_variance + 0.5 * (s.factor_log_sd**2 + s.direction_sd**2) * strongest for s in series]


def towards_usual(wind_mps: float, log_sd: float) -> tuple[float, float]:
    """Factor on a wind at 10 m, and what is left of its relative doubt, once the usual winds of a year are known too.

    The part s of `log_sd` that lies between one place and another is an error of the wind at 10 m: report w, true wind
    v Rayleigh with components of `USUAL_WIND_SD_MPS` t. The most probable ln v is where (ln w - ln v)/s^2 + 2 - v^2/t^2
    = 0, by Newton; its curvature is 1/s^2 + 2 v^2/t^2. A report of a storm is likelier too high than too low.
    """
    place = min(PLACE_LOG_SD, log_sd)
    if wind_mps <= 0 or place <= 0:
        return 1.0, log_sd
    start = x = math.log(wind_mps)
    for _ in range(8):
        square = math.exp(2 * x) / USUAL_WIND_SD_MPS**2
        x -= ((x - start) / place**2 - 2 + square) / (1 / place**2 + 2 * square)
    square = math.exp(2 * x) / USUAL_WIND_SD_MPS**2
    left = 1 / (1 / place**2 + 2 * square)
    return math.exp(x - start), math.sqrt(log_sd**2 - place**2 + left)


def _disagreement(series: list[_Series], variances: list[FloatArray], weights: list[FloatArray]) -> float:
    """How many times larger than claimed the scatter of the sources about their mean is, at least 1 (Birge).

    R. T. Birge, Phys. Rev. 40 (1932) 207: with sources that disagree, all claims are widened alike.
    """
    if len(series) < 2:
        return 1.0
    squares = np.zeros_like(variances[0])
    for component in ("east", "north"):
        values = [getattr(s, component) for s in series]
        mean = weighted(values, weights)
        squares += np.sum([(v - mean) ** 2 / u for v, u in zip(values, variances, strict=True)], axis=0)
    return max(1.0, mean_of(squares, 0.0) / (2 * (len(series) - 1)))


def road_wind(
    readings: Sequence[WeatherReading], terrain: Terrain | None, time_s: FloatArray, vehicle_height_m: float
) -> RoadWind:
    """Mean wind [m/s] and gust variances [(m/s)^2] at vehicle height along a drive.

    Components are interpolated between the readings of a source and held at the ends; sources are combined by
    inverse variance, so that a reading on the spot counts for more than a distant mast. Direction FROM
    becomes motion TO.
    """
    sources = _sources(readings)
    if not sources:
        return _guess(terrain, time_s, vehicle_height_m)
    series = [_series(source, terrain, time_s, vehicle_height_m) for source in sources]
    variances = _variances(series)
    weights = weights_of(variances)
    shares = [mean_of(w, 1.0 / len(series)) for w in weights]
    along = weighted([s.along for s in series], weights)
    apart = _disagreement(series, variances, weights)
    offset = apart * np.sum([(w**2) * s.offset_variance for w, s in zip(weights, series, strict=True)], axis=0)
    at_mast = mean_of(weighted([s.at_mast for s in series], weights))
    doubt = math.hypot(*(w * s.factor_log_sd for w, s in zip(shares, series, strict=True)))
    factor, doubt = towards_usual(at_mast, doubt)
    along = factor**2 * along
    return RoadWind(
        east_mps=factor * weighted([s.east for s in series], weights),
        north_mps=factor * weighted([s.north for s in series], weights),
        along_mps2=along,
        across_mps2=np.asarray(across_variance(1.0) * along),
        factor_log_sd=doubt,
        offset_sd_mps=math.sqrt(mean_of(offset)),
        direction_sd_rad=math.hypot(*(w * s.direction_sd for w, s in zip(shares, series, strict=True))),
        at_mast_mps=at_mast,
        gust_at_mast_mps=_strongest_gust(readings, terrain, time_s),
        known=True,
        notes=_notes(sources, time_s),
    )
