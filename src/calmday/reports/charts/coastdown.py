"""Pictures of a day of coastdowns: the road load, each pass against the model, each pass's own force, the doubt."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.rounding import listed
from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.rows import Row, draw_bars, draw_marks, fewer, lay_out, room_for
from calmday.reports.charts.scale import Scale, extent
from calmday.reports.words import amount, number

if TYPE_CHECKING:
    from calmday.procedures.coastdown_result import CoastdownResult, OnePass

FloatArray = NDArray[np.float64]

USUAL_HEIGHT: Final = 300.0
PASS_HEIGHT: Final = 92.0
MOST_PASSES: Final = 8


def road_load_chart(result: CoastdownResult) -> Chart | None:
    """Force over speed on the calm day with its band, and what of it is not air."""
    if len(result.forces) < 2:
        return None
    kmh = np.array([one.speed.value for one in result.forces])
    force = [one.force for one in result.forces]
    rest = np.array([one.rolling.value + one.driveline.value for one in result.forces])
    curves = (
        Curve(
            label="all of it", y=np.array([f.value for f in force]), low=np.array([f.low for f in force]),
            high=np.array([f.high for f in force]), style=0,
        ),
        Curve(label="tyres and driveline", y=rest, style=1),
    )  # fmt: skip
    panel = Panel(name="force", unit="N", curves=curves, zero=True)
    title, note = "What holds the vehicle back", "Calm standard day, gear out; band: 95 %. Between the lines: air"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, 1, top, USUAL_HEIGHT)
        field = lay_panels(canvas, [panel], extent(kmh.tolist(), pad=0.03), top, height)[0]
        draw_panel(canvas, field, panel, kmh)
        canvas.bottom(lying_scale(canvas, field, "speed", "km/h"))

    last = result.forces[-1]
    columns = [DataColumn("speed", "km/h")]
    columns += [DataColumn(name, "N") for name in ("force", "at least", "at most", "air", "tyres", "driveline")]
    rows = tuple(
        (one.speed.value, one.force.value, one.force.low, one.force.high, one.air.value, one.rolling.value,
         one.driveline.value)
        for one in result.forces
    )  # fmt: skip
    return Chart(
        name="road-load",
        title=title,
        note=note,
        description=(
            f"At {number(last.speed.value, 0)} km/h {amount(last.force, most_decimals=0)} N hold it back, "
            f"{amount(last.air, most_decimals=0)} N of it air."
        ),
        table=DataTable(tuple(columns), rows),
        draw=draw,
    )


def residual_chart(result: CoastdownResult) -> Chart | None:
    """Recorded less modelled speed of each pass over its time, one strip for each, on its own scale."""
    shown = sorted(result.passes, key=lambda one: (not one.odd, one.number))[:MOST_PASSES]
    shown = sorted(shown, key=lambda one: one.number)
    if not shown:
        return None
    off = [np.array(one.recorded_kmh) - np.array(one.modelled_kmh) for one in shown]
    panels = [_strip(one, each) for one, each in zip(shown, off, strict=True)]
    longest = max(one.time_s[-1] for one in shown)
    title = "How near each roll is to the fit"
    note = "Recorded less fitted speed, each pass on its own scale; gusts, road and receiver are left"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        height = panel_height(canvas, len(panels), top, PASS_HEIGHT)
        fields = lay_panels(canvas, panels, (0.0, longest), top, height)
        for field, panel, one in zip(fields, panels, shown, strict=True):
            draw_panel(canvas, field, panel, np.array(one.time_s))
            canvas.line(field.x(0.0), field.y(0.0), field.x(longest), field.y(0.0), "soft", 1)
        canvas.bottom(lying_scale(canvas, fields[-1], "time", "s"))

    worst = max(result.passes, key=lambda one: one.misfit.value)
    rows = tuple(
        (str(one.number), float(t), float(r), float(m))
        for one in shown
        for t, r, m in zip(one.time_s, one.recorded_kmh, one.modelled_kmh, strict=True)
    )
    return Chart(
        name="residuals",
        title=title,
        note=note,
        description=(
            f"Pass {worst.number} fits least well: {number(3.6 * worst.misfit.value, 2)} km/h off in the mean. "
            + (
                f"Pass {listed([str(o.number) for o in shown if o.odd])} stands out."
                if any(o.odd for o in shown)
                else ""
            )
        ).strip(),
        table=DataTable(
            (DataColumn("pass"), DataColumn("time", "s"), DataColumn("recorded", "km/h"), DataColumn("model", "km/h")),
            rows,
        ),
        draw=draw,
    )


def _strip(one: OnePass, off: FloatArray) -> Panel:
    return Panel(
        name=f"pass {one.number}{', odd' if one.odd else ''}", unit="km/h", curves=(Curve(label="", y=off, style=0),)
    )


def own_force_chart(result: CoastdownResult) -> Chart | None:
    """What each pass alone was held back by, with its interval; None for one pass."""
    if len(result.passes) < 2:
        return None
    rows = [
        Row(
            label=f"pass {one.number}{', odd' if one.odd else ''}",
            value=one.extra_force.value,
            low=one.extra_force.low,
            high=one.extra_force.high,
            start=float("nan"),
            holds=(0.0,),
            text=f"{amount(one.extra_force, most_decimals=0)} N",
            strong=one.odd,
        )
        for one in result.passes
    ]
    title, note = "Each pass against the others", "Force beyond what all others explain, N; 95 % intervals"

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        lanes = lay_out(canvas, rows[: room_for(canvas, top, True)], top, axis=True)
        draw_marks(canvas, lanes)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, "", "N"))

    odd = [str(one.number) for one in result.passes if one.odd]
    return Chart(
        name="own-force",
        title=title,
        note=note,
        description=f"Pass {listed(odd)} stands out." if odd else "No pass stands out from the others.",
        table=DataTable(
            (DataColumn("pass"), DataColumn("force", "N"), DataColumn("at least", "N"), DataColumn("at most", "N")),
            tuple(
                (str(one.number), one.extra_force.value, one.extra_force.low, one.extra_force.high)
                for one in result.passes
            ),
        ),
        draw=draw,
    )


def coastdown_doubt_chart(result: CoastdownResult) -> Chart | None:
    """Shares of the variance of the force by source."""
    lines = [line for line in result.doubt if line.share >= 0.01]
    if not lines:
        return None
    rows = [Row(label=line.source, value=100 * line.share, text=f"{100 * line.share:.0f} %") for line in lines]
    said = [f"{plain(line.source)} {100 * line.share:.0f} %" for line in lines[:3]]
    title, note = "Where the doubt of the force comes from", "Shares of the whole doubt, counted by squares"
    return Chart(
        name="coastdown-doubt",
        title=title,
        note=note,
        description=f"The doubt of the force comes mostly from {listed(said)}.",
        table=DataTable(
            (DataColumn("source"), DataColumn("share", "%")),
            tuple((line.source, round(100 * line.share, 1)) for line in lines),
        ),
        draw=bars(title, note, rows, "smaller sources"),
    )


def bars(title: str, note: str, rows: list[Row], rest: str) -> Callable[[Canvas], None]:
    """A picture of lying bars from zero."""

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        lanes = lay_out(canvas, fewer(rows, room_for(canvas, top, False), rest), top, zero=True)
        draw_bars(canvas, lanes)
        canvas.bottom(lanes.bottom)

    return draw
