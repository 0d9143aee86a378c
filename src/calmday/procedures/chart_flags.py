"""What the eye should check on a traced chart."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from calmday.metrology.figure import Figure
from calmday.physics.power_torque import agreement
from calmday.procedures.flag import Flag, flag
from calmday.procedures.run_flags_curve import agreement_flags
from calmday.records.vehicle import FullLoadCurve

if TYPE_CHECKING:
    from calmday.procedures.chart_trace import ChartReading
    from calmday.procedures.chart_trace_result import FullLoadPoint, TracedCurve

SKEWED_DEG: Final = 1.0
ANOTHER_SHARE: Final = 0.6
WIDE_BAND: Final = 0.05


def flags_of_trace(
    reading: ChartReading, curves: tuple[TracedCurve, ...], points: tuple[FullLoadPoint, ...]
) -> tuple[Flag, ...]:
    """All flags of a traced chart, in the order in which to look."""
    return (
        *_marks(reading),
        *(one for number, curve in enumerate(curves) for one in _curve(reading, number, curve)),
        *_agreement(points),
        *_doubt(points),
        *_whose(reading),
    )


def _marks(reading: ChartReading) -> Iterator[Flag]:
    plane = reading.plane
    if plane.spare > 0 and plane.residual_px > max(2.5, 0.002 * reading.picture.width):
        yield flag(
            "marks-do-not-fit", "caution",
            f"The marks lie {plane.residual_px:.0f} pixels from where one map of the picture would have them.",
            "A mark has a wrong place or value, or the picture is bent or taken at an angle.",
            "Check each mark. For a photograph mark four crossings of grid lines, with both values.",
        )  # fmt: skip
    if plane.kind == "affine" and plane.skew_deg > SKEWED_DEG:
        yield flag(
            "picture-skewed", "caution",
            f"The axes in the picture are {plane.skew_deg:.1f} degrees off a right angle.",
            "A photograph taken at an angle also shrinks towards one side, and two marks on each axis cannot say how "
            "much: the far side may be off by several per cent.",
            "Mark four crossings of grid lines, with both values at each.",
        )  # fmt: skip


def _curve(reading: ChartReading, number: int, curve: TracedCurve) -> Iterator[Flag]:
    asked = reading.curves[number]
    if asked.another > ANOTHER_SHARE:
        yield flag(
            "another-line", "caution",
            f"Beside the {curve.of} curve another line of the same colour runs through the picture.",
            "Which of the two is meant cannot be seen from the colour.",
            "Put a guide on the one you mean, near its middle and near a crossing.",
        )  # fmt: skip
    if curve.gaps:
        where = ", ".join(f"{gap.start.value:.0f} to {gap.end.value:.0f}" for gap in curve.gaps[:6])
        yield flag(
            "curve-bridged", "note",
            f"The {curve.of} curve could not be seen from {where} rpm and was bridged there.",
            "A bridge follows the slopes at its two ends; the band is wider on it.",
            "Look at the picture there, and put a point by hand where the curve runs otherwise.",
        )  # fmt: skip
    beyond = [point for point in curve.points if point.beyond_marks]
    if beyond:
        speeds = ", ".join(f"{point.engine_speed.value:.0f}" for point in beyond[:8])
        yield flag(
            "beyond-the-marks", "note",
            f"The {curve.of} curve runs past your outermost marks, at {speeds} rpm.",
            "There the scale is carried on from between the marks, and an error of a mark grows.",
            "Mark the ends of the axis.",
        )  # fmt: skip
    if not asked.by_hand.all() and curve.seen_share < 0.5:
        yield flag(
            "curve-hardly-seen", "caution",
            f"Only {100 * curve.seen_share:.0f} % of the {curve.of} curve could be seen.",
            "Dashes, labels or another colour hide the rest.",
            "Point at the curve's own colour, or put points by hand.",
        )  # fmt: skip


def _agreement(points: tuple[FullLoadPoint, ...]) -> Iterator[Flag]:
    both = [point for point in points if point.power_over_torque_speed is not None]
    if len(both) < 2:
        return
    rps = np.array([p.engine_speed.value / 60 for p in both])
    torque, power = np.array([p.torque.value for p in both]), np.array([1000 * p.power.value for p in both])
    band = np.array([np.hypot(_relative(p.torque), _relative(p.power)) for p in both])
    curve = FullLoadCurve(tuple(rps.tolist()), tuple(torque.tolist()), tuple(power.tolist()))
    yield from agreement_flags(curve, agreement(rps, torque, power, np.maximum(0.015, band)))


def _relative(figure: Figure) -> float:
    return figure.half_width / max(abs(figure.value), 1e-9)


def _doubt(points: tuple[FullLoadPoint, ...]) -> Iterator[Flag]:
    bands = [p.torque.half_width / abs(p.torque.value) for p in points if abs(p.torque.value) > 1e-9]
    usual = float(np.median(bands)) if bands else 0.0
    if usual > WIDE_BAND:
        yield flag(
            "band-wide", "caution",
            f"The curve can be read to {100 * usual:.0f} % only.",
            "The marks lie close together, or the picture is small for them.",
            "Mark the far ends of each axis, or use a larger picture.",
        )  # fmt: skip


def _whose(reading: ChartReading) -> Iterator[Flag]:
    chart = reading.chart
    if not chart.source:
        yield flag(
            "source-not-noted", "note",
            "Nobody says where this chart comes from.",
            "Gross or net, engine or wheel, this pump setting or another, a marine or short-time rating: the chart's "
            "own page says.",
            "Note source and page, and check that it is the chart of this engine as it is set.",
        )  # fmt: skip
    elif not chart.licence:
        yield flag(
            "licence-not-noted", "note",
            "Nobody says whether this picture may be shown.",
            "Figures read off a chart are yours; the picture is its maker's.",
            "Note the licence before you publish the picture itself.",
        )  # fmt: skip
