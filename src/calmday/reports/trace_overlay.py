"""A traced curve drawn over the picture it was read off."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

from calmday.errors import MissingExtraError
from calmday.files.picture_file import decode_picture

if TYPE_CHECKING:
    from calmday.procedures.chart_trace_result import TraceResult

_PAINT: Final = {"torque": (213, 94, 0), "power": (0, 114, 178)}
_WIDEST: Final = 1600


def overlay_png(result: TraceResult, data: bytes) -> bytes:
    """PNG of the picture made pale, with the courses as thin lines, seen points filled, others hollow."""
    try:
        from PIL import Image, ImageDraw  # noqa: PLC0415  (optional, and slow to load)
    except ImportError:
        raise MissingExtraError("Drawing over a picture", "pictures") from None
    picture = decode_picture(data, result.picture.file)
    image = Image.fromarray(picture.rgb)
    pale = Image.blend(image, Image.new("RGB", image.size, (255, 255, 255)), 0.45)
    enlarge = max(1, min(3, _WIDEST // max(pale.width, 1)))
    pale = pale.resize((pale.width * enlarge, pale.height * enlarge))
    scale = enlarge / picture.reduced
    draw = ImageDraw.Draw(pale)
    for curve in result.curves:
        paint = _PAINT[curve.of]
        draw.line([((x + 0.5) * scale, (y + 0.5) * scale) for x, y in curve.course], fill=paint, width=2)
        for point in curve.points:
            x, y = ((value + 0.5) * scale for value in point.at)
            filled = paint if point.origin == "seen" else None
            draw.ellipse((x - 5, y - 5, x + 5, y + 5), outline=paint, fill=filled, width=2)
    out = io.BytesIO()
    pale.save(out, format="PNG")
    return out.getvalue()
