"""A chart: what it says in words, the table behind it, and its picture in any size."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.frames import FRAMES, Size
from calmday.reports.charts.lettering import escaped, plain
from calmday.reports.charts.palette import Theme
from calmday.reports.words import number

Cell = str | float | int | None


class DataColumn(msgspec.Struct, frozen=True):
    """A column of the table behind a chart. `unit` as printed, empty for words and pure numbers."""

    name: str
    unit: str = ""

    @property
    def head(self) -> str:
        return f"{self.name}, {self.unit}" if self.unit else self.name


class DataTable(msgspec.Struct, frozen=True):
    """The numbers behind a chart, as drawn and unrounded. None: not known."""

    columns: tuple[DataColumn, ...]
    rows: tuple[tuple[Cell, ...], ...]


class Chart(msgspec.Struct, frozen=True, kw_only=True):
    """A chart ready to be drawn.

    `name` a word for file names and ids; `title` its heading; `description` one sentence that says with numbers what
    the picture shows; `note` a short line under the title of a downloaded picture; `table` the numbers behind it.
    """

    name: str
    title: str
    description: str
    table: DataTable
    draw: Callable[[Canvas], None]
    note: str = ""

    def svg(self, size: Size = "page", theme: Theme = "page", key: str = "") -> str:
        """The picture. In theme `page` colours are custom properties and letters the page's; `light` and `dark` stand
        alone. `key` keeps ids apart where a page shows the same chart twice."""
        canvas = Canvas(FRAMES[size], theme, key)
        self.draw(canvas)
        return canvas.finish(self.name, self.title, self.description)

    def figure_html(self, key: str = "") -> str:
        """The chart for a page: the picture for wide and narrow columns, and the table folded away behind it."""
        pictures = self.svg("page", "page", key) + self.svg("narrow", "page", key)
        caption = f"<figcaption>{escaped(plain(self.title))}</figcaption>"
        return (
            f'<figure class="chart" data-chart="{escaped(self.name)}">{caption}{pictures}'
            f"<details><summary>The numbers behind it</summary>{self.table_html()}</details></figure>"
        )

    def table_html(self) -> str:
        """The table behind the chart. Its cells say which column they are of: on a phone each row stands by itself."""
        heads = [escaped(plain(column.head)) for column in self.table.columns]
        top = "".join(f'<th scope="col" role="columnheader">{head}</th>' for head in heads)
        rows = "".join(
            f'<tr role="row">{"".join(map(_cell, heads, row, range(len(row))))}</tr>' for row in self.table.rows
        )
        body = f'<thead role="rowgroup"><tr role="row">{top}</tr></thead><tbody role="rowgroup">{rows}</tbody>'
        label = escaped(plain(self.title))
        return (
            f'<div class="chart-table" tabindex="0" role="region" aria-label="{label}">'
            f'<table class="stacks" role="table">{body}</table></div>'
        )


def _cell(head: str, cell: Cell, place: int) -> str:
    """One cell with the head of its column; the first of a row names the row."""
    text = escaped(cell_text(cell))
    if place > 0:
        return f'<td role="cell" data-head="{head}">{text}</td>'
    named = "" if isinstance(cell, str) else ' class="right"'
    return f'<th scope="row" role="rowheader" data-head="{head}"{named}>{text}</th>'


def cell_text(cell: Cell) -> str:
    """A cell as printed: four significant digits are more than any figure here deserves."""
    if cell is None:
        return "not known"
    if isinstance(cell, str):
        return plain(cell)
    if isinstance(cell, int):
        return number(cell, 0)
    text = f"{cell:.4g}"
    return text.replace("-", "−") if "e" not in text else f"{cell:.0f}".replace("-", "−")


def known_or_none(value: float) -> float | None:
    """A number for a table; None where it is not finite."""
    return value if value - value == 0 else None
