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
        """The table behind the chart."""
        heads = "".join(f'<th scope="col">{escaped(plain(column.head))}</th>' for column in self.table.columns)
        rows = "".join(
            f"<tr>{''.join(f'<td>{escaped(cell_text(cell))}</td>' for cell in row)}</tr>" for row in self.table.rows
        )
        table = f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
        label = escaped(plain(self.title))
        return f'<div class="chart-table" tabindex="0" role="region" aria-label="{label}">{table}</div>'


def cell_text(cell: Cell) -> str:
    """A cell as printed: five significant digits are more than any figure here deserves."""
    if cell is None:
        return "not known"
    if isinstance(cell, str):
        return plain(cell)
    if isinstance(cell, int):
        return number(cell, 0)
    text = f"{cell:.5g}"
    return text.replace("-", "−") if "e" not in text else f"{cell:.0f}".replace("-", "−")


def known_or_none(value: float) -> float | None:
    """A number for a table; None where it is not finite."""
    return value if value - value == 0 else None
