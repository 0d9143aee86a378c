"""Pictures nobody should decode, and marks nobody can use: one fault line each, never a traceback."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from calmday.errors import InputError
from calmday.files.chart_file import read_chart
from calmday.files.picture_file import MOST_PIXELS, decode_picture

CHART = """
picture = "chart.png"
[[mark]]
at = [10, 90]
speed = "1000 rpm"
[[mark]]
at = [90, 90]
speed = "4000 rpm"
[[mark]]
at = [10, 90]
torque = "0 N*m"
[[mark]]
at = [10, 10]
torque = "100 lbf*ft"
[[curve]]
of = "torque"
colour = "#0072b2"
"""


def png(width: int = 100, height: int = 100, **options: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (255, 255, 255)).save(out, format="PNG", **options)
    return out.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds next to nothing."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not a picture"),
        (b"speed_rpm,torque_Nm\n", "not a picture"),
        (png()[:60], "broken"),
        (png()[:-30], "broken"),
        (bomb(60_000, 60_000), "pixels"),
        (bomb(9_000, 8_000), "pixels"),
        (bomb(4, 4), "pixels"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 50, "picture"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 50, "picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a picture"),
        (b"%PDF-1.7\n", "not a picture"),
    ],
)
def test_wrong_bytes_give_one_fault(data: bytes, says: str):
    with pytest.raises(InputError) as caught:
        decode_picture(data, "chart.png")
    assert len(caught.value.faults) == 1
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 400), st.binary(min_size=1, max_size=6))
def test_a_damaged_picture_decodes_or_gives_a_fault(place: int, put: bytes):
    data = bytearray(png())
    data[place % len(data) : place % len(data) + len(put)] = put
    try:
        assert decode_picture(bytes(data), "x").rgb.shape[2] == 3
    except InputError as error:
        assert len(error.faults) == 1


def test_a_large_picture_is_averaged_and_says_so():
    picture = decode_picture(png(4000, 3000), "x")
    assert picture.reduced == 2
    assert picture.rgb.shape == (1500, 2000, 3)
    assert (picture.width, picture.height) == (4000, 3000)
    assert MOST_PIXELS > 4000 * 3000


def test_clear_paper_is_white_and_a_turned_photograph_is_upright():
    out = io.BytesIO()
    Image.new("RGBA", (50, 40), (0, 0, 0, 0)).save(out, format="PNG")
    assert (decode_picture(out.getvalue(), "x").rgb == 255).all()
    out = io.BytesIO()
    half = np.zeros((40, 60, 3), dtype=np.uint8)
    half[:, :30] = 255
    turned = Image.Exif()
    turned[0x0112] = 6  # the camera lay on its side: rotate by a quarter turn to view (EXIF 2.3, table 4)
    Image.fromarray(half).save(out, format="PNG", exif=turned)
    picture = decode_picture(out.getvalue(), "x")
    assert (picture.width, picture.height) == (40, 60)
    assert picture.rgb[:25].mean() > 250
    assert picture.rgb[35:].mean() < 5


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "chart.png").write_bytes(png())
    return tmp_path


def faults(folder: Path, text: str) -> list[str]:
    (folder / "chart.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_chart(folder / "chart.toml")
    return [fault.key for fault in caught.value.faults]


def test_a_marked_chart_is_read_with_its_units(folder: Path):
    (folder / "chart.toml").write_text(CHART, encoding="utf-8")
    chart = read_chart(folder / "chart.toml")
    assert chart.marks[1].speed_rps == pytest.approx(4000 / 60)
    assert chart.marks[3].torque_nm == pytest.approx(135.58179, rel=1e-7)
    assert chart.curves[0].colour == (0, 0x72, 0xB2)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('picture = "chart.png"', "", "picture"),
        ('picture = "chart.png"', 'picture = "none.png"', "file"),
        ("at = [90, 90]", "", "mark[1].at"),
        ("at = [90, 90]", "at = [90]", "mark[1].at"),
        ("at = [90, 90]", "at = [90, 1e9]", "mark[1].at"),
        ('speed = "4000 rpm"', "", "mark[1].speed"),
        ('speed = "4000 rpm"', "speed = 4000", "mark[1].speed"),
        ('of = "torque"', "", "curve[0].of"),
        ('of = "torque"', 'of = "boost"', "curve[0].of"),
        ('colour = "#0072b2"', "", "curve[0].colour"),
        ('colour = "#0072b2"', 'colour = "blue"', "curve[0].colour"),
        ('colour = "#0072b2"', 'colour = "dark"\nguide = [[1, 2], [3]]', "curve[0].guide[1]"),
        ('colour = "#0072b2"', 'colour = "dark"\nfrom = "3000 rpm"\nto = "2000 rpm"', "curve[0].to"),
        ('colour = "#0072b2"', 'colour = "dark"\nwidth = 3', "curve[0].width"),
        ("[[curve]]", '[scale]\nspeed = "log"\n[[curve]]', "scale.speed"),
    ],
)
def test_each_fault_names_its_key(folder: Path, old: str, new: str, key: str):
    assert key in faults(folder, CHART.replace(old, new, 1))
