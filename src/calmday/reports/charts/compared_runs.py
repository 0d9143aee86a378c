"""Every run of a comparison: a row for each, or, where there is no room for that, a row for each group with dots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from calmday.metrology.rounding import counted
from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.rows import Lanes, Row, draw_marks, lay_out, mark_radius, room_for
from calmday.reports.charts.scale import Scale
from calmday.reports.words import amount, is_known, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.comparison_result import ComparedRun, ComparisonResult

NONE_FITTED = "none of them"
_LOOKS = (("first", "circle"), ("second", "square"))


def compared_runs_chart(result: ComparisonResult) -> Chart | None:
    """Every run that counts, as compared: levels on the calm day, or as driven."""
    used = [run for run in result.runs if run.used]
    if len(used) < 2:
        return None
    if all(run.order is not None for run in used):
        used = sorted(used, key=lambda run: run.order or 0)
    leveled = all(run.level is not None for run in used)
    rows = [_run(run, result, leveled) for run in used]
    levels = [
        (name, _group(name, figure, changed))
        for name, figure, changed in (
            (result.baseline, result.baseline_g_per_km, False),
            (result.changed, result.changed_g_per_km, True),
        )
        if figure is not None
    ]
    title = "The runs"
    note = "g/km on the calm day over the same drive" if leveled else "g/km as driven"

    def draw(canvas: Canvas) -> None:
        room = canvas.frame.rows if canvas.frame.height is None else None
        top = canvas.heading(title, note)
        room = room or room_for(canvas, top, True)
        gathered = len(rows) + len(levels) > room
        shown = _fitting(_gathered(used, rows, levels), room) if gathered else [*rows, *(row for _, row in levels)]
        lanes = lay_out(canvas, shown, top, axis=True)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, "small marks: single runs" if gathered else "", "g/km"))
        draw_marks(canvas, lanes)
        if gathered:
            _dots(canvas, lanes)

    columns = (
        DataColumn("run"),
        DataColumn("group"),
        DataColumn("as driven", "g/km"),
        DataColumn("as compared", "g/km"),
    )
    cells = tuple(
        (run.label, _kind(run), known_or_none(run.as_driven.value), known_or_none(row.value))
        for run, row in zip(used, rows, strict=True)
    )
    low, high = min(row.value for row in rows), max(row.value for row in rows)
    return Chart(
        name="compared-runs",
        title=title,
        note=note,
        description=f"{len(rows)} runs from {number(low, 1)} to {number(high, 1)} g/km{_told(result)}.",
        table=DataTable(columns, cells),
        draw=draw,
    )


def _told(result: ComparisonResult) -> str:
    """Which mark is which, and where both groups lie."""
    if not (result.baseline and result.changed):
        return ""
    told = []
    for name, marks, figure in (
        (result.baseline, "circles", result.baseline_g_per_km),
        (result.changed, "squares", result.changed_g_per_km),
    ):
        level = f", {amount(figure, most_decimals=1)} g/km" if figure is not None else ""
        told.append(f"{marks} are {plain(name)}{level}")
    return f"; {'; '.join(told)}"


def _kind(run: ComparedRun) -> str:
    """What a run is a run of: its group, its setting, or the changes it had."""
    return run.setting or run.group or " + ".join(run.fitted) or NONE_FITTED


def _run(run: ComparedRun, result: ComparisonResult, leveled: bool) -> Row:
    changed = bool(run.group) and run.group == result.changed
    figure = run.level if leveled and run.level is not None else run.as_driven
    interval = is_known(figure) and figure.half_width > 0
    paint, marker = _LOOKS[changed]
    return Row(
        label=f"{run.label}, {_kind(run)}",
        value=figure.value,
        low=figure.low if interval else math.nan,
        high=figure.high if interval else math.nan,
        start=math.nan,
        paint=paint,
        marker=marker,
        hollow=changed,
        text=amount(figure, most_decimals=1) if interval else number(figure.value, 1),
        brief=number(figure.value, 1),
        strong=run.odd,
    )


def _group(name: str, figure: Figure, changed: bool) -> Row:
    """The level of a group as a row of its own."""
    paint, marker = _LOOKS[changed]
    return Row(
        label=f"{name}, all together",
        value=figure.value,
        low=figure.low,
        high=figure.high,
        start=math.nan,
        paint=paint,
        marker=marker,
        text=amount(figure, most_decimals=1),
        brief=number(figure.value, 1),
        strong=True,
    )


def _gathered(used: Sequence[ComparedRun], rows: Sequence[Row], levels: Sequence[tuple[str, Row]]) -> list[Row]:
    """A row for each group, setting or set of changes that holds its runs: its level, or where there is none the mean
    of its runs."""
    held: dict[str, list[Row]] = {}
    for run, row in zip(used, rows, strict=True):
        held.setdefault(_kind(run), []).append(row)
    names = list(held)
    if all(run.setting for run in used):
        names.sort(key=lambda name: float(name.split(" ")[0]))
    found = []
    for name in names:
        runs = held[name]
        level = next((row for group, row in levels if group == name), None)
        mean = float(np.mean([run.value for run in runs]))
        found.append(
            Row(
                label=f"{name}, {counted(len(runs), 'run')}",
                value=mean if level is None else level.value,
                low=math.nan if level is None else level.low,
                high=math.nan if level is None else level.high,
                start=math.nan,
                paint=runs[0].paint,
                marker=runs[0].marker,
                text=number(mean, 1) if level is None else level.text,
                brief=number(mean, 1) if level is None else level.brief,
                strong=level is not None,
                holds=tuple(run.value for run in runs),
            )
        )
    return found


def _dots(canvas: Canvas, lanes: Lanes) -> None:
    """The single runs of each row: under its mark where an interval stands there, else beside it."""
    radius = mark_radius(canvas)
    for lane in lanes.lanes:
        row = lane.row
        under = 2.4 * radius if math.isfinite(row.low) else 0.0
        for value in row.holds if len(row.holds) > 1 else ():
            canvas.marker(row.marker, lanes.x(value), lane.middle + under, 0.5 * radius, row.paint, True)


def _fitting(rows: Sequence[Row], room: int) -> list[Row]:
    """As many rows as there is room for; the others are counted."""
    if len(rows) <= room:
        return list(rows)
    shown = list(rows[: max(room - 1, 0)])
    return [*shown, Row(label=f"and {len(rows) - len(shown)} more", value=math.nan, start=math.nan, text="")]
