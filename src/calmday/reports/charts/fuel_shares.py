"""Where the fuel went: a bar for each place its energy ended, with the interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import listed
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.rows import Row, draw_bars, fewer, lay_out, room_for
from calmday.reports.charts.saying import brief
from calmday.reports.words import is_known, percent, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.procedures.weighed_run_result import EnergyShare

LOST = frozenset({"exhaust and cooling"})
"""What no engine of the kind could have turned into work is drawn in grey."""


def fuel_shares_chart(energy: Sequence[EnergyShare]) -> Chart | None:
    """Shares of the fuel's energy; None where nothing is known of them."""
    if not energy:
        return None
    ordered = sorted(energy, key=lambda item: -item.share.value if is_known(item.share) else 0.0)
    rows = tuple(_row(item) for item in ordered)
    said = [f"{plain(item.to)} {percent(item.share)}" for item in ordered[:3]]

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        shown = fewer(rows, room_for(canvas, top, False), "others")
        lanes = lay_out(canvas, shown, top, zero=True)
        draw_bars(canvas, lanes)
        canvas.bottom(lanes.bottom)

    title, note = "Where the fuel went", "Percent of the fuel’s energy, with give-or-take"
    return Chart(
        name="fuel-shares",
        title=title,
        note=note,
        description=f"Of the energy in the fuel, most went to {listed(said)}.",
        table=_table(ordered),
        draw=draw,
    )


def _row(item: EnergyShare) -> Row:
    share = item.share
    return Row(
        label=item.to,
        value=100 * share.value,
        low=100 * share.low,
        high=100 * share.high,
        text=percent(share),
        brief=f"{brief(share, 100, most_decimals=1)} %",
        paint="plain" if item.to in LOST else "first",
    )


def _table(energy: Sequence[EnergyShare]) -> DataTable:
    unit = unit_words(energy[0].energy.unit)
    columns = (
        DataColumn("to"),
        DataColumn("share", "%"),
        DataColumn("share at least", "%"),
        DataColumn("share at most", "%"),
        DataColumn("energy", unit),
    )
    rows = tuple(
        (
            item.to,
            known_or_none(100 * item.share.value),
            known_or_none(100 * item.share.low),
            known_or_none(100 * item.share.high),
            known_or_none(item.energy.value),
        )
        for item in energy
    )
    return DataTable(columns, rows)
