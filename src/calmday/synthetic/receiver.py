"""What a satellite receiver records of a simulated drive."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from calmday.records.track import Track
from calmday.synthetic.air_truth import wander
from calmday.synthetic.simulate import SimulatedRun
from calmday.synthetic.streams import normal, stream, uniform
from calmday.synthetic.truth_types import FloatArray

_A = 6_378_137.0
_F = 1 / 298.257223563
_E2 = _F * (2 - _F)


class Receiver(msgspec.Struct, frozen=True, kw_only=True):
    """How good the receiver is: correlated and white position error [m], memory [s], Doppler noise [m/s],
    mishaps.
    """

    drift_m: float
    memory_s: float
    white_m: float
    height_drift_m: float
    doppler_mps: float
    outlier_share: float
    dropouts: int


def random_receiver(seed: int) -> Receiver:
    """From a good logger to a telephone on the dashboard."""
    g = stream(seed, "receiver")
    return Receiver(
        drift_m=uniform(g, 1, 4),
        memory_s=float(np.exp(uniform(g, math.log(30), math.log(300)))),
        white_m=uniform(g, 0.1, 0.5),
        height_drift_m=uniform(g, 3, 8),
        doppler_mps=uniform(g, 0.05, 0.2),
        outlier_share=float(g.choice([0.0, 0.0005, 0.002])),
        dropouts=int(g.poisson(2.0)),
    )


def to_geodetic(
    east: FloatArray, north: FloatArray, up: FloatArray, latitude_deg: float, longitude_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Latitude and longitude [deg] of points on a local plane, through earth-centred coordinates (WGS-84,
    Bowring).
    """
    lat, lon = math.radians(latitude_deg), math.radians(longitude_deg)
    sin_lat, cos_lat, sin_lon, cos_lon = math.sin(lat), math.cos(lat), math.sin(lon), math.cos(lon)
    # The plane leaves the curved earth; let the points sink with it so that heights stay heights above the
    # ellipsoid.
    up = up - (east**2 + north**2) / (2 * _A)
    normal_radius = _A / math.sqrt(1 - _E2 * sin_lat**2)
    x = normal_radius * cos_lat * cos_lon - sin_lon * east - sin_lat * cos_lon * north + cos_lat * cos_lon * up
    y = normal_radius * cos_lat * sin_lon + cos_lon * east - sin_lat * sin_lon * north + cos_lat * sin_lon * up
    z = normal_radius * (1 - _E2) * sin_lat + cos_lat * north + sin_lat * up
    minor = _A * (1 - _F)
    flat = np.hypot(x, y)
    theta = np.arctan2(z * _A, flat * minor)
    second = (_A**2 - minor**2) / minor**2
    latitude = np.arctan2(z + second * minor * np.sin(theta) ** 3, flat - _E2 * _A * np.cos(theta) ** 3)
    return np.degrees(latitude), np.degrees(np.arctan2(y, x))


def _parked(run: SimulatedRun, series: FloatArray, still: bool) -> FloatArray:
    """A series with the parked seconds before and after; `still` where it is zero while parked."""
    before, after = int(run.scenario.parked_before_s), int(run.scenario.parked_after_s)
    first, last = (0.0, 0.0) if still else (float(series[0]), float(series[-1]))
    return np.concatenate([np.full(before, first), series, np.full(after, last)])


def _gaps(g: np.random.Generator, count: int, receiver: Receiver) -> FloatArray:
    keep = np.ones(count, bool)
    for _ in range(receiver.dropouts):
        begin = int(g.integers(10, count - 30))
        keep[begin : begin + int(g.integers(2, 16))] = False
    keep &= g.random(count) > 0.0007
    return np.flatnonzero(keep).astype(np.float64)


def record(run: SimulatedRun, receiver: Receiver) -> Track:
    """The raw fixes at 1 Hz, as a file would hold them: 7 decimals, 0.1 m of height, 0.01 m/s."""
    g = stream(run.scenario.seed, "fixes")
    east, north = _parked(run, run.east_m, False), _parked(run, run.north_m, False)
    height, speed = _parked(run, run.height_m, False), _parked(run, run.speed_mps, True)
    course = _parked(run, run.course_rad, False)
    count = east.size
    noise = [receiver.drift_m * wander(g, count, 1.0, receiver.memory_s) for _ in range(2)]
    east = east + noise[0] + receiver.white_m * g.standard_normal(count)
    north = north + noise[1] + receiver.white_m * g.standard_normal(count)
    for index in np.flatnonzero(g.random(count) < receiver.outlier_share):
        reach, angle, length = uniform(g, 15, 80), uniform(g, 0, 2 * np.pi), int(g.integers(1, 4))
        east[index : index + length] += reach * math.cos(angle)
        north[index : index + length] += reach * math.sin(angle)
    latitude, longitude = to_geodetic(east, north, height, run.scenario.latitude_deg, run.scenario.longitude_deg)
    drift = receiver.height_drift_m * wander(g, count, 1.0, uniform(g, 100, 600))
    seen = height + drift + normal(g, 0, 5) + 0.3 * g.standard_normal(count)
    doppler = np.abs(speed * np.cos(0.0) + receiver.doppler_mps * g.standard_normal(count))
    heading = np.degrees(course) + np.degrees(receiver.doppler_mps / np.maximum(speed, 0.3)) * g.standard_normal(count)
    kept = _gaps(g, count, receiver).astype(np.int64)
    absent = np.full(kept.size, np.nan)
    begin = round(run.start_utc.timestamp() - run.scenario.parked_before_s)
    return Track(
        time_s=begin + kept.astype(np.float64),
        latitude_deg=np.round(latitude[kept], 7),
        longitude_deg=np.round(longitude[kept], 7),
        height_m=np.round(seen[kept], 1) if run.scenario.has_height else absent,
        speed_mps=np.round(doppler[kept], 2) if run.scenario.has_doppler else absent,
        course_deg=np.round(heading[kept] % 360, 1) % 360 if run.scenario.has_doppler else absent,
        hdop=absent,
        segment=np.zeros(kept.size, np.int64),
    )
