"""The full-load curve as it is typed: torque and power over engine speed, with the band it is believed to."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas, FloatArray
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.scale import extent
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.words import number

USUAL_HEIGHT = 180.0
USUAL_SPREAD = 0.05
"""How far a full-load curve is believed, one standard deviation: the model's own for a declared curve."""
_REACH = 1.959963984540054
DISAGREES = 0.02
"""From this relative difference on, power typed and power computed from torque are said to disagree."""


def full_load_chart(
    speed_rps: Sequence[float],
    torque_nm: Sequence[float],
    power_w: Sequence[float] | None = None,
    units: ReaderUnits = METRIC,
    spread: float = USUAL_SPREAD,
    half_width: Sequence[float] | None = None,
) -> Chart | None:
    """Torque and power over engine speed; None without one whole point.

    Points may come in any order and be unfinished (NaN). `power_w`: power typed beside torque, drawn as marks of its
    own so that a curve that disagrees with itself is seen. `spread`: relative standard deviation of the band, unless
    the curve brings a band of its own: `half_width`, relative, at 95 %, one for each point.
    """
    order = [i for i in np.argsort(speed_rps, kind="stable") if math.isfinite(speed_rps[i] + torque_nm[i])]
    if not order:
        return None
    rps, torque = np.array([speed_rps[i] for i in order]), np.array([torque_nm[i] for i in order])
    computed = 2 * math.pi * rps * torque
    typed = None if power_w is None else np.array([power_w[i] for i in order], dtype=float)
    shown_torque, shown_power = units.show("torque"), units.show("power")
    own = None if half_width is None else np.array([half_width[i] for i in order], dtype=float)
    band = np.full(rps.size, _REACH * spread) if own is None else own
    panels = [
        _panel("torque", shown_torque.unit, 60 * rps, shown_torque.factor * torque, band, 1),
        _panel("power", shown_power.unit, 60 * rps, shown_power.factor * computed, band, 0),
    ]
    x = 60 * rps
    marks = (shown_torque.factor * torque, shown_power.factor * (computed if typed is None else typed))

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 2, top, USUAL_HEIGHT)
        fields = lay_panels(canvas, panels, extent(x.tolist(), pad=0.04), top, height)
        for index, (field, panel) in enumerate(zip(fields, panels, strict=True)):
            draw_panel(canvas, field, panel, x)
            _points(canvas, field, x, marks[index], 1 - index, typed is not None and index == 1)
        canvas.bottom(lying_scale(canvas, fields[-1], "engine speed", "rpm"))

    title, note = "Full load", f"Band: {_band_words(band)} either way{'' if own is None else ', as it was read off'}"
    return Chart(
        name="full-load",
        title=title,
        note=note,
        description=_description(x, torque * shown_torque.factor, computed, typed, units) + _own_band(own),
        table=_table(x, torque, computed, typed, units, own),
        draw=draw,
    )


def _band_words(band: FloatArray) -> str:
    """How wide a band is: `10 %`, `0.6 to 1.2 %`."""
    least, most = (number(100 * part, 0 if part >= 0.02 else 1) for part in (float(band.min()), float(band.max())))
    return f"{most} %" if least == most else f"{least} to {most} %"


def _own_band(own: FloatArray | None) -> str:
    """What a band of the curve's own says and leaves open."""
    if own is None:
        return ""
    return (
        f" The band is how well it could be read off, {_band_words(own)} either way; that this engine is not quite its "
        "chart comes on top."
    )


def _panel(name: str, unit: str, x: FloatArray, y: FloatArray, band: FloatArray, style: int) -> Panel:
    """A field with its curve, its relative band and, in the heading, its highest point."""
    low, high = y * (1 - band), y * (1 + band)
    best = int(np.argmax(y))
    most = number(float(y[best]), 0 if abs(y[best]) >= 100 else 1)
    return Panel(
        name=name,
        unit=unit,
        curves=(Curve(label=name, y=y, low=low, high=high, style=style),),
        zero=True,
        peak=f"most {most} at {number(float(x[best]), 0)} rpm",
        brief_peak=most,
    )


def _points(canvas: Canvas, field: Field, x: FloatArray, y: FloatArray, style: int, hollow: bool) -> None:
    """The typed points."""
    size = canvas.frame.number
    paint = ("first", "second")[style]
    for a, b in zip(x.tolist(), y.tolist(), strict=True):
        if math.isfinite(b):
            place = min(max(field.y(b), field.top), field.bottom)
            canvas.marker("square" if style else "circle", field.x(a), place, 0.24 * size, paint, hollow)


def _description(
    x: FloatArray, torque: FloatArray, computed: FloatArray, typed: FloatArray | None, units: ReaderUnits
) -> str:
    power, twist = units.show("power"), units.show("torque")
    best, strong = int(np.argmax(computed)), int(np.argmax(torque))
    said = (
        f"{len(x)} points from {number(float(x[0]), 0)} to {number(float(x[-1]), 0)} rpm: most torque "
        f"{number(float(torque[strong]), 0)} {twist.unit} at {number(float(x[strong]), 0)} rpm, most power "
        f"{number(float(computed[best]) * power.factor, 1)} {power.unit} at {number(float(x[best]), 0)} rpm"
    )
    if typed is not None:
        off = np.where(computed != 0, typed / np.where(computed != 0, computed, 1.0) - 1, np.nan)
        if np.isfinite(off).any():
            worst = int(np.nanargmax(np.abs(off)))
            if abs(off[worst]) > DISAGREES:
                said += (
                    f"; at {number(float(x[worst]), 0)} rpm the power typed is {number(100 * float(off[worst]), 1)} % "
                    "off what torque gives"
                )
    return f"{said}."


def _table(
    x: FloatArray,
    torque: FloatArray,
    computed: FloatArray,
    typed: FloatArray | None,
    units: ReaderUnits,
    own: FloatArray | None,
) -> DataTable:
    power, twist = units.show("power"), units.show("torque")
    columns = [DataColumn("engine speed", "rpm"), DataColumn("torque", twist.unit), DataColumn("power", power.unit)]
    if typed is not None:
        columns.append(DataColumn("power as typed", power.unit))
    if own is not None:
        columns.append(DataColumn("give or take", "%"))
    rows = []
    for i in range(len(x)):
        row = [float(x[i]), float(torque[i]) * twist.factor, float(computed[i]) * power.factor]
        rows.append(
            (
                *row,
                *(() if typed is None else (known_or_none(float(typed[i]) * power.factor),)),
                *(() if own is None else (100 * float(own[i]),)),
            )
        )
    return DataTable(tuple(columns), tuple(rows))
