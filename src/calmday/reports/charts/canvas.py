"""Drawing: shapes and letters gathered into one SVG."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.frames import Frame
from calmday.reports.charts.lettering import escaped, plain, width, wrapped
from calmday.reports.charts.palette import Theme, colour
from calmday.reports.charts.thinning import known_runs

FloatArray = NDArray[np.float64]

PAGE_FONT = "var(--chart-font, inherit)"
PICTURE_FONT = "DejaVu Sans, Verdana, Arial, sans-serif"
LINE = 1.3
"""From one line of text to the next, of the size."""


def num(value: float) -> str:
    """A coordinate to a tenth, without idle zeros."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


class Canvas:
    """One picture in the making. `height` grows with the content where the frame leaves it open."""

    def __init__(self, frame: Frame, theme: Theme, key: str = "") -> None:
        self.frame = frame
        self.theme = theme
        self.key = key
        self.height = frame.height or 0.0
        self._parts: list[str] = []

    def colour(self, name: str) -> str:
        return name if name == "none" else colour(name, self.theme)

    @property
    def left(self) -> float:
        return self.frame.left

    @property
    def right(self) -> float:
        return self.frame.width - self.frame.right

    def bottom(self, wanted: float) -> float:
        """Where the content ends: the frame's margin, or `wanted` where the frame grows."""
        if self.frame.height is None:
            self.height = wanted + self.frame.bottom
            return wanted
        return self.frame.height - self.frame.bottom

    def heading(self, title: str, under: str = "") -> float:
        """Title and line under it where the frame carries them; gives the height where the content may start."""
        frame = self.frame
        y = frame.top
        if not frame.titled:
            return y
        for line in wrapped(plain(title), frame.inner, frame.title, 2 if frame.stacked else 1, bold=True):
            y += frame.title
            self.text(self.left, y, line, size=frame.title, bold=True)
            y += 0.2 * frame.title
        for line in wrapped(plain(under), frame.inner, frame.text, 2 if frame.stacked else 1) if under else ():
            y += frame.text
            self.text(self.left, y, line, size=frame.text, colour="soft")
            y += 0.25 * frame.text
        return y + 0.5 * frame.text

    def add(self, part: str) -> None:
        self._parts.append(part)

    @contextmanager
    def beneath(self, since: int) -> Iterator[None]:
        """What is drawn inside goes under everything drawn after the first `since` parts."""
        before = len(self._parts)
        yield
        late = self._parts[before:]
        del self._parts[before:]
        self._parts[since:since] = late

    @property
    def drawn(self) -> int:
        """How many parts are drawn, for `beneath`."""
        return len(self._parts)

    @contextmanager
    def group(self, **attributes: str) -> Iterator[None]:
        """What is drawn inside carries these attributes; `data_i` becomes data-i, `kind` becomes class."""
        names = {"kind": "class"}
        inner = "".join(
            f' {names.get(name, name.replace("_", "-"))}="{escaped(value)}"' for name, value in attributes.items()
        )
        self.add(f"<g{inner}>")
        yield
        self.add("</g>")

    def line(self, x1: float, y1: float, x2: float, y2: float, paint: str, wide: float = 1.0, dash: str = "") -> None:
        """A straight line; `wide` in the frame's strokes."""
        self.add(
            f'<line x1="{num(x1)}" y1="{num(y1)}" x2="{num(x2)}" y2="{num(y2)}" {self._stroke(paint, wide, dash)}/>'
        )

    def rect(
        self, x: float, y: float, wide: float, high: float, paint: str, *, edge: str = "none", opacity: float = 1.0
    ) -> None:
        """A rectangle filled with `paint`."""
        stroke = "" if edge == "none" else f" {self._stroke(edge, 1.5, '')}"
        see = "" if opacity >= 1 else f' fill-opacity="{opacity:g}"'
        self.add(
            f'<rect x="{num(x)}" y="{num(y)}" width="{num(max(wide, 0))}" height="{num(max(high, 0))}" '
            f'fill="{self.colour(paint)}"{see}{stroke}/>'
        )

    def path(
        self,
        d: str,
        *,
        paint: str = "none",
        edge: str = "none",
        wide: float = 1.0,
        dash: str = "",
        opacity: float = 1.0,
    ) -> None:
        """A path by its data."""
        if not d:
            return
        stroke = "" if edge == "none" else f' {self._stroke(edge, wide, dash)} stroke-linejoin="round"'
        see = "" if opacity >= 1 else f' fill-opacity="{opacity:g}"'
        self.add(f'<path d="{d}" fill="{self.colour(paint)}"{see}{stroke}/>')

    def curve(self, x: FloatArray, y: FloatArray, paint: str, wide: float = 2.0, dash: str = "") -> None:
        """A line through places, broken where one is not known; a lone place becomes a dot."""
        self.path(broken_line(x, y), edge=paint, wide=wide, dash=dash)
        for i in lone_places(x, y):
            self.marker("circle", float(x[i]), float(y[i]), 1.5 * wide * self.frame.stroke, paint)

    def band(self, x: FloatArray, low: FloatArray, high: FloatArray, paint: str) -> None:
        """The area between two lines, broken where a place is not known."""
        self.path(closed_bands(x, low, high), paint=paint, opacity=0.22)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float | None = None,
        anchor: str = "start",
        bold: bool = False,
        colour: str = "ink",
    ) -> None:
        """A line of text with its base line at `y`, kept inside the picture."""
        if not text:
            return
        size = size or self.frame.text
        wide = width(text, size, bold)
        before = {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        edge = self.frame.width
        x = min(max(x, before), max(edge - wide + before, before))
        weight = ' font-weight="700"' if bold else ""
        where = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self.add(
            f'<text x="{num(x)}" y="{num(y)}" font-size="{num(size)}"{where}{weight} '
            f'fill="{self.colour(colour)}">{escaped(text)}</text>'
        )

    def marker(self, kind: str, x: float, y: float, r: float, paint: str, hollow: bool = False) -> None:
        """A mark of about radius `r`: circle, square, triangle, diamond, cross."""
        fill = self.colour("paper" if hollow else paint)
        edge = f'{self._stroke(paint, 2.0, "")} fill="{fill}"'
        if kind == "circle":
            self.add(f'<circle cx="{num(x)}" cy="{num(y)}" r="{num(r)}" {edge}/>')
            return
        shapes = {
            "square": ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
            "triangle": ((0, -1.2), (1.1, 0.8), (-1.1, 0.8)),
            "diamond": ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)),
        }
        if kind == "cross":
            left, right, top, bottom = num(x - r), num(x + r), num(y - r), num(y + r)
            d = f"M{left} {top}L{right} {bottom}M{left} {bottom}L{right} {top}"
        else:
            d = "M" + "L".join(f"{num(x + r * a)} {num(y + r * b)}" for a, b in shapes[kind]) + "Z"
        self.add(f'<path d="{d}" {edge}/>')

    def interval(self, low: float, high: float, y: float, reach: float, paint: str = "ink", wide: float = 2.0) -> None:
        """A lying interval with end strokes, `reach` above and below."""
        self.line(low, y, high, y, paint, wide)
        self.line(low, y - reach, low, y + reach, paint, wide)
        self.line(high, y - reach, high, y + reach, paint, wide)

    def upright(self, x: float, low: float, high: float, reach: float, paint: str = "ink", wide: float = 2.0) -> None:
        """A standing interval with end strokes."""
        self.line(x, low, x, high, paint, wide)
        self.line(x - reach, low, x + reach, low, paint, wide)
        self.line(x - reach, high, x + reach, high, paint, wide)

    def _stroke(self, paint: str, wide: float, dash: str) -> str:
        unit = self.frame.stroke
        scaled = " ".join(num(float(part) * unit) for part in dash.split())
        pattern = f' stroke-dasharray="{scaled}"' if scaled else ""
        return f'stroke="{self.colour(paint)}" stroke-width="{num(wide * unit)}"{pattern}'

    def finish(self, name: str, title: str, description: str) -> str:
        """The whole SVG with its accessible title and description."""
        frame = self.frame
        stem = escaped("-".join(part for part in ("chart", name, frame.size.replace(":", "x"), self.key) if part))
        kind = f"chart-{frame.size.replace(':', 'x')}"
        wide, high = num(frame.width), num(self.height)
        page = self.theme == "page"
        box = "" if page else f' width="{wide}" height="{high}"'
        paper = "" if page else f'<rect width="{wide}" height="{high}" fill="{self.colour("paper")}"/>'
        font = PAGE_FONT if page else PICTURE_FONT
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" viewBox="0 0 {wide} {high}"{box} role="img" '
            f'aria-labelledby="{stem}-title {stem}-desc" font-family="{font}">'
            f'<title id="{stem}-title">{escaped(plain(title))}</title>'
            f'<desc id="{stem}-desc">{escaped(plain(description))}</desc>'
            f"{paper}{''.join(self._parts)}</svg>"
        )


