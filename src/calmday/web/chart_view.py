"""A chart as a page shows it: pictures for wide and narrow columns, the numbers behind, pictures to take along."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Final

import msgspec
from markupsafe import Markup

from calmday.web.addresses import address

if TYPE_CHECKING:
    from calmday.reports.charts.chart import Chart

Download = tuple[str, str, str]
"""Address, short words, and the words for a screen reader, which say of which chart."""

FORMS: Final = (
    ("svg", "SVG"),
    ("16x9.png", "PNG 16:9"),
    ("9x16.png", "PNG 9:16"),
)


class ChartView(msgspec.Struct, frozen=True, kw_only=True):
    """One chart, ready for its template."""

    name: str
    title: str
    says: str
    pictures: Markup
    table: Markup
    downloads: tuple[Download, ...] = ()


def chart_view(chart: Chart, run: str = "", name: str = "", key: str = "") -> ChartView:
    """The chart; `run` whose chart it is and `name` under which pictures of it can be had."""
    name = name or chart.name
    return ChartView(
        name=name,
        title=chart.title,
        says=chart.description,
        # the chart escapes every text it takes in
        pictures=Markup(chart.svg("page", "page", key) + chart.svg("narrow", "page", key)),
        table=Markup(chart.table_html()),
        downloads=_downloads(chart, run, name) if run else (),
    )


def _downloads(chart: Chart, run: str, name: str) -> tuple[Download, ...]:
    """The pictures that can be had here: PNG only where its renderer is installed."""
    forms = FORMS if find_spec("resvg_py") is not None else FORMS[:1]
    return tuple(
        (address("chart", run=run, chart=name, form=form), words, f"{words} of: {chart.title}") for form, words in forms
    )
