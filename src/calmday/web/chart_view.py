"""A chart as a page shows it: pictures for wide and narrow columns, the numbers behind, pictures to take along."""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from typing import TYPE_CHECKING, Final, Literal

import msgspec
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.responses import Response

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


PNG_SIZES: Final[dict[str, Literal["16:9", "9:16"]]] = {"16x9.png": "16:9", "9x16.png": "9:16"}


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
    return pictures_to_take(chart.title, lambda form: address("chart", run=run, chart=name, form=form))


def pictures_to_take(title: str, where: Callable[[str], str]) -> tuple[Download, ...]:
    """The pictures that can be had of a chart, `where` by their form: PNG only where its renderer is installed."""
    forms = FORMS if find_spec("resvg_py") is not None else FORMS[:1]
    return tuple((where(form), words, f"{words} of: {title}") for form, words in forms)


def picture_of(chart: Chart, form: str) -> Response:
    """A picture of a chart to take along. Raises 404 for a form there is none of."""
    if form not in ("svg", *PNG_SIZES):
        raise HTTPException(404)
    if form == "svg":
        data, kind = chart.svg("16:9", "light").encode(), "image/svg+xml"
    else:
        from calmday.reports.charts.picture import png  # noqa: PLC0415

        data, kind = png(chart, PNG_SIZES[form]), "image/png"
    named = f'attachment; filename="{chart.name}.{form}"'
    return Response(data, media_type=kind, headers={"Content-Disposition": named})