def _steps(x: FloatArray, y: FloatArray) -> str:
    """Path data through places, as steps from one to the next in tenths: shorter than the places themselves."""
    tenths = np.rint(10 * np.column_stack([x, y])).astype(np.int64)
    (x0, y0), moved = tenths[0].tolist(), np.diff(tenths, axis=0)
    moved = moved[np.any(moved != 0, axis=1)]
    return f"M{num(x0 / 10)} {num(y0 / 10)}l" + " ".join(
        f"{a / 10:g} {b / 10:g}" for a, b in moved.tolist() or [[0, 0]]
    )


def lone_places(x: FloatArray, y: FloatArray) -> list[int]:
    """Places with no known neighbour on either side."""
    return [start for start, stop in known_runs(x, y) if stop - start == 1]


def broken_line(x: FloatArray, y: FloatArray) -> str:
    """Path data of a line that breaks where a place is not known."""
    return "".join(_steps(x[a:b], y[a:b]) for a, b in known_runs(x, y) if b - a > 1)


def closed_bands(x: FloatArray, low: FloatArray, high: FloatArray) -> str:
    """Path data of the areas between two lines."""
    return "".join(
        _steps(np.concatenate([x[a:b], x[a:b][::-1]]), np.concatenate([high[a:b], low[a:b][::-1]])) + "z"
        for a, b in known_runs(x, low, high)
        if b - a > 1
    )
