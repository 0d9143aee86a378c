"""Which characters the bundled face holds, read from its character map."""

from __future__ import annotations

import struct
from functools import lru_cache
from pathlib import Path
from typing import Final

FONTS: Final = Path(__file__).parents[1] / "charts" / "fonts"
_FACES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")


@lru_cache(maxsize=1)
def bundled_characters() -> frozenset[int]:
    """Code points that both weights of the bundled face can show, line break and tab among them."""
    first, second = (character_map((FONTS / face).read_bytes()) for face in _FACES)
    return first & second | {0x09, 0x0A}


def character_map(font: bytes) -> frozenset[int]:
    """Code points of a TrueType font, from the segments of its table `cmap`, format 4 or 12.

    OpenType specification (ISO/IEC 14496-22), `cmap`.
    """
    (count,) = struct.unpack_from(">H", font, 4)
    tables = {font[at : at + 4]: struct.unpack_from(">II", font, at + 8) for at in range(12, 12 + 16 * count, 16)}
    start = tables[b"cmap"][0]
    (parts,) = struct.unpack_from(">H", font, start + 2)
    found: set[int] = set()
    for at in range(start + 4, start + 4 + 8 * parts, 8):
        found |= _subtable(font, start + struct.unpack_from(">HHI", font, at)[2])
    return frozenset(found)


def _subtable(font: bytes, at: int) -> set[int]:
    (form,) = struct.unpack_from(">H", font, at)
    spans: list[tuple[int, int]] = []
    if form == 12:
        (groups,) = struct.unpack_from(">I", font, at + 12)
        spans = [struct.unpack_from(">II", font, at + 16 + 12 * i) for i in range(groups)]
    elif form == 4:
        (twice,) = struct.unpack_from(">H", font, at + 6)
        ends = struct.unpack_from(f">{twice // 2}H", font, at + 14)
        starts = struct.unpack_from(f">{twice // 2}H", font, at + 16 + twice)
        spans = list(zip(starts, ends, strict=True))
    return {code for low, high in spans for code in range(low, high + 1) if code != 0xFFFF}


def missing_characters(text: str) -> frozenset[str]:
    """The characters of a text that the bundled face cannot show."""
    held = bundled_characters()
    return frozenset(char for char in set(text) if ord(char) not in held)
