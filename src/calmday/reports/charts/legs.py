"""Legs by wind: what was used into the wind, across it and with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.rows import Lanes, Row, draw_marks, lay_out, room_for
from calmday.reports.charts.saying import brief, in_plain_words
from calmday.reports.charts.scale import Scale
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.run_tables import compass
from calmday.reports.words import amount, is_known, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import Leg

BESIDE = math.tan(math.radians(67.5))
"""Across more than this many times along: the wind is from the side (one of eight directions)."""


def legs_chart(legs: Sequence[Leg], units: ReaderUnits = METRIC) -> Chart | None:
    """A row per leg from most into the wind to most with it; None without legs."""
    known = [leg for leg in legs if is_known(leg.L_per_100km)]
    if not known:
        return None
    ordered = sorted(known, key=lambda leg: -leg.wind_along.value if is_known(leg.wind_along) else 0.0)
    words = unit_words(ordered[0].L_per_100km.unit)
    wind = units.show("wind")
    rows = [_row(leg, wind.factor, wind.unit) for leg in ordered]

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        kept = _ends(len(rows), room_for(canvas, top, True))
        lanes = lay_out(canvas, [rows[i] for i in kept], top, axis=True)
        _spokes(canvas, lanes)
        draw_marks(canvas, lanes)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, "", words))

    title, note = "Legs by wind", f"{words}; number and heading of each leg, and where the wind was"
    first, last = ordered[0], ordered[-1]
    ends = (first, last) if first is not last else (first,)
    said = [
        f"leg {leg.number}, wind {_wind_words(leg, wind.factor, wind.unit)}, used "
        f"{in_plain_words(leg.L_per_100km, words)}"
        for leg in ends
    ]
    description = f"L{'; '.join(said)[1:]}."
    return Chart(name="legs", title=title, note=note, description=description, table=_table(ordered), draw=draw)


def _wind_words(leg: Leg, factor: float, unit: str) -> str:
    along, across = leg.wind_along, leg.wind_across
    if not (is_known(along) and is_known(across)):
        return "wind not known"
    if abs(across.value) > BESIDE * abs(along.value):
        return f"{brief(_size(across), factor)} {unit} beside"
    return f"{brief(_size(along), factor)} {unit} {'ahead' if along.value >= 0 else 'behind'}"


def _size(figure: Figure) -> Figure:
    return figure.scaled(-1.0, figure.unit) if figure.value < 0 else figure


def _row(leg: Leg, factor: float, unit: str) -> Row:
    figure = leg.L_per_100km
    ahead = is_known(leg.wind_along) and leg.wind_along.value >= 0
    return Row(
        label=f"{leg.number}: {compass(leg.heading_deg).partition(' ')[0]}, {_wind_words(leg, factor, unit)}",
        value=figure.value,
        low=figure.low,
        high=figure.high,
        start=math.nan,
        text=amount(figure),
        brief=brief(figure),
        paint="second" if ahead else "first",
        marker="square" if ahead else "circle",
    )


def _ends(count: int, most: int) -> list[int]:
    """Indices of at most `most` rows: as many from either end."""
    if count <= most:
        return list(range(count))
    head = (most + 1) // 2
    return [*range(head), *range(count - (most - head), count)]


def _spokes(canvas: Canvas, lanes: Lanes) -> None:
    for lane in lanes.lanes:
        canvas.line(lanes.x.start, lane.middle, lanes.x(lane.row.value), lane.middle, "rule")


def _table(legs: Sequence[Leg]) -> DataTable:
    first = legs[0]
    columns = (
        DataColumn("leg"),
        DataColumn("towards", "°"),
        DataColumn("wind from ahead", first.wind_along.unit),
        DataColumn("wind from the side", first.wind_across.unit),
        DataColumn("distance", first.distance.unit),
        DataColumn("speed", first.speed.unit),
        DataColumn("used", unit_words(first.L_per_100km.unit)),
        DataColumn("at least"),
        DataColumn("at most"),
    )
    rows = tuple(
        (
            leg.number,
            *(
                known_or_none(value)
                for value in (
                    leg.heading_deg,
                    leg.wind_along.value,
                    leg.wind_across.value,
                    leg.distance.value,
                    leg.speed.value,
                    leg.L_per_100km.value,
                    leg.L_per_100km.low,
                    leg.L_per_100km.high,
                )
            ),
        )
        for leg in legs
    )
    return DataTable(columns, rows)
