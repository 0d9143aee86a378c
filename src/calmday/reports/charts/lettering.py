"""How wide a text is, and how it is made fit: escaped, shortened, broken into lines.

Widths are those of DejaVu Sans, one of the widest of the usual sans serif faces: what fits in it fits in the others.
"""

from __future__ import annotations

import re
import unicodedata

_ASCII = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636,
    636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863,
    748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635,
    615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636,
    337, 636, 838,
)  # fmt: skip
"""Advance widths of the characters from space to tilde in thousandths of the size. DejaVu Sans 2.37, table hmtx."""

_OTHERS = {"−": 838, "±": 838, "·": 318, "²": 401, "³": 401, "°": 500, "…": 1000, "\u202f": 200, "–": 500, "’": 318}
_USUAL = 790
_WIDE = 1150
"""Other letters: nine in ten of Latin's are narrower than the first, the widest Cyrillic and East Asian the second."""

BOLD = 1.2
ASCENT, DESCENT = 0.78, 0.22
"""How far letters reach above and below the line, of the size: tall letters without accents, and tails."""

_UNSEEN = re.compile("[\x00-\x1f\x7f-\x9f\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufffe\uffff\ud800-\udfff]")


def plain(text: str) -> str:
    """Text from outside as one line: no control characters, none that turn the direction, none that XML forbids."""
    return " ".join(_UNSEEN.sub(" ", text).split(" ")).strip()


def escaped(text: str) -> str:
    """Text fit to stand in XML, as content or between double quotes."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def width(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text in the unit of `size`, rather too wide than too narrow."""
    return sum(map(_advance, text)) * size * (BOLD if bold else 1.0) / 1000


def _advance(char: str) -> int:
    code = ord(char)
    if 32 <= code < 127:
        return _ASCII[code - 32]
    if char in _OTHERS:
        return _OTHERS[char]
    if unicodedata.combining(char):
        return 0
    wide = unicodedata.east_asian_width(char) in "WF" or code >= 0x370
    return _WIDE if wide else _USUAL


def fitted(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits with an ellipsis; empty where not even that fits."""
    if width(text, size, bold) <= room:
        return text
    while text and width(text + "…", size, bold) > room:
        text = text[:-1].rstrip()
    return text + "…" if text else ""


def wrapped(text: str, room: float, size: float, most: int, bold: bool = False) -> list[str]:
    """The text in at most `most` lines broken at spaces; what is left over is cut with an ellipsis."""
    lines: list[str] = []
    words = text.split(" ")
    while words and len(lines) < most:
        if len(lines) == most - 1:
            return [*lines, fitted(" ".join(words), room, size, bold)]
        line = words.pop(0)
        while words and width(f"{line} {words[0]}", size, bold) <= room:
            line = f"{line} {words.pop(0)}"
        lines.append(fitted(line, room, size, bold))
    return lines
