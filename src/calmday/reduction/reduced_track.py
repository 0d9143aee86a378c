"""What a track becomes after reduction: a drive sampled every second, each quantity with its doubt."""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


class Span(msgspec.Struct, frozen=True):
    """Samples `start` (included) to `stop` (excluded) of a reduced track."""

    start: int
    stop: int


class Gap(msgspec.Struct, frozen=True):
    """A hole in the recording. `bridged`: short enough for the motion to be filled in; else left out of the drive.

    `distance_m` the way across: as filled in, or along another lap of the same road, or from the straight line and
    the speeds on either side; `distance_sd_m` its doubt where it was not filled in.
    """

    start_s: float
    end_s: float
    distance_m: float
    bridged: bool
    distance_sd_m: float = 0.0


class TrackFinding(msgspec.Struct, frozen=True):
    """Something the reduction met and dealt with. `count` fixes concerned, `detail` in words."""

    kind: Literal["outliers", "doubled times", "backward times", "parked wander", "no times", "reader", "odd speeds"]
    count: int
    detail: str


class ReducedTrack(msgspec.Struct, frozen=True, kw_only=True):
    """A drive on an even time grid of `step_s` (1 s), shape (n,) each; sample i stands for t_i -+ step/2.

    `time_s` seconds since 1970 UTC. `east_m`, `north_m` on the local tangent plane. `heading_rad` clockwise from true
    north, held while parked. `grade` rise over run along the path. `*_sd` one standard deviation. `distance_m`
    cumulative path length, bias corrected, without parked wander. `moving` false while parked. `bridged` true where
    no fix supports the sample. Long gaps are not in the grid: `time_s` jumps there and `segment` counts up;
    `distance_m` takes the way across in one step, as the fuel was burnt over it. `lap_distance_m` lengths of `laps`,
    whose ends lie between samples.
    """

    step_s: float
    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    speed_mps: FloatArray
    speed_sd_mps: FloatArray
    acceleration_mps2: FloatArray
    acceleration_sd_mps2: FloatArray
    heading_rad: FloatArray
    height_m: FloatArray
    height_sd_m: FloatArray
    grade: FloatArray
    grade_sd: FloatArray
    distance_m: FloatArray
    moving: BoolArray
    bridged: BoolArray
    segment: IntArray
    total_distance_m: float
    total_distance_sd_m: float
    moving_time_s: float
    laps: tuple[Span, ...] = ()
    lap_distance_m: tuple[float, ...] = ()
    closed: bool = False
    stops: tuple[Span, ...] = ()
    gaps: tuple[Gap, ...] = ()
    findings: tuple[TrackFinding, ...] = ()
    has_height: bool = True
    has_doppler: bool = False
