"""Each pull with its own power, and where the doubt of the power comes from."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from calmday.metrology.rounding import counted, listed
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.rows import Row, draw_bars, fewer, lay_out, room_for
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.gears_sentence import ordinal
from calmday.reports.words import amount, number

if TYPE_CHECKING:
    from calmday.procedures.pull_result import OnePull, PullResult


def each_pull_chart(result: PullResult, units: ReaderUnits = METRIC) -> Chart | None:
    """The power of every pull at its own mean engine speed, with its interval; None with fewer than two."""
    if len(result.pulls) < 2:
        return None
    shown = units.show("power")
    factor = 1000 * shown.factor
    rows = [_row(one, factor, shown.unit) for one in result.pulls]
    powers = [factor * one.engine_power.value for one in result.pulls]
    title, note = "Each pull by itself", f"Power at its mean engine speed, {shown.unit}; 95 % intervals"
    said = f"From {number(min(powers), 1)} to {number(max(powers), 1)} {shown.unit} in {counted(len(powers), 'pull')}"
    scatter = f"; they scatter by {number(result.scatter.value, 1)} %" if result.scatter is not None else ""
    return Chart(
        name="each-pull",
        title=title,
        note=note,
        description=f"{said}{scatter}.",
        table=DataTable(
            (DataColumn("pull"), DataColumn("power", shown.unit), DataColumn("at least", shown.unit),
             DataColumn("at most", shown.unit), DataColumn("mean engine speed", "rpm")),
            tuple(
                (str(one.number), factor * one.engine_power.value, factor * one.engine_power.low,
                 factor * one.engine_power.high, round(one.engine_speed.value))
                for one in result.pulls
            ),
        ),
        draw=_bars(title, note, rows, "others"),
    )  # fmt: skip


def _row(one: OnePull, factor: float, unit: str) -> Row:
    power = one.engine_power.scaled(factor, unit)
    return Row(
        label=f"{one.number}: {ordinal(one.gear)}, {number(one.engine_speed.value, -1)} rpm",
        value=power.value,
        low=power.low,
        high=power.high,
        text=f"{amount(power, most_decimals=1)} {unit}",
    )


def pull_doubt_chart(result: PullResult) -> Chart | None:
    """Shares of the variance of the peak power by source; None where nothing is known of them."""
    lines = [line for line in result.doubt if line.share >= 0.01]
    if not lines:
        return None
    rows = [Row(label=line.source, value=100 * line.share, text=f"{100 * line.share:.0f} %") for line in lines]
    said = [f"{plain(line.source)} {100 * line.share:.0f} %" for line in lines[:3]]
    title, note = "Where the doubt of the power comes from", "Shares of the whole doubt, counted by squares"
    return Chart(
        name="pull-doubt",
        title=title,
        note=note,
        description=f"The doubt of the power comes mostly from {listed(said)}.",
        table=DataTable(
            (DataColumn("source"), DataColumn("share", "%")),
            tuple((line.source, round(100 * line.share, 1)) for line in lines),
        ),
        draw=_bars(title, note, rows, "smaller sources"),
    )


def _bars(title: str, note: str, rows: list[Row], rest: str) -> Callable[[Canvas], None]:
    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        lanes = lay_out(canvas, fewer(rows, room_for(canvas, top, False), rest), top, zero=True)
        draw_bars(canvas, lanes)
        canvas.bottom(lanes.bottom)

    return draw
