"""The sheet of a traced chart: the curve in one sentence, its points, what to look at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, number

if TYPE_CHECKING:
    from calmday.procedures.chart_trace_result import TracedCurve, TraceResult


def trace_headline(result: TraceResult) -> str:
    """Most torque and most power with where they are, and how well the chart was read."""
    points = result.full_load
    strong = max(points, key=lambda p: p.torque.value)
    best = max(points, key=lambda p: p.power.value)
    bands = [100 * p.torque.half_width / abs(p.torque.value) for p in points if abs(p.torque.value) > 1e-9]
    band = float(np.median(bands)) if bands else 0.0
    return (
        f"The chart gives {number(strong.torque.value, 0)} N m at {number(strong.engine_speed.value, 0)} rpm and "
        f"{number(best.power.value, 1)} kW at {number(best.engine_speed.value, 0)} rpm, read to within "
        f"{number(band, 1)} %."
    )


def trace_sheet(result: TraceResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _full_load(result),
        remarks("Look at the picture again", result.flags, ("caution",)),
        *(_curve(curve) for curve in result.curves),
        remarks("Worth knowing", result.flags, ("note",)),
        _how(result),
    ]
    return Sheet(
        title=clean(result.label),
        lead=clean(result.sentence) or trace_headline(result),
        under=("The eye stays in charge: look at the curve drawn over the picture before you use it.",),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _full_load(result: TraceResult) -> Table:
    both = any(p.power_over_torque_speed is not None for p in result.full_load)
    columns = (
        Column("rpm", "right"),
        Column("torque, N m", "right"),
        Column("power, kW", "right"),
        *((Column("power / (torque x speed)", "right", 1),) if both else ()),
    )
    rows = tuple(
        (
            number(p.engine_speed.value, 0),
            amount(p.torque, most_decimals=1),
            amount(p.power, most_decimals=2),
            *(("-" if p.power_over_torque_speed is None else number(p.power_over_torque_speed, 3),) if both else ()),
        )
        for p in result.full_load
    )
    note = "Give or take (±) is the reading alone: that your engine is not quite its chart comes on top."
    return Table(title="Full load as the chart has it", columns=columns, rows=rows, note=note)


def _curve(curve: TracedCurve) -> Table:
    what, unit = ("torque", "N m") if curve.of == "torque" else ("power", "kW")
    columns = (
        Column("rpm", "right"),
        Column(f"{what}, {unit}", "right"),
        Column("known"),
        Column("pixel", "right", 1),
    )
    rows = tuple(
        (
            number(p.engine_speed.value, 0),
            amount(p.torque if curve.of == "torque" else p.power, most_decimals=2),
            p.origin + (", past the marks" if p.beyond_marks else ""),
            f"{p.at[0]:.0f}, {p.at[1]:.0f}",
        )
        for p in curve.points
    )
    colour = f" ({curve.colour}, line of {number(curve.line_px, 1)} pixels)" if curve.colour else " (by hand)"
    return Table(title=f"The {what} curve{colour}", columns=columns, rows=rows)


def _how(result: TraceResult) -> Prose:
    picture, made = result.picture, result.provenance
    kind = "shifted, turned, stretched or slanted" if picture.map_kind == "affine" else "in perspective"
    whence = "; ".join(clean(t) for t in (picture.source, picture.page, picture.licence) if t) or "not noted"
    return Prose(
        title="How it was found",
        lines=(
            f"{clean(picture.file)}, {picture.width} x {picture.height} pixels, taken for {kind}; marks believed to "
            f"within {number(picture.marks_pm_px, 1)} pixels. Source: {whence}.",
            "The line is followed by its colour, to its middle; grid lines and letters are left aside. The band holds "
            "the places of the marks, the thickness of the line, and gaps.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
