"""Invented drives with known truth, and a receiver that records them badly: for tests and studies only.

The road is a curvature over distance, the driver a speed over distance held by comfort limits; both are integrated in
half-metre steps, by means that share nothing with the reduction under test. Map projection: pyproj's azimuthal
equidistant one.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pyproj

from calmday.records.track import Track

STEP_M = 0.5


@dataclasses.dataclass(frozen=True)
class Road:
    """East, north [m], height [m] and speed limit [m/s] every half metre of the way driven."""

    east_m: np.ndarray
    north_m: np.ndarray
    height_m: np.ndarray
    limit_mps: np.ndarray
    lap_length_m: float = 0.0


@dataclasses.dataclass(frozen=True)
class Drive:
    """The truth every 0.1 s."""

    time_s: np.ndarray
    way_m: np.ndarray
    speed_mps: np.ndarray
    acceleration_mps2: np.ndarray
    east_m: np.ndarray
    north_m: np.ndarray
    height_m: np.ndarray
    heading_rad: np.ndarray

    @property
    def distance_m(self) -> float:
        return float(self.way_m[-1] - self.way_m[0])


@dataclasses.dataclass(frozen=True)
class Receiver:
    """How badly the receiver records. Sd in m and m/s, time constants in s."""

    white_m: float = 1.0
    wander_m: float = 2.0
    wander_s: float = 100.0
    interval_s: float = 1.0
    outlier_share: float = 0.002
    dropouts: int = 2
    doppler_mps: float | None = None
    doppler_quantum_mps: float = 0.0
    doppler_offset_mps: float = 0.0
    course: bool = True
    position_quantum_deg: float = 1e-7
    height_white_m: float = 1.0
    height_wander_m: float = 5.0
    height: bool = True


def road_from_curvature(curvature: np.ndarray, height_m: np.ndarray, cruise_mps: float, heading: float = 0.3) -> Road:
    """Integrate heading and position along the way; bends limit the speed to 3 m/s2 sideways."""
    psi = heading + np.concatenate([[0.0], np.cumsum(curvature * STEP_M)])
    middle = (psi[1:] + psi[:-1]) / 2
    east = np.concatenate([[0.0], np.cumsum(np.sin(middle) * STEP_M)])
    north = np.concatenate([[0.0], np.cumsum(np.cos(middle) * STEP_M)])
    bend = np.append(np.abs(curvature), abs(curvature[-1]))
    limit = np.minimum(cruise_mps, np.sqrt(3.0 / np.maximum(bend, 1e-9)))
    return Road(east, north, np.append(height_m, height_m[0]), limit)


def _eased(curvature: np.ndarray, over_m: float) -> np.ndarray:
    """Straights run into bends over a transition."""
    width = max(1, round(over_m / STEP_M))
    return np.convolve(curvature, np.ones(width) / width, mode="same")


def loop_road(
    sides_m: tuple[float, ...], radius_m: float, laps: int, cruise_mps: float, hill_m: float = 8.0, heading: float = 0.3
) -> Road:
    """A closed polygon of equal angles and rounded corners, driven `laps` times; of four sides, opposite ones equal."""
    turn = 2 * np.pi / len(sides_m)
    corner = round(radius_m * turn / STEP_M)
    parts = []
    for side in sides_m:
        half = np.zeros(round(side / 2 / STEP_M))
        parts += [half, np.full(corner, turn / (corner * STEP_M)), np.zeros(round(side / 2 / STEP_M))]
    lap = np.concatenate(parts)
    eased = _eased(np.concatenate([lap[-100:], lap, lap[:100]]), min(10.0, radius_m / 2))[100:-100]
    way = np.arange(lap.size) * STEP_M
    length = lap.size * STEP_M
    height = 120 + hill_m * np.sin(2 * np.pi * way / length) + hill_m / 3 * np.sin(6 * np.pi * way / length + 1)
    road = road_from_curvature(np.tile(eased, laps), np.tile(height, laps), cruise_mps, heading)
    return dataclasses.replace(road, lap_length_m=length)


def out_and_back_road(
    length_m: float, trips: int, cruise_mps: float, hill_m: float = 10.0, lane_m: float = 8.0
) -> Road:
    """A winding road driven to its end, turned about on `lane_m`, driven back, `trips` times."""
    way = np.arange(round(length_m / STEP_M)) * STEP_M
    out = 2e-3 * np.sin(2 * np.pi * way / 900.0) * np.sin(np.pi * way / length_m)
    turn = np.full(round(np.pi * lane_m / 2 / STEP_M), 0.0)
    turn[:] = np.pi / (turn.size * STEP_M)
    one = np.concatenate([out, turn, -out[::-1], turn])
    up = 80 + hill_m * np.sin(2 * np.pi * way / length_m * 1.3) + 0.004 * way
    height = np.concatenate([up, np.full(turn.size, up[-1]), up[::-1], np.full(turn.size, up[0])])
    road = road_from_curvature(np.tile(one, trips), np.tile(height, trips), cruise_mps)
    return dataclasses.replace(road, lap_length_m=one.size * STEP_M)


def drive(
    road: Road,
    generator: np.random.Generator,
    stops_m: tuple[float, ...] = (),
    dwell_s: float = 20.0,
    parked_s: float = 30.0,
    unsteady: float = 0.02,
) -> Drive:
    """Drive the road: comfort limits 1.2 m/s2 up, 1.8 m/s2 down, an unsteady foot, stops, parked at both ends."""
    n = road.limit_mps.size
    marks = np.arange(0, n * STEP_M + 400, 150.0)
    foot = 1 + unsteady * generator.standard_normal(int(n * STEP_M / 150) + 4)[: marks.size]
    wobble = np.interp(np.arange(n) * STEP_M, marks, foot)
    top = (road.limit_mps * wobble) ** 2
    halts = [0, *(round(s / STEP_M) for s in stops_m), n - 1]
    top[halts] = 0.0
    square = top.copy()
    for i in range(1, n):
        square[i] = min(square[i], square[i - 1] + 2 * 1.2 * STEP_M)
    for i in range(n - 2, -1, -1):
        square[i] = min(square[i], square[i + 1] + 2 * 1.8 * STEP_M)
    v = np.sqrt(square)
    step = 2 * STEP_M / (v[1:] + v[:-1])
    clock = np.concatenate([[0.0], np.cumsum(step)])
    rise = np.hypot(1.0, np.diff(road.height_m, append=road.height_m[-1]) / STEP_M)
    way = np.concatenate([[0.0], np.cumsum(STEP_M * rise[:-1])])
    index = np.arange(n, dtype=float)
    for halt in sorted(set(halts)):
        wait = parked_s if halt in (0, n - 1) else dwell_s
        at = int(np.searchsorted(index, halt))
        clock[at + 1 :] += wait
        clock = np.insert(clock, at + 1, clock[at] + wait)
        index = np.insert(index, at + 1, index[at])
        v = np.insert(v, at + 1, v[at])
        clock[at + 1] = clock[at] + wait
    t = np.arange(0.0, clock[-1], 0.1)
    # position along the way by the exact constant-acceleration law inside each half metre
    k = np.clip(np.searchsorted(clock, t, side="right") - 1, 0, clock.size - 2)
    span = clock[k + 1] - clock[k]
    a = np.where(span > 0, (v[k + 1] - v[k]) / np.where(span > 0, span, 1), 0.0)
    dt = t - clock[k]
    speed = v[k] + a * dt
    i = np.minimum(index[k] + (v[k] * dt + a * dt**2 / 2) / STEP_M, n - 1.0)
    grid = np.arange(n, dtype=float)
    heading = np.unwrap(np.arctan2(np.gradient(road.east_m), np.gradient(road.north_m)))
    slope = np.interp(i, grid, rise)
    return Drive(t, np.interp(i, grid, way), speed * slope, a, np.interp(i, grid, road.east_m),
                 np.interp(i, grid, road.north_m), np.interp(i, grid, road.height_m),
                 np.interp(i, grid, heading))  # fmt: skip


def gauss_markov(generator: np.random.Generator, n: int, step_s: float, sd: float, constant_s: float) -> np.ndarray:
    """First-order Gauss-Markov noise."""
    keep = np.exp(-step_s / constant_s)
    kicks = generator.standard_normal(n) * sd * np.sqrt(1 - keep**2)
    kicks[0] = sd * generator.standard_normal()
    out = np.empty(n)
    last = 0.0
    for i in range(n):
        last = keep * last + kicks[i]
        out[i] = last
    return out


def record(
    truth: Drive, receiver: Receiver, generator: np.random.Generator, latitude_deg: float = 49.0,
    longitude_deg: float = 9.0, start_s: float = 1.76e9,
) -> Track:  # fmt: skip
    """What the receiver writes down."""
    every = round(receiver.interval_s / 0.1)
    pick = np.arange(0, truth.time_s.size, every)
    n = pick.size
    noise = [
        gauss_markov(generator, n, receiver.interval_s, receiver.wander_m, receiver.wander_s)
        + receiver.white_m * generator.standard_normal(n)
        for _ in range(2)
    ]
    wild = generator.random(n) < receiver.outlier_share
    for axis in noise:
        axis[wild] += generator.normal(0, 60, wild.sum())
    plane = pyproj.Proj(proj="aeqd", lat_0=latitude_deg, lon_0=longitude_deg, ellps="WGS84")
    lon, lat = plane(truth.east_m[pick] + noise[0], truth.north_m[pick] + noise[1], inverse=True)
    quantum = receiver.position_quantum_deg
    lat, lon = np.round(lat / quantum) * quantum, np.round(lon / quantum) * quantum
    speed = np.full(n, np.nan)
    course = np.full(n, np.nan)
    if receiver.doppler_mps is not None:
        v = truth.speed_mps[pick]
        sideways = receiver.doppler_mps * generator.standard_normal(n)
        speed = np.abs(v + receiver.doppler_mps * generator.standard_normal(n) + receiver.doppler_offset_mps)
        speed[v == 0] = np.abs(0.03 * generator.standard_normal((v == 0).sum()))
        if receiver.doppler_quantum_mps:
            speed = np.round(speed / receiver.doppler_quantum_mps) * receiver.doppler_quantum_mps
        if receiver.course:
            course = np.degrees(truth.heading_rad[pick] + sideways / np.maximum(v, 0.3)) % 360
    height = truth.height_m[pick] + receiver.height_white_m * generator.standard_normal(n)
    height += gauss_markov(generator, n, receiver.interval_s, receiver.height_wander_m, 200.0)
    keep = np.ones(n, bool)
    for _ in range(receiver.dropouts):
        begin = int(generator.integers(0, n))
        keep[begin : begin + int(generator.integers(2, 9))] = False
    keep[[0, -1]] = True
    time = start_s + truth.time_s[pick]
    return Track(
        time_s=time[keep], latitude_deg=lat[keep], longitude_deg=lon[keep],
        height_m=height[keep] if receiver.height else np.full(keep.sum(), np.nan), speed_mps=speed[keep],
        course_deg=course[keep], hdop=np.full(keep.sum(), np.nan), segment=np.zeros(keep.sum(), np.int64),
        files=("invented.gpx",),
    )  # fmt: skip
