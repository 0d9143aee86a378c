"""A grey picture as PNG, without an imaging library. PNG Specification, third edition (W3C 2025), 5 and 11."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray


def grey_png(grey: NDArray[np.uint8]) -> bytes:
    """Rows of 0 (black) to 255 (white) as an 8-bit greyscale PNG."""
    high, wide = grey.shape
    rows = np.concatenate([np.zeros((high, 1), np.uint8), grey], axis=1)  # each row starts with its filter: none
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)),
            _chunk(b"IDAT", zlib.compress(rows.tobytes(), 9)),
            _chunk(b"IEND", b""),
        )
    )


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
