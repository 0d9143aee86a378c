"""Which reader a file goes to, and several files as one track."""

from __future__ import annotations

import json
from functools import reduce
from operator import xor
from pathlib import Path

import pytest
from file_samples import gpx_of, point

from calmday.errors import InputError
from calmday.files.track_files import read_track, read_tracks


def sentence(body: str) -> str:
    return f"${body}*{reduce(xor, body.encode(), 0):02X}\r\n"


def rmc(time: str, *, date: str = "120426", status: str = "A", talker: str = "GP", speed: str = "22.4") -> str:
    return sentence(f"{talker}RMC,{time},{status},4807.038,N,01131.000,E,{speed},084.4,{date},,")


def gga(time: str, quality: str = "1") -> str:
    return sentence(f"GNGGA,{time},4807.038,N,01131.000,E,{quality},08,0.9,545.4,M,46.9,M,,")


LINE = [[4.5, 51.0, 3.0], [4.51, 51.0, 4.0], [4.52, 51.0]]
TIMES = ["2026-04-12T12:00:00Z", "2026-04-12T12:00:01Z", "2026-04-12T12:00:02Z"]


def feature(geometry: dict[str, object], **properties: object) -> dict[str, object]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def geojson(document: object) -> bytes:
    return json.dumps(document).encode()


def test_formats_are_told_by_what_is_in_them(tmp_path: Path) -> None:
    contents = {
        "a.txt": gpx_of(point(0)),
        "b.gpx": rmc("120000").encode(),
        "c.nmea": geojson(feature({"type": "LineString", "coordinates": LINE}, times=TIMES)),
        "d": b"time,lat,lon\n1,51,4.5\n",
        "e.log": ("# header\n" * 3 + rmc("120000")).encode(),
    }
    for name, data in contents.items():
        (tmp_path / name).write_bytes(data)
        assert len(read_track(tmp_path / name, name)) >= 1


def test_files_in_order_with_segments(tmp_path: Path) -> None:
    (tmp_path / "a.gpx").write_bytes(gpx_of(point(0) + "</trkseg><trkseg>" + point(1)))
    (tmp_path / "b.nmea").write_text(rmc("120000") + rmc("120001", status="V"), encoding="ascii")
    t = read_tracks([tmp_path / "a.gpx", tmp_path / "b.nmea"], ["a.gpx", "b.nmea"])
    assert t.segment.tolist() == [0, 1, 2]
    assert t.files == ("a.gpx", "b.nmea")
    assert t.notes == ("b.nmea: 1 sentence without a valid fix left out",)
    back = read_tracks([tmp_path / "b.nmea", tmp_path / "a.gpx"])
    assert back.latitude_deg[0] == t.latitude_deg[2]


@pytest.mark.parametrize(
    ("name", "data", "wrong"),
    [
        ("a.gpx", b"", "is empty"),
        ("a.gpx.gz", b"\x1f\x8b\x08\x00", "gzip"),
        ("a.kmz", b"PK\x03\x04", "zip"),
        ("a.fit", b"\x0e\x10\x43\x08.FIT", "fit file"),
        ("a.dat", b"hello world\n", "no known track format"),
        ("a.gpx", b"hello world\n", "not well-formed"),
    ],
)
def test_other_formats_are_named(tmp_path: Path, name: str, data: bytes, wrong: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_track(tmp_path / name, name)
    assert wrong in caught.value.faults[0].wrong


def test_all_faults_of_several_files(tmp_path: Path) -> None:
    (tmp_path / "a.gpx").write_bytes(b"<gpx/>")
    with pytest.raises(InputError) as caught:
        read_tracks([tmp_path / "a.gpx", tmp_path / "b.gpx"], ["a.gpx", "b.gpx"])
    assert [f.file for f in caught.value.faults] == ["a.gpx", "b.gpx"]


@pytest.mark.parametrize("name", ["a.csv", "a.nmea", "a.geojson"])
def test_utf_16_text_is_named(tmp_path: Path, name: str) -> None:
    """What a spreadsheet calls Unicode text: not a broken GPX file."""
    path = tmp_path / name
    path.write_text("time,latitude,longitude\n2026-04-12T11:00:00Z,52.0,0.1\n", encoding="utf-16")
    with pytest.raises(InputError) as caught:
        read_track(path, name)
    (fault,) = caught.value.faults
    assert (fault.key, fault.wrong, fault.right) == ("line 1", "is UTF-16 text", "save it as UTF-8")


def test_gpx_may_be_utf_16(tmp_path: Path) -> None:
    path = tmp_path / "a.gpx"
    text = (
        '<?xml version="1.0" encoding="UTF-16"?>\n<gpx version="1.1"><trk><trkseg>'
        '<trkpt lat="52" lon="1"><time>2026-04-12T11:00:00Z</time></trkpt></trkseg></trk></gpx>'
    )
    path.write_text(text, encoding="utf-16")
    assert len(read_track(path)) == 1
