"""A picture of a full-load chart as somebody marked it: known places on the axes, and the curves to follow."""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

AxisScale = Literal["linear", "logarithmic"]
AXIS_SCALES: tuple[str, ...] = get_args(AxisScale)
CurveOf = Literal["torque", "power"]
CURVES_OF: tuple[str, ...] = get_args(CurveOf)

Pixel = tuple[float, float]
"""A place in the picture, pixels from the left and from the top; whole numbers are the middle of a pixel."""


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """A place in the picture with the values known there, SI: engine speed (1/s), torque (N m), power (W).

    One value: a tick on that axis. Engine speed and one of the others: a crossing of two grid lines.
    """

    at: Pixel
    speed_rps: float | None = None
    torque_nm: float | None = None
    power_w: float | None = None


class CurveAsked(msgspec.Struct, frozen=True, kw_only=True):
    """A curve to follow. `colour` red, green, blue from 0 to 255; None: the ink at `colour_at`, or only `points`.

    `guides` places it goes through, roughly; `points` places put by hand, which stand whatever the picture says.
    `from_rps`, `to_rps` cut it to a range of engine speed; `leave_out_rps` engine speeds not to write down.
    """

    of: CurveOf
    colour: tuple[int, int, int] | None = None
    colour_at: Pixel | None = None
    guides: tuple[Pixel, ...] = ()
    points: tuple[Pixel, ...] = ()
    from_rps: float | None = None
    to_rps: float | None = None
    leave_out_rps: tuple[float, ...] = ()


class ChartPicture(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that is known about one picture of a chart. `mark_pm_px` 95 % half width of a mark's place, pixels."""

    picture: str
    data: bytes
    marks: tuple[Mark, ...]
    curves: tuple[CurveAsked, ...]
    speed_scale: AxisScale = "linear"
    torque_scale: AxisScale = "linear"
    power_scale: AxisScale = "linear"
    mark_pm_px: float | None = None
    source: str = ""
    page: str = ""
    licence: str = ""
    label: str = ""
    file: str = ""
