"""Fuel over steady speed, as it is and as it would be, each with its band."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from calmday.reports.charts.axes import lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.scale import extent
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.words import number

if TYPE_CHECKING:
    from calmday.procedures.what_if_result import OverSpeed, WhatIfResult

USUAL_HEIGHT: Final = 300.0
WORDS: Final = ("as it is", "as it would be")
KMH: Final = 3.6


def what_if_chart(result: WhatIfResult, units: ReaderUnits = METRIC) -> Chart | None:
    """Both sides over the speeds that at least one of them holds; None where there are none."""
    speeds = np.array(sorted({speed for side in result.over_speed for speed in side.speed}))
    if speeds.size < 2:
        return None
    shown = units.show("speed")
    x = speeds / KMH * shown.factor
    sides = [(WORDS[i], *_spread(side, speeds)) for i, side in enumerate(result.over_speed[:2])]
    curves = tuple(
        Curve(label=label, y=y, low=low, high=high, style=i) for i, (label, y, low, high) in enumerate(sides)
    )
    panel = Panel(name="fuel", unit="L/100 km", curves=curves)

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(x.tolist(), pad=0.02), top, height)[0]
        draw_panel(canvas, field, panel, x)
        canvas.bottom(lying_scale(canvas, field, "steady speed", shown.unit))

    title, note = "Fuel over speed", "Steady driving in the wind asked for; bands hold 95 in 100"
    return Chart(
        name="what-if",
        title=title,
        note=note,
        description=_description(sides, x, shown.unit),
        table=_table(sides, x, shown.unit),
        draw=draw,
    )


def _spread(side: OverSpeed, speeds: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A side on all the speeds; not a number where it is not held."""
    found = np.full((3, speeds.size), np.nan)
    places = np.searchsorted(speeds, np.array(side.speed))
    for row, values in zip(found, (side.mean, side.low, side.high), strict=True):
        row[places] = values
    return found[0], found[1], found[2]


def _description(sides: list[tuple[str, np.ndarray, np.ndarray, np.ndarray]], x: np.ndarray, unit: str) -> str:
    both = np.all([np.isfinite(y) for _, y, _, _ in sides], axis=0)
    if not both.any():
        return "The two sides hold no speed in common."
    at = [int(np.flatnonzero(both)[0]), int(np.flatnonzero(both)[-1])]
    told = []
    for i in at:
        used = " and ".join(f"{number(float(y[i]), 1)} {label}" for label, y, _, _ in sides)
        told.append(f"at {number(float(x[i]), 0)} {unit} {used}")
    return f"Litres per 100 km: {'; '.join(told)}."


def _table(sides: list[tuple[str, np.ndarray, np.ndarray, np.ndarray]], x: np.ndarray, unit: str) -> DataTable:
    columns = [DataColumn("speed", unit)]
    for label, *_ in sides:
        columns += [DataColumn(f"{label}{more}", "L/100 km") for more in ("", ", at least", ", at most")]
    rows = tuple(
        (round(float(speed), 1), *(known_or_none(float(part[i])) for _, *parts in sides for part in parts))
        for i, speed in enumerate(x)
    )
    return DataTable(tuple(columns), rows)
