"""Photographs made fit to be shown: turned upright, of a modest size, and without anything but the picture."""

from __future__ import annotations

import io
from pathlib import PurePath
from typing import Final

from calmday.errors import InputError, MissingExtraError
from calmday.reports.charts.lettering import plain
from calmday.reports.show.document import Photo

LONGEST_SIDE: Final = 1200
MOST_PIXELS: Final = 200_000_000
QUALITY: Final = 82


def photo_of(name: str, data: bytes) -> Photo:
    """A photograph from the bytes of a JPEG, PNG or WebP. Where it was taken, and by which camera, is left out.

    Raises InputError where the bytes are no picture, MissingExtraError without the library that reads them.
    """
    try:
        from PIL import Image, ImageOps, UnidentifiedImageError  # noqa: PLC0415  (optional)
    except ImportError:
        raise MissingExtraError("A photograph in a report", "pictures") from None
    shown = plain(PurePath(name.replace("\\", "/")).stem)[:80] or "photograph"
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise InputError.one("report", shown, "has too many pixels to be shown", "a smaller photograph")
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise InputError.one("report", shown, "is no picture that can be read", "JPEG, PNG or WebP") from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    words = shown.replace("_", " ").replace("-", " ")
    return Photo(jpeg=out.getvalue(), wide=bare.width, high=bare.height, alt=f"Photograph: {words}", caption=words)
