"""Tracks for giving away: nothing near home leaves, everything else does, and nothing else of the original."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.files.track_files import parse_track
from calmday.logbook import Logbook
from calmday.logbook.home_end import cut_home_end
from calmday.operations.logbook import export_folder, home_radius_m

HOME = (52.6, 0.2)


def loop(laps: int = 2, radius_m: float = 1500.0, fixes: int = 240) -> list[tuple[float, float]]:
    """A round trip that passes home once a lap."""
    places = []
    for i in range(laps * fixes + 1):
        angle = 2 * math.pi * i / fixes
        north, east = radius_m * math.sin(angle), radius_m * (1 - math.cos(angle))
        places.append((HOME[0] + north / 111_200, HOME[1] + east / (111_200 * math.cos(math.radians(HOME[0])))))
    return places


def gpx(places: list[tuple[float, float]]) -> bytes:
    fixes = "".join(
        f'<trkpt lat="{lat!r}" lon="{lon!r}"><ele>{5 + i / 100}</ele>'
        f"<time>2026-04-12T11:{i // 60:02d}:{i % 60:02d}.5Z</time>"
        f"<extensions><speed>{10 + i / 100}</speed></extensions></trkpt>"
        for i, (lat, lon) in enumerate(places)
    )
    return (
        '<gpx version="1.1" creator="phone of Ada" xmlns="http://www.topografix.com/GPX/1/1">'
        "<metadata><name>From home</name>"
        f'<bounds minlat="{HOME[0]}" minlon="{HOME[1]}" maxlat="53" maxlon="1"/></metadata>'
        f'<wpt lat="{HOME[0]}" lon="{HOME[1]}"><name>Home</name></wpt><trk><trkseg>{fixes}</trkseg></trk></gpx>'
    ).encode()


def nmea(places: list[tuple[float, float]]) -> bytes:
    lines = []
    for i, (lat, lon) in enumerate(places):
        north, east = (f"{int(x):0{w}d}{60 * (x - int(x)):010.7f}" for x, w in ((lat, 2), (lon, 3)))
        body = f"GPRMC,11{i // 60:02d}{i % 60:02d}.00,A,{north},N,{east},E,20.0,90.0,120426,,"
        checksum = 0
        for c in body.encode():
            checksum ^= c
        lines.append(f"${body}*{checksum:02X}")
    return "\r\n".join(lines).encode()


def geojson(places: list[tuple[float, float]]) -> bytes:
    line = {"type": "LineString", "coordinates": [[lon, lat, 5.0] for lat, lon in places]}
    times = [f"2026-04-12T11:{i // 60:02d}:{i % 60:02d}Z" for i in range(len(places))]
    return json.dumps({"type": "Feature", "properties": {"coordTimes": times, "home": HOME}, "geometry": line}).encode()


def csv(places: list[tuple[float, float]]) -> bytes:
    rows = "".join(f"{i},{lat!r},{lon!r},{3.6 * 10}\n" for i, (lat, lon) in enumerate(places))
    return f"time_s,latitude_deg,longitude_deg,speed_kmh\n{rows}".encode()


def distances_m(data: bytes, name: str) -> list[float]:
    """Geodesic distance of every fix from home, by another library."""
    track = parse_track(data, f".{name.rpartition('.')[2]}", name)
    places = zip(track.latitude_deg, track.longitude_deg, strict=True)
    return [Geodesic.WGS84.Inverse(*HOME, lat, lon)["s12"] for lat, lon in places]


@pytest.mark.parametrize(
    ("name", "write"), [("out.gpx", gpx), ("log.nmea", nmea), ("out.geojson", geojson), ("out.csv", csv)]
)
def test_of_every_format_only_what_is_far_from_home_leaves(name: str, write: object) -> None:
    data = write(loop())  # type: ignore[operator]
    (cut,) = cut_home_end([(name, data)], 400.0)
    kept, before = distances_m(cut.data, cut.name), distances_m(data, name)
    assert min(kept) > 400 * 0.99
    assert len(kept) == sum(d > 400 for d in before)
    assert cut.removed == len(before) - len(kept)
    assert cut.removed > 40, "start, end and the pass in between"
    for private in (b"Home", b"Ada", b"metadata", b"bounds", b"home"):
        assert private not in cut.data


def test_what_a_fix_says_is_kept() -> None:
    data = gpx(loop())
    (cut,) = cut_home_end([("out.gpx", data)], 400.0)
    before, after = parse_track(data, ".gpx", "a"), parse_track(cut.data, ".gpx", "b")
    kept = np.isin(before.time_s, after.time_s)
    for field in ("time_s", "latitude_deg", "longitude_deg", "height_m", "speed_mps"):
        np.testing.assert_array_equal(getattr(before, field)[kept], getattr(after, field))
    assert len(set(after.segment.tolist())) == 2, "a hole parts the segments"


def test_several_tracks_lose_what_is_near_the_first_start_and_the_last_end() -> None:
    places = loop()
    cut = cut_home_end([("a.gpx", gpx(places[:200])), ("b.gpx", gpx(places[200:]))], 400.0)
    assert all(min(distances_m(track.data, track.name)) > 390 for track in cut)


def test_a_drive_that_never_left_leaves_nothing() -> None:
    (cut,) = cut_home_end([("out.gpx", gpx(loop(radius_m=100)))], 400.0)
    assert cut.data == b""


@given(st.floats(50, 3000))
@settings(deadline=None, max_examples=30)
def test_no_fix_within_the_radius_ever_leaves(radius_m: float) -> None:
    (cut,) = cut_home_end([("out.csv", csv(loop(laps=1)))], radius_m)
    if cut.data:
        assert min(distances_m(cut.data, cut.name)) > radius_m * 0.99


def test_a_run_to_give_away_holds_no_original(file_book: Logbook, tmp_path: Path) -> None:
    run = file_book.create("run", "Loop", file_book.create("vehicle", "Fen Hauler"))
    file_book.attach("run", run, "track", "out.gpx", gpx(loop()), by="Ada")
    file_book.attach("run", run, "photograph", "home.jpg", b"\xff\xd8 the house", by="Ada")
    file_book.add_note(run, "started at home", "Ada")
    file_book.add_result(
        run, inputs_sha256="", version="", seed=1, draws=1, summary={}, content=b'{"distance": 9}', along=b"52.6"
    )
    remarks = export_folder(file_book, run, tmp_path / "out", cut_home_m=400.0)
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "out.gpx",
        "result.json",
        "run.toml",
        "vehicle.toml",
    ]
    assert any("too short a distance" in remark for remark in remarks)
    assert (tmp_path / "out" / "result.json").read_bytes() == b'{"distance": 9}'
    text = b"".join(p.read_bytes() for p in (tmp_path / "out").iterdir())
    for private in (b"Home", b"house", b"Ada", b"started"):
        assert private not in text
    assert file_book.content(file_book.files("run", run, "track")[0].sha256) == gpx(loop()), "the original stays"


def test_the_radius_needs_its_unit() -> None:
    assert home_radius_m("0.5 km") == 500
    for text in ("500", "5 m", "3 kg", "900 km"):
        with pytest.raises(InputError, match="cut home"):
            home_radius_m(text)


def test_only_one_run_at_a_time_is_given_away(file_book: Logbook, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is for one run"):
        export_folder(file_book, None, tmp_path / "out", cut_home_m=400.0)
