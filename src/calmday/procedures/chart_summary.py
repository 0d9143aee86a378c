"""From traced curves to the full-load curve: round engine speeds, and figures with their bands."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact, from_draws
from calmday.procedures.chart_flags import flags_of_trace
from calmday.procedures.chart_trace import SLOWEST_RPS, ChartReading, CurveReading
from calmday.procedures.chart_trace_result import (
    FullLoadPoint,
    Gap,
    PictureSeen,
    PointOrigin,
    TracedCurve,
    TracedPoint,
    TraceResult,
)
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.vehicle import FullLoadCurve

FloatArray = NDArray[np.float64]

STEPS_RPM: Final = (50, 100, 200, 250, 500, 1000, 2000)
FEWEST_POINTS: Final = 7
MOST_POINTS: Final = 40
NEAR_RPM: Final = 30.0
FEWEST_LEFT: Final = 2

CHORD: Final = 0.003
"""Share of its top by which the curve may bow from the straight line between two points before another is put in."""

GAP_SHARE: Final = 0.02
"""Share of the curve's length from which a bridged stretch is told."""

LEAST_BAND: Final = 0.002
"""Relative 95 % half width that no reading off a picture is better than. Assumed."""


class ValueCurve:
    """Engine speed and value of one reading, as read and per draw of the marks."""

    def __init__(self, reading: ChartReading, curve: CurveReading) -> None:
        of, plane = curve.asked.of, reading.plane
        self.reading = curve
        turning = plane.values(of, plane.to_axes(of, curve.places))[:, 0] > SLOWEST_RPS
        places, sd = curve.places[turning], curve.sd_px[turning]
        values = plane.values(of, plane.to_axes(of, places))
        self.rps, self.value = _ascending(values)
        order = np.argsort(values[:, 0], kind="stable")
        self.seen, self.by_hand = curve.seen[turning][order], curve.by_hand[turning][order]
        self.places = places[order]
        self._draws = [_ascending(p.values(of, p.to_axes(of, places))) for p in reading.others if of in p.matrices]
        away = places + np.column_stack([np.zeros(len(places)), sd])
        moved = plane.values(of, plane.to_axes(of, away))
        self._sd = np.abs(moved[:, 1] - values[:, 1])[order]
        self._scores = reading.scores

    def covers(self, rps: float) -> bool:
        """Whether the curve reaches this engine speed."""
        return bool(self.rps[0] - 1e-9 <= rps <= self.rps[-1] + 1e-9)

    def at(self, rps: float) -> float:
        """The value as read."""
        return float(np.interp(rps, self.rps, self.value))

    def drawn(self, rps: float) -> FloatArray:
        """The value for every draw of the marks and of the line's middle, centred on what was read, (m,)."""
        read = np.array([np.interp(rps, speed, value) for speed, value in self._draws])
        share = (rps - self.rps[0]) / max(self.rps[-1] - self.rps[0], 1e-9)
        turn = 0.5 * math.pi * min(max(share, 0.0), 1.0)
        level, tilt = self._scores[: read.size, 0], self._scores[: read.size, 1]
        sd = math.hypot(float(np.interp(rps, self.rps, self._sd)), LEAST_BAND / 1.96 * abs(self.at(rps)))
        own = sd * (math.cos(turn) * level + math.sin(turn) * tilt)
        return np.asarray(self.at(rps) + (read - read.mean()) + own)

    def origin(self, rps: float) -> PointOrigin:
        """How the curve is known at the nearest place."""
        nearest = int(np.argmin(np.abs(self.rps - rps)))
        return "by hand" if self.by_hand[nearest] else "seen" if self.seen[nearest] else "bridged"

    def place(self, rps: float) -> tuple[float, float]:
        """Its place in the picture, pixels."""
        x, y = (float(np.interp(rps, self.rps, self.places[:, i])) for i in (0, 1))
        return round(x, 1), round(y, 1)


