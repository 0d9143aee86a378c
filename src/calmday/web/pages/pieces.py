"""A page that shows every piece pages are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from starlette.responses import Response

from calmday.reports.sheet import Column, Table
from calmday.web.chart_view import ChartView, chart_view
from calmday.web.fields import field
from calmday.web.forms import Box, box
from calmday.web.pages.common import frame
from calmday.web.render import Context, page
from calmday.web.vehicle_fields import BODIES

if TYPE_CHECKING:
    from calmday.web.asked import Asked


class PiecesPage(Context, frozen=True, kw_only=True):
    """One of each."""

    template: ClassVar[str] = "pieces.html"
    boxes: tuple[Box, ...]
    states: tuple[str, ...]
    table: Table
    chart: ChartView
    facts: tuple[tuple[str, str], ...]


def pieces(asked: Asked) -> Response:
    """Every piece once."""
    from calmday.reports.charts.full_load import full_load_chart  # noqa: PLC0415  (drawing needs numpy)

    habits = asked.habits
    curve = full_load_chart([20, 33, 50, 73], [118, 137, 128, 104])
    assert curve is not None
    return page(
        PiecesPage(
            frame=frame(asked, "Pieces of this page"),
            boxes=(
                box(
                    field("a", "A quantity", "What it is for.", "mass", example="1480", left_out="a usual one"),
                    "1480 kg",
                    habits,
                ),
                box(
                    field("b", "At fault", "", "pressure"),
                    "3000 bar",
                    habits,
                    ("is not possible here", "from 0.5 to 12 bar"),
                ),
                box(field("c", "A choice", "", kind="choice", choices=BODIES), "van", habits),
                box(field("d", "Words", "", kind="text", room=24, example="a name"), "", habits),
                box(field("e", "A day", "", kind="date"), "2026-04-12", habits),
                box(field("f", "Several lines", "One on each.", kind="lines"), "first\nsecond", habits),
            ),
            states=("done", "part", "open", "ok", "look", "stop"),
            table=Table(
                title="A table",
                columns=(Column("lap"), Column("L/100 km", "right")),
                rows=(("1", "8.6 ± 0.1"), ("2", "8.3 ± 0.1")),
                note="With a note below.",
            ),
            chart=chart_view(curve),
            facts=(("distance", "39.44 ± 0.02 km"), ("fuel burnt, by mass", "2.769 ± 0.03 kg")),
        )
    )
