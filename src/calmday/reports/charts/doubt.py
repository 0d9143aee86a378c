"""Where the doubt comes from: each source's share of the variance."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.metrology.rounding import listed
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.lettering import plain
from calmday.reports.charts.rows import Row, draw_bars, lay_out, room_for
from calmday.reports.words import unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.procedures.weighed_run_result import BudgetLine

SMALL_SHARE = 0.005


def doubt_chart(budget: Sequence[BudgetLine], which: str = "calm-day figure", most: int = 100) -> Chart | None:
    """Shares of the doubt of `which`, at most `most` bars; None without a budget."""
    lines = sorted((line for line in budget if math.isfinite(line.share)), key=lambda line: -line.share)
    if not lines:
        return None
    said = [f"{plain(line.source)} {_text(line.share)}" for line in lines[:3]]

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        lanes = lay_out(canvas, _rows(lines, min(most, room_for(canvas, top, False))), top, zero=True)
        draw_bars(canvas, lanes)
        canvas.bottom(lanes.bottom)

    title, note = "Where the doubt comes from", f"Share of the doubt of the {which} (variance)"
    return Chart(
        name="doubt",
        title=title,
        note=note,
        description=f"The doubt of the {which} comes mostly from {listed(said)}.",
        table=_table(lines),
        draw=draw,
    )


def _rows(lines: Sequence[BudgetLine], most: int) -> list[Row]:
    """The largest sources, and the small ones and what has no room added up: shares of a variance add."""
    large = sum(line.share >= SMALL_SHARE for line in lines) or 1
    shown = len(lines) if large == len(lines) <= most else min(large, most - 1)
    rows = [Row(label=line.source, value=100 * line.share, text=_text(line.share)) for line in lines[:shown]]
    rest = lines[shown:]
    if rest:
        share = sum(line.share for line in rest)
        rows.append(
            Row(
                label="1 smaller source" if len(rest) == 1 else f"{len(rest)} smaller sources",
                value=100 * share,
                text=_text(share),
                paint="plain",
            )
        )
    return rows


def _text(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= SMALL_SHARE else "under 0.5 %"


def _table(lines: Sequence[BudgetLine]) -> DataTable:
    unit = unit_words(lines[0].contribution.unit)
    columns = (DataColumn("source"), DataColumn("share", "%"), DataColumn("± (two times in three)", unit))
    rows = tuple(
        (line.source, known_or_none(100 * line.share), known_or_none(line.contribution.value)) for line in lines
    )
    return DataTable(columns, rows)