def _ascending(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    order = np.argsort(values[:, 0], kind="stable")
    return values[order, 0], values[order, 1]


def result_of(reading: ChartReading, provenance: Provenance) -> TraceResult:
    """The result of a reading; its sentence is put in by the report."""
    curves = [ValueCurve(reading, curve) for curve in reading.curves]
    traced = tuple(_traced(reading, curve) for curve in curves)
    points = _full_load(curves)
    chart, plane = reading.chart, reading.plane
    picture = PictureSeen(
        file=chart.picture, width=reading.picture.width, height=reading.picture.height, source=chart.source,
        page=chart.page, licence=chart.licence, map_kind=plane.kind, marks_off_px=round(plane.residual_px, 2),
        marks_pm_px=round(reading.marks_pm_px, 2), skew_deg=round(plane.skew_deg, 2),
    )  # fmt: skip
    return TraceResult(
        label=chart.label, sentence="", picture=picture, curves=traced, full_load=points,
        flags=flags_of_trace(reading, traced, points), provenance=provenance,
    )  # fmt: skip


def curve_record(points: tuple[FullLoadPoint, ...], source: str = "") -> FullLoadCurve:
    """The traced points as the record a build sheet holds; power where it was read at every point."""
    both = all(point.power_over_torque_speed is not None for point in points)
    return FullLoadCurve(
        speed_rps=tuple(p.engine_speed.value / 60 for p in points),
        torque_nm=tuple(p.torque.value for p in points),
        power_w=tuple(1000 * p.power.value for p in points) if both else None,
        source=source,
        half_width=tuple(half_width_percent(p) / 100 for p in points),
    )


def half_width_percent(point: FullLoadPoint) -> float:
    """95 % half width of a torque, per cent of it, between a fifth and the whole."""
    if abs(point.torque.value) < 1e-9:
        return 100.0
    return float(np.clip(100 * point.torque.half_width / abs(point.torque.value), 100 * LEAST_BAND, 100.0))


def _traced(reading: ChartReading, curve: ValueCurve) -> TracedCurve:
    asked = curve.reading.asked
    speeds = _speeds(curve)
    low, high = _marked(reading)
    points = tuple(
        TracedPoint(
            engine_speed=exact(round(60 * rps, 3), "rpm"), at=curve.place(rps), origin=curve.origin(rps),
            beyond_marks=not low - 0.01 * (high - low) <= rps <= high + 0.01 * (high - low),
            **_both(asked.of, rps, curve.at(rps), curve.drawn(rps)),
        )
        for rps in speeds
    )  # fmt: skip
    course = curve.places[:: max(len(curve.places) // 240, 1)]
    ink = curve.reading.ink
    line = curve.reading.line_px
    return TracedCurve(
        of=asked.of,
        colour="" if ink is None else "#{:02x}{:02x}{:02x}".format(*(min(max(c, 0), 255) for c in ink)),
        line_px=round(line, 1),
        seen_share=round(float(np.mean(curve.seen | curve.by_hand)), 3),
        points=points,
        gaps=tuple(_gaps(curve)),
        course=tuple((round(float(x), 1), round(float(y), 1)) for x, y in course),
    )


def _both(of: str, rps: float, value: float, drawn: FloatArray) -> dict[str, Figure]:
    turns = 2 * math.pi * rps
    torque, torques = (value, drawn) if of == "torque" else (value / turns, drawn / turns)
    return {
        "torque": _centred(torque, torques, "N*m"),
        "power": _centred(torque * turns / 1000, torques * turns / 1000, "kW"),
    }


def _centred(value: float, drawn: FloatArray, unit: str) -> Figure:
    found = from_draws(drawn, unit)
    return Figure(value, found.standard_uncertainty, min(found.low, value), max(found.high, value), unit)


def _marked(reading: ChartReading) -> tuple[float, float]:
    given = [mark.speed_rps for mark in reading.chart.marks if mark.speed_rps is not None]
    return min(given), max(given)


def _gaps(curve: ValueCurve) -> list[Gap]:
    known = np.flatnonzero(curve.seen | curve.by_hand)
    if curve.by_hand.all():
        return []
    told = []
    span = curve.rps[-1] - curve.rps[0]
    for left, right in pairwise(known.tolist()):
        if right - left > 1 and curve.rps[right] - curve.rps[left] > GAP_SHARE * span:
            told.append(
                Gap(start=exact(round(60 * curve.rps[left]), "rpm"), end=exact(round(60 * curve.rps[right]), "rpm"))
            )
    return told


def _speeds(curve: ValueCurve) -> list[float]:
    """Round engine speeds at which to write a curve down, 1/s: with its ends, and closer where it bends."""
    low, high = 60 * float(curve.rps[0]), 60 * float(curve.rps[-1])
    if curve.by_hand.all():
        return _without(curve, [float(rps) for rps in curve.rps])
    fits = [step for step in STEPS_RPM if (high - low) / step >= FEWEST_POINTS]
    step = max(fits) if fits else (high - low) / FEWEST_POINTS
    inner = step * np.arange(math.ceil(low / step), math.floor(high / step) + 1)
    ends = (10 * math.ceil(low / 10 - 1e-9), 10 * math.floor(high / 10 + 1e-9))
    chosen = sorted({*(float(n) for n in inner if ends[0] + 0.3 * step < n < ends[1] - 0.3 * step), *map(float, ends)})
    return _without(curve, [n / 60 for n in _closer(curve, chosen)])


def _without(curve: ValueCurve, speeds: list[float]) -> list[float]:
    """The engine speeds but for those that somebody wants left out; two at least stay."""
    out = curve.reading.asked.leave_out_rps
    kept = [rps for rps in speeds if all(60 * abs(rps - other) > NEAR_RPM for other in out)]
    return kept if len(kept) >= FEWEST_LEFT else speeds


def _closer(curve: ValueCurve, speeds: list[float]) -> list[float]:
    """More points at multiples of 10 rpm where a straight line between two would leave the curve."""
    fine = 10 * np.arange(math.ceil(speeds[0] / 10), math.floor(speeds[-1] / 10) + 1)
    true = np.interp(fine / 60, curve.rps, curve.value)
    top = float(np.abs(true).max())
    chosen = list(speeds)
    while len(chosen) < MOST_POINTS:
        straight = np.interp(fine, chosen, np.interp(np.array(chosen) / 60, curve.rps, curve.value))
        worst = int(np.argmax(np.abs(true - straight)))
        if abs(true[worst] - straight[worst]) < CHORD * top or float(fine[worst]) in chosen:
            break
        chosen = sorted([*chosen, float(fine[worst])])
    return chosen


def _full_load(curves: list[ValueCurve]) -> tuple[FullLoadPoint, ...]:
    """The curve to go by: torque as read, or from power where torque was not drawn."""
    torque = next((c for c in curves if c.reading.asked.of == "torque"), None)
    power = next((c for c in curves if c.reading.asked.of == "power"), None)
    first = torque or power
    assert first is not None
    speeds = _speeds(first)
    if torque is not None and power is not None:
        spare = 0.02 * (torque.rps[-1] - torque.rps[0])
        speeds = sorted(
            [*speeds, *(n for n in _speeds(power) if n < torque.rps[0] - spare or n > torque.rps[-1] + spare)]
        )
    found = []
    for rps in speeds:
        turns = 2 * math.pi * rps
        has_torque = torque is not None and torque.covers(rps)
        has_power = power is not None and power.covers(rps)
        if has_torque:
            assert torque is not None
            figures = _both("torque", rps, torque.at(rps), torque.drawn(rps))
        else:
            assert power is not None
            figures = _both("power", rps, power.at(rps), power.drawn(rps))
        ratio = None
        if has_torque and has_power:
            assert power is not None
            figures["power"] = _centred(power.at(rps) / 1000, power.drawn(rps) / 1000, "kW")
            product = turns * figures["torque"].value
            ratio = round(power.at(rps) / product, 4) if abs(product) > 1e-6 else None
        found.append(
            FullLoadPoint(engine_speed=exact(round(60 * rps, 3), "rpm"), power_over_torque_speed=ratio, **figures)
        )
    return tuple(found)
