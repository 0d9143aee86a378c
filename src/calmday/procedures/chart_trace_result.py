"""What a traced chart gives: the result as `calmday trace --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/trace/1"

PointOrigin = Literal["seen", "bridged", "by hand"]


class TracedPoint(msgspec.Struct, frozen=True, kw_only=True):
    """A point of a traced curve. `at` its place in the picture, pixels from left and top. `origin` "seen" in the
    picture, "bridged" across a gap, or put "by hand". `beyond_marks`: outside what the marks enclose."""

    engine_speed: Figure
    torque: Figure
    power: Figure
    at: tuple[float, float]
    origin: PointOrigin
    beyond_marks: bool


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch of engine speed where the curve could not be seen and was bridged."""

    start: Figure
    end: Figure


class TracedCurve(msgspec.Struct, frozen=True, kw_only=True):
    """One curve of the picture. `line_px` thickness of its line; `seen_share` of its length that could be seen;
    `course` its places in the picture from left to right, pixels."""

    of: Literal["torque", "power"]
    colour: str
    line_px: float
    seen_share: float
    points: tuple[TracedPoint, ...]
    gaps: tuple[Gap, ...]
    course: tuple[tuple[float, float], ...]


class FullLoadPoint(msgspec.Struct, frozen=True, kw_only=True):
    """A point of the curve to go by. `power_over_torque_speed` power read over torque read times speed, None where only
    one of them is known there."""

    engine_speed: Figure
    torque: Figure
    power: Figure
    power_over_torque_speed: float | None


class PictureSeen(msgspec.Struct, frozen=True, kw_only=True):
    """The picture. `map_kind` "affine" or "projective"; `marks_off_px` how far marks lie from where the map has them,
    `marks_pm_px` how well they are believed."""

    file: str
    width: int
    height: int
    source: str
    page: str
    licence: str
    map_kind: Literal["affine", "projective"]
    marks_off_px: float
    marks_pm_px: float
    skew_deg: float


class TraceResult(msgspec.Struct, frozen=True, kw_only=True):
    """A full-load curve from a picture. `full_load` is what goes into the build sheet."""

    schema: str = SCHEMA
    label: str
    sentence: str
    picture: PictureSeen
    curves: tuple[TracedCurve, ...]
    full_load: tuple[FullLoadPoint, ...]
    flags: tuple[Flag, ...]
    provenance: Provenance
