"""Pictures: bytes in, red-green-blue samples out, and no picture so large or so wrong that it hurts."""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.errors import InputError, MissingExtraError

PICTURE_BYTES: Final = 30_000_000
MOST_PIXELS: Final = 60_000_000
"""Pixels beyond which a picture is not decoded: three bytes each are held in memory."""

WORKING_PIXELS: Final = 3_000_000
"""A larger picture is averaged down by a whole number first: a curve's place is known to a part of a pixel anyway."""

_FORMATS: Final = ("PNG", "JPEG", "WEBP", "GIF", "BMP")
_BROKEN: Final = (
    *(OSError, ValueError, SyntaxError, EOFError, struct.error, zlib.error, LookupError, TypeError),
    *(ArithmeticError, AttributeError, RuntimeError, MemoryError),
)
"""What a decoder may raise on bytes that are not what they say."""

_RIGHT: Final = "a picture in PNG, JPEG, WebP, GIF or BMP"


class Picture(msgspec.Struct, frozen=True):
    """A decoded picture. `rgb` (height, width, 3), 0 to 255; `reduced` how many pixels of the file make one of these.

    `width`, `height` are those of the file, turned upright as its own note says.
    """

    rgb: NDArray[np.uint8]
    reduced: int
    width: int
    height: int


def decode_picture(data: bytes, name: str) -> Picture:
    """The picture in a file's bytes, upright, on white where it is transparent. `name` as the user named it.

    Size is judged before anything is decoded. Raises InputError, or MissingExtraError without the extra "pictures".
    """
    try:
        from PIL import (  # noqa: PLC0415  (optional, and slow to load)
            Image,
            ImageOps,
            UnidentifiedImageError,
            WebPImagePlugin,  # noqa: F401  (the library loads this format only with all the others)
        )
    except ImportError:
        raise MissingExtraError("Reading a picture", "pictures") from None
    if len(data) > PICTURE_BYTES:
        raise InputError.one(name, "file", f"has {len(data) / 1e6:.0f} MB", f"at most {PICTURE_BYTES / 1e6:.0f} MB")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # size is judged below; a broken note in a file is no news here
            with Image.open(io.BytesIO(data), formats=_FORMATS) as image:
                width, height = image.size
                _check_size(width, height, name)
                factor = _factor(width, height)
                if factor > 1 and image.format in ("JPEG", "MPO"):
                    image.draft("RGB", (width // factor, height // factor))
                upright = ImageOps.exif_transpose(image)
                turned = upright.size[0] != image.size[0] and upright.size == image.size[::-1]
                flat = _on_white(upright)
                left = _factor(*flat.size)
                rgb = np.asarray(flat.reduce(left) if left > 1 else flat)
    except InputError:
        raise
    except UnidentifiedImageError:
        raise InputError.one(name, "file", "is not a picture that can be read", _RIGHT) from None
    except (*_BROKEN, Image.DecompressionBombError) as error:
        why = " ".join(str(error).split())[:80] or type(error).__name__
        printable = "".join(c if c.isprintable() else "?" for c in why)
        raise InputError.one(name, "file", f"is broken as a picture ({printable})", f"a whole file: {_RIGHT}") from None
    if turned:
        width, height = height, width
    reduced = max(1, round(width / rgb.shape[1]))
    return Picture(rgb=rgb, reduced=reduced, width=width, height=height)


def png_of(picture: Picture) -> bytes:
    """The picture as PNG."""
    from PIL import Image  # noqa: PLC0415

    out = io.BytesIO()
    Image.fromarray(picture.rgb).save(out, format="PNG")
    return out.getvalue()


def _check_size(width: int, height: int, name: str) -> None:
    if width * height > MOST_PIXELS:
        wrong = f"has {width} x {height} pixels"
        raise InputError.one(name, "file", wrong, f"at most {MOST_PIXELS // 1_000_000} million: make it smaller")
    if min(width, height) < 20:
        wrong = f"has {width} x {height} pixels"
        raise InputError.one(name, "file", wrong, "a picture in which a curve can be seen")


def _factor(width: int, height: int) -> int:
    factor = 1
    while width * height / factor**2 > WORKING_PIXELS:
        factor += 1
    return factor


def _on_white(image: Any) -> Any:
    """The image as RGB, what is transparent laid on white."""
    from PIL import Image  # noqa: PLC0415

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        above = image.convert("RGBA")
        below = Image.new("RGBA", above.size, (255, 255, 255, 255))
        return Image.alpha_composite(below, above).convert("RGB")
    if image.mode in ("I", "I;16", "F"):
        samples = np.asarray(image, dtype=float)
        top = max(float(np.nanmax(samples)), 1.0)
        return Image.fromarray(np.clip(255 * samples / top, 0, 255).astype(np.uint8)).convert("RGB")
    return image.convert("RGB")
