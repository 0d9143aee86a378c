"""What the run says about the vehicle: each parameter before and after the weighing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable, known_or_none
from calmday.reports.charts.rows import Lanes, Row, draw_marks, lay_out, room_for
from calmday.reports.charts.saying import brief
from calmday.reports.charts.scale import Scale
from calmday.reports.run_tables import PARAMETER_WORDS
from calmday.reports.words import amount, unit_words

if TYPE_CHECKING:
    from calmday.procedures.weighed_run_result import ParameterEstimate


def parameters_chart(estimates: Mapping[str, ParameterEstimate], by: str = "weighing") -> Chart | None:
    """Marks before (hollow) and after (filled), in percent of the value before; None without estimates. `by` what
    taught it."""
    found = {name: e for name, e in estimates.items() if math.isfinite(e.before.value) and e.before.value != 0}
    if not found:
        return None
    rows = [_row(name, estimate) for name, estimate in found.items()]
    most_learnt = min(found.items(), key=lambda item: _ratio_of_widths(item[1]))

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        ranked = sorted(range(len(rows)), key=lambda i: _ratio_of_widths(list(found.values())[i]))
        kept = sorted(ranked[: room_for(canvas, top, True)])
        since = canvas.drawn
        lanes = lay_out(canvas, [rows[i] for i in kept], top, axis=True)
        with canvas.beneath(since):
            _before(canvas, lanes, [list(found.values())[i] for i in kept])
        draw_marks(canvas, lanes)
        field = Field(lanes.x, Scale(0, 1, lanes.bottom, lanes.top))
        canvas.bottom(lying_scale(canvas, field, "", "% of what was expected before"))

    title, note = "The vehicle, before and after", f"Grey: expected before the {by}. Mark: after"
    name, estimate = most_learnt
    words = PARAMETER_WORDS.get(name, name.replace("_", " "))
    unit = unit_words(estimate.unit)
    return Chart(
        name="parameters",
        title=title,
        note=note,
        description=(
            f"The {by} told most about the {words}: {amount(estimate.before)} before, "
            f"{amount(estimate)} {unit}".rstrip()
            + " after."
        ),
        table=_table(found),
        draw=draw,
    )


def _ratio_of_widths(estimate: ParameterEstimate) -> float:
    before = estimate.before.high - estimate.before.low
    return (estimate.high - estimate.low) / before if before > 0 else math.inf


def _row(name: str, estimate: ParameterEstimate) -> Row:
    hundred = 100 / estimate.before.value
    unit = unit_words(estimate.unit)
    edges = (hundred * estimate.before.low, hundred * estimate.before.high)
    low, high = sorted((hundred * estimate.low, hundred * estimate.high))
    return Row(
        label=PARAMETER_WORDS.get(name, name.replace("_", " ")),
        value=hundred * estimate.value,
        low=low,
        high=high,
        start=math.nan,
        holds=(*edges, 100.0),
        text=f"{amount(estimate)} {unit}".rstrip(),
        brief=f"{brief(estimate)} {unit}".rstrip(),
    )


def _before(canvas: Canvas, lanes: Lanes, estimates: list[ParameterEstimate]) -> None:
    centre = lanes.x(100.0)
    for lane, estimate in zip(lanes.lanes, estimates, strict=True):
        hundred = 100 / estimate.before.value
        low, high = sorted((lanes.x(hundred * estimate.before.low), lanes.x(hundred * estimate.before.high)))
        canvas.rect(low, lane.middle - 0.7 * lane.half, high - low, 1.4 * lane.half, "rule")
        canvas.line(centre, lane.middle - 0.9 * lane.half, centre, lane.middle + 0.9 * lane.half, "soft", 2)


def _table(found: Mapping[str, ParameterEstimate]) -> DataTable:
    columns = tuple(
        DataColumn(name)
        for name in (
            "parameter", "unit", "before", "before, at least", "before, at most", "after", "after, at least",
            "after, at most", "which was",
        )
    )  # fmt: skip
    rows = tuple(
        (
            PARAMETER_WORDS.get(name, name.replace("_", " ")),
            unit_words(e.unit),
            *(known_or_none(v) for v in (e.before.value, e.before.low, e.before.high, e.value, e.low, e.high)),
            e.origin,
        )
        for name, e in found.items()
    )
    return DataTable(columns, rows)
