"""A chart as PNG, by an SVG renderer that is loaded only when it is asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Final, Literal

from calmday.errors import MissingExtraError
from calmday.reports.charts.chart import Chart

FONTS: Final = Path(__file__).parent / "fonts"
STILLS: Final = ("16:9", "9:16")


def png(chart: Chart, size: Literal["16:9", "9:16"] = "16:9", theme: Literal["light", "dark"] = "light") -> bytes:
    """The chart as a still picture, 1920 x 1080 or 1080 x 1920. Raises MissingExtraError without the renderer.

    Letters are those of the bundled face; the system's fonts serve only for writing it does not hold.
    """
    try:
        from resvg_py import svg_to_bytes  # noqa: PLC0415  (optional, and several megabytes)
    except ImportError:
        raise MissingExtraError("A picture as PNG", "pictures") from None
    faces = [str(FONTS / name) for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")]
    return bytes(svg_to_bytes(svg_string=chart.svg(size, theme), font_files=faces))
