"""Charts as PNG: the right size, the bundled letters, a plain word where the renderer is missing."""

from __future__ import annotations

import struct
import sys
import zlib

import numpy as np
import pytest
from sample_charts import every_chart

from calmday.errors import MissingExtraError
from calmday.reports.charts import png
from calmday.reports.charts.lettering import ASCENT, width
from calmday.reports.charts.picture import FONTS

CHARTS = every_chart()


def pixels(data: bytes) -> np.ndarray:
    """RGBA of a PNG without interlacing, eight bits a channel. ISO/IEC 15948:2004, clauses 9 and 11."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high, depth, kind, *_ = struct.unpack(">IIBBBBB", data[16:29])
    assert (depth, kind) == (8, 6)
    packed, place = b"", 8
    while place < len(data):
        (length,) = struct.unpack(">I", data[place : place + 4])
        if data[place + 4 : place + 8] == b"IDAT":
            packed += data[place + 8 : place + 8 + length]
        place += 12 + length
    raw = np.frombuffer(zlib.decompress(packed), dtype=np.uint8).reshape(high, 1 + 4 * wide)
    out = np.zeros((high, 4 * wide), dtype=np.uint8)
    before = np.zeros(4 * wide, dtype=np.uint8)
    for row, line in enumerate(raw):
        out[row] = before = _unfiltered(int(line[0]), line[1:], before)
    return out.reshape(high, wide, 4)


def _unfiltered(kind: int, line: np.ndarray, before: np.ndarray) -> np.ndarray:
    if kind == 0:
        return line.copy()
    if kind == 2:
        return line + before
    out = line.astype(np.int64)
    up = before.astype(np.int64)
    for i in range(out.size):
        left = out[i - 4] if i >= 4 else 0
        corner = up[i - 4] if i >= 4 else 0
        if kind == 1:
            guess = left
        elif kind == 3:
            guess = (left + up[i]) // 2
        else:
            p = left + up[i] - corner
            guess = min((left, up[i], corner), key=lambda one: abs(p - one))
        out[i] = (out[i] + guess) & 255
    return out.astype(np.uint8)


@pytest.mark.parametrize(("size", "wide", "high"), [("16:9", 1920, 1080), ("9:16", 1080, 1920)])
def test_a_still_picture_has_the_size_of_a_video(size: str, wide: int, high: int) -> None:
    data = png(CHARTS["comparison"], size, "dark")
    assert struct.unpack(">II", data[16:24]) == (wide, high)
    assert data == png(CHARTS["comparison"], size, "dark")


def test_letters_are_no_wider_than_counted_with() -> None:
    from resvg_py import svg_to_bytes  # noqa: PLC0415

    for text, bold in (("0123456789 ± %", False), ("Where the doubt comes from", True), ("WMÄÖ−°²…→ rpm", False)):
        size = 40
        weight = "700" if bold else "400"
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="1000" height="80"><text x="10" y="50" font-size="{size}" '
            f'font-family="DejaVu Sans" font-weight="{weight}">{text}</text></svg>'
        )
        faces = [str(FONTS / "DejaVuSans.ttf"), str(FONTS / "DejaVuSans-Bold.ttf")]
        data = bytes(svg_to_bytes(svg_string=svg, font_files=faces, skip_system_fonts=True))
        ink = pixels(data)[:, :, 3] > 40
        columns, rows = np.flatnonzero(ink.any(axis=0)), np.flatnonzero(ink.any(axis=1))
        assert columns.size > 100, "the bundled face has the letters"
        reach = columns[-1] - 10
        assert 0.8 * width(text, size, bold) <= reach <= width(text, size, bold) + 1
        assert 50 - rows[0] <= (ASCENT + 0.2) * size


def test_without_the_renderer_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    with pytest.raises(MissingExtraError, match=r"calmday\[pictures\]"):
        png(CHARTS["comparison"])


def test_the_face_comes_with_its_licence() -> None:
    text = (FONTS / "LICENSE-DejaVu.txt").read_text(encoding="utf-8")
    assert "Bitstream Vera is a trademark" in text
    assert sum(file.stat().st_size for file in FONTS.iterdir()) < 450_000
