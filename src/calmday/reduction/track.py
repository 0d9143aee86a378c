"""From raw fixes to a clean drive: the order of the steps, nothing else."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.middle import median
from calmday.metrology.rounding import counted
from calmday.records.track import Track
from calmday.reduction.fixes import Fixes, clean
from calmday.reduction.gaps import Hole, along_known_road, holes_of, list_gaps
from calmday.reduction.height import profile
from calmday.reduction.laps import find_laps
from calmday.reduction.motion import Motion, find_motion
from calmday.reduction.places import first_visits, path_of
from calmday.reduction.projection import plane_for
from calmday.reduction.reduced_track import ReducedTrack, TrackFinding
from calmday.reduction.stops import stops

FloatArray = NDArray[np.float64]

_WANDER_WORTH_TELLING_M = 20.0

_MODEL_SHARE = 1.2e-4
"""Relative doubt of the distance that the motion model does not know of itself (corners cut or swung out, wander that
looks
like motion), one standard deviation: what was left over on invented drives, docs/accuracy.md."""


def reduce_track(track: Track) -> ReducedTrack:
    """Reduce a recorded track to a drive on an even one-second grid. InputError where it holds no usable drive."""
    fixes = clean(track)
    known = np.isfinite(fixes.height_m)
    plane = plane_for(fixes.latitude_deg, fixes.longitude_deg, median(fixes.height_m[known]) if known.any() else 0.0)
    east, north = plane.to_plane(fixes.latitude_deg, fixes.longitude_deg)
    motion = find_motion(fixes, east, north)
    latitude, longitude = plane.to_geographic(motion.place[:, 0], motion.place[:, 1])
    scale, convergence = plane.scale_and_convergence(latitude, longitude)
    holes = holes_of(motion, scale)
    level = _level_way(motion, scale, holes)
    path = path_of(motion.place[:, 0], motion.place[:, 1], level)
    same, against = first_visits(path, False), first_visits(path, True)
    course = find_laps(path, same, against, level.size)
    road = profile(path, same, against, np.interp(fixes.time_s, motion.time_s, level), fixes.height_m, level)
    slope = np.hypot(1.0, road.grade)
    if holes:
        holes = along_known_road(holes, path, same, motion, course.lap_m)
        level = _level_way(motion, scale, holes)
    distance = _along_slope(level, slope)
    lap_edges = np.interp(course.edges, np.arange(distance.size), distance)
    moving = ~motion.still
    heading = np.arctan2(motion.along[:, 0], motion.along[:, 1]) + convergence
    return ReducedTrack(
        step_s=motion.grid.step_s,
        time_s=motion.time_s,
        east_m=motion.place[:, 0],
        north_m=motion.place[:, 1],
        latitude_deg=latitude,
        longitude_deg=longitude,
        speed_mps=motion.speed_mps * slope / scale,
        speed_sd_mps=motion.speed_sd_mps,
        acceleration_mps2=motion.acceleration_mps2 * slope / scale,
        acceleration_sd_mps2=motion.acceleration_sd_mps2,
        heading_rad=heading % (2 * np.pi),
        height_m=road.height_m,
        height_sd_m=road.height_sd_m,
        grade=road.grade,
        grade_sd=road.grade_sd,
        distance_m=distance,
        moving=moving,
        bridged=~motion.supported,
        segment=motion.segment,
        total_distance_m=float(distance[-1]),
        total_distance_sd_m=math.hypot(
            motion.way_sd_m, _MODEL_SHARE * float(distance[-1]), *(hole.sd_m for hole in holes)
        ),
        moving_time_s=float(moving.sum()) * motion.grid.step_s,
        laps=course.laps,
        lap_distance_m=tuple(np.diff(lap_edges).tolist()),
        closed=course.closed,
        stops=stops(moving, motion.segment, motion.grid.step_s),
        gaps=list_gaps(fixes, motion, holes, distance),
        findings=findings(fixes, motion),
        has_height=bool(known.any()),
        has_doppler=motion.speeds is not None and motion.speeds.usable,
    )


def _level_way(motion: Motion, scale: FloatArray, holes: list[Hole]) -> FloatArray:
    """Cumulative level path length at grid times [m], the map plane's scale taken off, holes taken in one step."""
    way = np.zeros(motion.time_s.size)
    inner = np.flatnonzero(np.diff(motion.segment) == 0)
    way[inner + 1] = motion.way_m / ((scale[inner] + scale[inner + 1]) / 2)
    for hole in holes:
        way[hole.before + 1] = hole.distance_m
    return np.cumsum(way)


def _along_slope(level_m: FloatArray, slope: FloatArray) -> FloatArray:
    """Cumulative length along the road from that on the level: ds = dx sqrt(1 + grade^2)."""
    steps = np.diff(level_m, prepend=0.0)
    steps[1:] *= (slope[1:] + slope[:-1]) / 2
    return np.cumsum(steps)


def findings(fixes: Fixes, motion: Motion) -> tuple[TrackFinding, ...]:
    """What was met and dealt with, one line of each kind."""
    out = list(fixes.findings)
    count = int(motion.outliers.sum())
    if count:
        out.append(
            TrackFinding("outliers", count, f"{counted(count, 'fix', 'fixes')} far off the way driven, not believed")
        )
    if motion.parked_wander_m > _WANDER_WORTH_TELLING_M:
        parked = int(motion.still.sum())
        seconds = parked * motion.grid.step_s
        words = f"{motion.parked_wander_m:.0f} m of wander while parked for {seconds:.0f} s left out"
        out.append(TrackFinding("parked wander", parked, words))
    if motion.speeds is not None and motion.speeds.trouble:
        out.append(TrackFinding("odd speeds", int(motion.speeds.fix.size), motion.speeds.trouble))
    return tuple(out)
