"""The route of a plan as laps: from a track of it, or from a lap length with bends and stops that are assumed."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.metrology.draws import FloatArray
from calmday.metrology.rounding import format_signed
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.physics.pacing import Paced, pace
from calmday.procedures.drive_of_run import DECLARED_DISTANCE_SD
from calmday.records.plan import Plan
from calmday.reduction.reduced_track import ReducedTrack, Span
from calmday.reduction.track import reduce_track

NODE_M: Final = 10.0
STEP_S: Final = 1.0
"""As for a recorded drive: the likely gears are found on samples a second apart."""

PULL_MPS2: Final = 0.7
BRAKE_MPS2: Final = 1.0
"""How a calm driver pulls away and brakes; common practice, no source."""

RECORDED_MPS2: Final = 2.5
"""Where the speeds are those of a track, pulling away and braking are in it already."""

USUAL_SPEED_MPS: Final = 70 / 3.6
BENDS_PER_KM: Final = 0.4
BEND_SHARE: Final = 0.65
BEND_M: Final = 60.0
STOPS_PER_KM: Final = 0.08
STOP_S: Final = 12.0
LONGEST_STOP_S: Final = 120.0
"""What is assumed of a country loop that nobody has described: a bend every 2.5 km at about two thirds of the speed, a
stop of 12 s every 12 km. Assumed."""

SLOW_SHARE: Final = 0.85
"""Where a recorded drive was slower than this share of its usual speed, the road made it slow."""

RECORDED_DISTANCE_SD: Final = 3e-4
"""Of a distance from a satellite track, relative. docs/accuracy.md, Distance and laps."""

IDLE_AT_ENDS_S: Final = 10.0

TRACKED_PACE_SD: Final = 0.035
DECLARED_PACE_SD: Final = 0.05
"""How far the fuel of the drive as it will be driven lies from that of the plan, because of traffic, hills and the
driver: relative, one standard deviation, with a track of the route and without. Found by studies/plan.py."""


class Route(msgspec.Struct, frozen=True, kw_only=True):
    """One lap on nodes NODE_M apart, arrays (n,): heading, grade, speed limit, and how long it stands there.

    `stops_per_lap` may be a fraction; stops are then placed along all laps together and `hold_s` is zero. `distance_sd`
    relative doubt of the driven distance on the day; `pace_sd` relative doubt of the fuel for how it will be driven.
    """

    length_m: float
    heading_rad: FloatArray
    grade: FloatArray
    limit_mps: FloatArray
    hold_s: FloatArray
    stops_per_lap: float
    stop_s: float
    distance_sd: float
    pace_sd: float
    pull_mps2: float
    brake_mps2: float
    tracked: bool
    elevation_m: float | None
    closed: bool
    speed_mps: float
    notes: tuple[str, ...]


class LappedDrive(msgspec.Struct, frozen=True, kw_only=True):
    """Several laps one after the other in even steps of time: `lap` (n,) counts from 0, `node` (n,) of the lap."""

    paced: Paced
    lap: np.ndarray
    node: np.ndarray


def route_of(plan: Plan) -> Route:
    """The route of a plan. Raises InputError where a track holds no drive."""
    return _from_track(plan, reduce_track(plan.route)) if plan.route is not None else _from_length(plan)


def usual_lap(track: ReducedTrack) -> Span:
    """The lap that took the most usual time, waiting before the first and after the last left out; the whole drive
    where there is none.

    That is the one nearest to the mean: the middle one of an even number would be one of the slower half.
    """
    if not track.laps:
        return Span(0, len(track.time_s))
    taken = np.array([_taken_s(track, lap) for lap in track.laps])
    return track.laps[int(np.argmin(np.abs(taken - taken.mean())))]


def _taken_s(track: ReducedTrack, lap: Span) -> float:
    """How long a lap took: driving, and the stops within it."""
    driving = float(np.count_nonzero(track.moving[lap.start : lap.stop])) * track.step_s
    return driving + sum(length for _, length in _stops_within(track, lap))


def _stops_within(track: ReducedTrack, lap: Span) -> list[tuple[float, float]]:
    """Way from the beginning of the lap (m) and length (s) of its stops; those at its ends are waiting, not driving."""
    way = track.distance_m[lap.start : lap.stop] - track.distance_m[lap.start]
    inside = [s for s in track.stops if lap.start <= s.start and s.stop < lap.stop]
    placed = [(float(way[s.start - lap.start]), (s.stop - s.start) * track.step_s) for s in inside]
    return [(at, min(length, LONGEST_STOP_S)) for at, length in placed if 50 < at < way[-1] - 50]


def _from_track(plan: Plan, track: ReducedTrack) -> Route:
    lap = usual_lap(track)
    part = slice(lap.start, lap.stop)
    way = track.distance_m[part] - track.distance_m[part][0] if lap.stop > lap.start else np.zeros(0)
    if way.size < 30 or way[-1] < 200:
        raise InputError.one(plan.file, "route", "holds no drive of 200 m or more", "a track of the lap, or lap_length")
    nodes = np.arange(0.0, float(way[-1]), NODE_M)
    rising = np.concatenate([[True], np.diff(way) > 0])
    place = way[rising]
    recorded = np.interp(nodes, place, track.speed_mps[part][rising])
    usual = float(np.quantile(recorded, 0.7))
    speed = plan.speed_mps if plan.speed_mps is not None else usual
    slow = recorded < SLOW_SHARE * usual
    limit = recorded if plan.speed_mps is None else np.where(slow, np.minimum(recorded, speed), speed)
    nearest = np.clip(np.searchsorted(place, nodes), 0, place.size - 1)
    hold = np.zeros_like(nodes)
    notes = []
    for at, length in _stops_within(track, lap):
        hold[min(int(at / NODE_M), nodes.size - 1)] += length
    if plan.stops_per_lap is not None:
        hold[:] = 0.0
        limit = np.maximum(limit, 0.25 * usual)
    else:
        notes.append(f"stops as in the track: {int((hold > 0).sum())} on a lap")
    rise = float(track.height_m[part][-1] - track.height_m[part][0]) if track.has_height else 0.0
    closed = bool(track.laps) or track.closed
    if not closed:
        notes.append(
            f"the track does not come back to its start: it ends {format_signed(rise, 0)} m from the height it began at"
        )
    if not track.has_height:
        notes.append("the track has no heights: the road is taken as level")
    return Route(
        length_m=float(way[-1]),
        heading_rad=track.heading_rad[part][rising][nearest],
        grade=np.interp(nodes, place, track.grade[part][rising]),
        limit_mps=np.maximum(limit, 1.5),
        hold_s=hold,
        stops_per_lap=plan.stops_per_lap if plan.stops_per_lap is not None else 0.0,
        stop_s=plan.stop_s if plan.stop_s is not None else STOP_S,
        distance_sd=_distance_sd(plan),
        pace_sd=TRACKED_PACE_SD,
        pull_mps2=RECORDED_MPS2 if plan.speed_mps is None else PULL_MPS2,
        brake_mps2=RECORDED_MPS2 if plan.speed_mps is None else BRAKE_MPS2,
        tracked=True,
        elevation_m=float(np.mean(track.height_m[part])) if track.has_height else None,
        closed=closed,
        speed_mps=speed,
        notes=tuple(notes),
    )


def _from_length(plan: Plan) -> Route:
    assert plan.lap_length_m is not None
    length = plan.lap_length_m.value
    count = max(20, round(length / NODE_M))
    speed = plan.speed_mps if plan.speed_mps is not None else USUAL_SPEED_MPS
    notes = ["no track of the route: the road is taken as level, its headings as in a smooth loop"]
    if plan.speed_mps is None:
        notes.append(f"no speed given: {3.6 * speed:.0f} km/h assumed")
    bends, stops = plan.bends_per_lap, plan.stops_per_lap
    if bends is None:
        bends = max(2.0, BENDS_PER_KM * length / 1000)
        notes.append(f"{bends:.0f} bends on a lap assumed")
    slow = plan.bend_mps if plan.bend_mps is not None else BEND_SHARE * speed
    if stops is None:
        stops = STOPS_PER_KM * length / 1000
        notes.append(f"a stop every {1 / STOPS_PER_KM:.0f} km assumed")
    limit = np.full(count, speed)
    half = max(1, round(BEND_M / 2 / NODE_M))
    for k in range(round(bends)):
        middle = int((k + 0.5) * count / round(bends))
        limit[max(0, middle - half) : middle + half] = min(slow, speed)
    return Route(
        length_m=length,
        heading_rad=2 * np.pi * np.arange(count) / count,
        grade=np.zeros(count),
        limit_mps=limit,
        hold_s=np.zeros(count),
        stops_per_lap=stops,
        stop_s=plan.stop_s if plan.stop_s is not None else STOP_S,
        distance_sd=_distance_sd(plan),
        pace_sd=DECLARED_PACE_SD,
        pull_mps2=PULL_MPS2,
        brake_mps2=BRAKE_MPS2,
        tracked=False,
        elevation_m=None,
        closed=True,
        speed_mps=speed,
        notes=tuple(notes),
    )


def _distance_sd(plan: Plan) -> float:
    """Relative doubt of the distance that will be driven: by a recorded track, or by laps and their length."""
    if plan.record_track:
        return RECORDED_DISTANCE_SD
    lap = plan.lap_length_m
    return lap.half_width / HALF_WIDTH_PER_SD / lap.value if lap and lap.half_width else DECLARED_DISTANCE_SD


def drive_laps(route: Route, laps: int) -> LappedDrive:
    """The laps of a route from rest to rest, with a short idle at either end."""
    size = route.limit_mps.size
    node_m = route.length_m / size
    limit, hold = np.tile(route.limit_mps, laps), np.tile(route.hold_s, laps)
    total = limit.size
    if route.stops_per_lap > 0:
        apart = size / route.stops_per_lap
        places = (np.arange(math.floor(total / apart + 0.5)) + 0.5) * apart
        hold[np.minimum(places.astype(np.int64), total - 1)] = max(route.stop_s, STEP_S)
    limit, hold = np.append(limit, 0.0), np.append(hold, IDLE_AT_ENDS_S)
    hold[0] = max(hold[0], IDLE_AT_ENDS_S)
    paced = pace(limit, hold, node_m, acceleration_mps2=route.pull_mps2, braking_mps2=route.brake_mps2, step_s=STEP_S)
    node = np.minimum(paced.node, total - 1)
    return LappedDrive(paced=paced, lap=node // size, node=node % size)
