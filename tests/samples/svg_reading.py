"""Reading a drawn chart back: boxes of its texts, places of its marks, points of its paths."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import NamedTuple

from calmday.reports.charts.lettering import width

SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
# letters reach this far above and below their line, and may come this near to each other
ABOVE, BELOW, SLACK = 0.74, 0.20, 0.5


class Box(NamedTuple):
    text: str
    left: float
    top: float
    right: float
    bottom: float
    size: float
    bold: bool
    fill: str

    def meets(self, other: Box) -> bool:
        return (
            self.left + SLACK < other.right
            and other.left + SLACK < self.right
            and self.top + SLACK < other.bottom
            and other.top + SLACK < self.bottom
        )


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def view_box(root: ET.Element) -> tuple[float, float]:
    _, _, wide, high = map(float, root.get("viewBox", "").split())
    return wide, high


def texts(root: ET.Element) -> list[Box]:
    found = []
    for element in root.iter(f"{SVG}text"):
        words, size = element.text or "", float(element.get("font-size", "nan"))
        bold = element.get("font-weight") == "700"
        wide = width(words, size, bold)
        left = float(element.get("x", "nan")) - {"middle": wide / 2, "end": wide}.get(
            element.get("text-anchor", ""), 0.0
        )
        base = float(element.get("y", "nan"))
        found.append(
            Box(words, left, base - ABOVE * size, left + wide, base + BELOW * size, size, bold, element.get("fill", ""))
        )
    return found


def text_of(root: ET.Element) -> list[str]:
    return [box.text for box in texts(root)]


def numbers(text: str) -> list[float]:
    return [float(part) for part in _NUMBER.findall(text)]


def runs(d: str) -> list[list[tuple[float, float]]]:
    """Points of each stretch of a path written as `M x y l dx dy ...` or `M x y L x y ...`."""
    found = []
    for stretch in d.replace("Z", "").replace("z", "").split("M")[1:]:
        step = "l" in stretch
        places = numbers(stretch)
        points = list(zip(places[::2], places[1::2], strict=True))
        if step:
            x, y = points[0]
            out = [(x, y)]
            for dx, dy in points[1:]:
                x, y = x + dx, y + dy
                out.append((x, y))
            points = out
        found.append(points)
    return found


def lines(root: ET.Element) -> list[ET.Element]:
    """Drawn curves: paths with a stroke and no fill."""
    return [p for p in root.iter(f"{SVG}path") if p.get("fill") == "none" and p.get("stroke")]


def circles(root: ET.Element) -> list[tuple[float, float]]:
    return [
        (float(c.get("cx", "nan")), float(c.get("cy", "nan")))
        for c in root.iter(f"{SVG}circle")
        if c.get("class") != "chart-cursor"
    ]


def scale_by_labels(boxes: list[Box], first: str, second: str, *, lying: bool = True) -> tuple[float, float]:
    """Origin and unit of a scale, read off two of its numbers: place = origin + unit x value."""

    def place(label: str) -> float:
        box = next(box for box in boxes if box.text == label)
        return (box.left + box.right) / 2 if lying else box.bottom - BELOW * box.size - 0.36 * box.size

    a, b = (float(label.replace("−", "-").replace("\u202f", "")) for label in (first, second))
    unit = (place(second) - place(first)) / (b - a)
    return place(first) - unit * a, unit
