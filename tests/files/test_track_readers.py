"""Tracks from GPX, NMEA, GeoJSON and CSV: the same record, whatever the file."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Callable
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pynmea2
import pytest
from conftest import gpx_of, point

from calmday.errors import InputError
from calmday.files.csv_track import parse_csv_track
from calmday.files.geojson_track import parse_geojson
from calmday.files.gpx import parse_gpx, read_gpx
from calmday.files.nmea import parse_nmea, read_nmea
from calmday.files.track_files import read_track, read_tracks

NOON = dt.datetime(2026, 4, 12, 12, 0, 0, tzinfo=dt.UTC).timestamp()


# ---------------------------------------------------------------- GPX


def test_gpx_1_0_speed_and_course() -> None:
    inner = "<course>271.5</course><speed>12.5</speed><hdop>0.9</hdop>"
    t = parse_gpx(gpx_of("".join(point(i, inner) for i in range(3)), "1.0"), "a.gpx")
    assert t.speed_mps.tolist() == [12.5] * 3
    assert t.course_deg.tolist() == [271.5] * 3
    assert t.hdop.tolist() == [0.9] * 3
    assert t.height_m.tolist() == [3.0] * 3
    assert np.diff(t.time_s).tolist() == [1.0, 1.0]
    assert t.latitude_deg[2] == 51.00002 and t.longitude_deg[0] == 4.5
    assert t.segment.tolist() == [0, 0, 0] and t.files == ("a.gpx",) and t.notes == ()


@pytest.mark.parametrize("prefix", ["", "gpxtpx:", "ns3:"])
def test_gpx_1_1_extensions_of_any_namespace(prefix: str) -> None:
    p = prefix
    inner = (
        f"<extensions><{p}TrackPointExtension><{p}speed>7.25</{p}speed><{p}bearing>90</{p}bearing>"
        f"</{p}TrackPointExtension></extensions>"
    )
    t = parse_gpx(gpx_of(point(0, inner) + point(1)), "a.gpx")
    assert t.speed_mps[0] == 7.25 and math.isnan(t.speed_mps[1])
    assert t.course_deg[0] == 90.0


def test_gpx_segments_count_over_trkseg_and_trk() -> None:
    points = point(0) + point(1) + "</trkseg><trkseg>" + point(2) + "</trkseg></trk><trk><trkseg>" + point(3)
    assert parse_gpx(gpx_of(points), "a.gpx").segment.tolist() == [0, 0, 1, 2]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("2026-04-12T12:00:00Z", 0.0),
        ("2026-04-12T12:00:00.250Z", 0.25),
        ("2026-04-12T14:00:00+02:00", 0.0),
        (" 2026-04-12T12:00:01Z\n", 1.0),
        ("2026-04-12T11:59:60Z", 0.0),
    ],
)
def test_gpx_times(text: str, seconds: float) -> None:
    data = gpx_of(f'<trkpt lat="1" lon="2"><time>{text}</time></trkpt>')
    assert parse_gpx(data, "a.gpx").time_s[0] == pytest.approx(NOON + seconds, abs=1e-6)


def test_gpx_times_without_offset_are_utc_and_said() -> None:
    t = parse_gpx(gpx_of('<trkpt lat="1" lon="2"><time>2026-04-12T12:00:00</time></trkpt>'), "a.gpx")
    assert t.time_s[0] == NOON
    assert "without offset" in t.notes[0]


def test_gpx_points_that_cannot_be_used_are_left_out_and_said() -> None:
    bad = [
        'lat="91" lon="1"',
        'lat="1" lon="200"',
        'lat="nan" lon="1"',
        'lat="x" lon="1"',
        'lon="1"',
        'lat="0" lon="0"',
    ]
    points = point(0) + "".join(f"<trkpt {a}><time>2026-04-12T11:00:01Z</time></trkpt>" for a in bad)
    points += '<trkpt lat="1" lon="1"/>' + point(2)
    t = parse_gpx(gpx_of(points), "a.gpx")
    assert len(t) == 2
    assert t.notes == ("6 fixes without a possible position left out", "1 fix without a time left out")


def test_gpx_without_any_time() -> None:
    t = parse_gpx(gpx_of('<trkpt lat="1" lon="1"/><trkpt lat="1" lon="1.1"/>'), "a.gpx")
    assert len(t) == 2 and np.isnan(t.time_s).all()
    assert t.notes == ("no fix has a time",)


def test_gpx_comments_and_cdata_do_not_split_values() -> None:
    t = parse_gpx(gpx_of(point(0, "<speed>1<!-- x -->2<![CDATA[.5]]></speed>")), "a.gpx")
    assert t.speed_mps[0] == 12.5


BILLION_LAUGHS = (
    b'<?xml version="1.0"?><!DOCTYPE g [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]><gpx><trk><trkseg>'
    b'<trkpt lat="1" lon="1"><ele>&b;</ele></trkpt></trkseg></trk></gpx>'
)


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "not well-formed"),
        (b"<gpx/>", "no track point"),
        (b'<gpx><wpt lat="1" lon="1"/><rte><rtept lat="1" lon="1"/></rte></gpx>', "no track point"),
        (b"<kml><trk/></kml>", 'of "kml", not GPX'),
        (b"<html><body>Not found</body></html>", "not GPX"),
        (BILLION_LAUGHS, "document type"),
        (b'<!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx/>', "document type"),
        (gpx_of(point(0))[:-20], "after 1 track points"),
        (b'<?xml version="1.0" encoding="no-such-code"?><gpx/>', "encoding"),
        (gpx_of(point(0)).replace(b"<ele>3", b"<ele>\xff"), "not well-formed"),
        (b"<gpx>" * 100_000, "not well-formed"),
        (gpx_of('<trkpt lat="99" lon="1"/>'), "no usable fix among 1"),
    ],
)
def test_gpx_refused(data: bytes, wrong: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_gpx(data, "a.gpx")
    (fault,) = caught.value.faults
    assert fault.file == "a.gpx" and fault.right
    assert wrong in fault.wrong or (wrong == "encoding" and "code" in fault.wrong)


def test_real_gpx_files(shared: Callable[[str], Path]) -> None:
    t = read_gpx(shared("gpx/around-visnjan-with-car.gpx"))
    assert len(t) == 104
    assert t.time_s[0] == dt.datetime(2020, 12, 18, 6, 15, 50, tzinfo=dt.UTC).timestamp()
    assert (t.latitude_deg[0], t.longitude_deg[0], t.height_m[0]) == (45.2735188510, 13.7142099626, 211.15)
    assert (np.diff(t.time_s) > 0).all()
    for version in ("1.0", "1.1"):
        full = read_gpx(shared(f"gpx/gpx{version}_with_all_fields.gpx"))
        assert (full.latitude_deg.tolist(), full.longitude_deg.tolist()) == ([10.1], [-20.2])
        assert (full.height_m[0], full.hdop[0]) == (11.1, 101.0)
        assert full.time_s[0] == dt.datetime(2013, 1, 1, 12, 0, 4, tzinfo=dt.UTC).timestamp()


# ---------------------------------------------------------------- NMEA


def sentence(body: str) -> str:
    return f"${body}*{reduce(xor, body.encode(), 0):02X}\r\n"


def rmc(
    time: str, *, date: str = "120426", status: str = "A", talker: str = "GP", speed: str = "22.4"
) -> str:
    return sentence(f"{talker}RMC,{time},{status},4807.038,N,01131.000,E,{speed},084.4,{date},,")


def gga(time: str, quality: str = "1") -> str:
    return sentence(f"GNGGA,{time},4807.038,N,01131.000,E,{quality},08,0.9,545.4,M,46.9,M,,")


@pytest.mark.parametrize(
    ("body", "checksum"),
    [
        # CV-138 (S, several pages; R)
        ("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", "47"),
        # CV-139 (S, a JavaScript package's page; R)
        ("GPRMC,161006.425,A,7855.6020,S,13843.8900,E,154.89,84.62,110715,173.1,W,A", "30"),
        # CV-140 (S, same; R)
        ("GPGGA,120558.916,5058.7457,N,00647.0514,E,2,06,1.7,109.0,M,47.6,M,1.5,0000", "71"),
        # CV-141 (S, a university's page; R)
        ("GPRMC,175741,A,4751.698,N,12209.774,W,000.0,360.0,191100,019.5,E", "69"),
    ],
)
def test_nmea_published_checksums(body: str, checksum: str) -> None:
    assert len(parse_nmea(f"${body}*{checksum}\r\n".encode(), "a.nmea")) == 1
    other = f"{int(checksum, 16) ^ 1:02X}"
    with pytest.raises(InputError, match="wrong or no checksum"):
        parse_nmea(f"${body}*{other}\r\n".encode(), "a.nmea")


def test_nmea_position_and_speed() -> None:
    # CV-142: 4807.038,N is 48.117300 deg; 22.4 kn is 11.52356 m/s (S inputs; R).
    t = parse_nmea(rmc("120000").encode(), "a.nmea")
    assert t.latitude_deg[0] == pytest.approx(48.117300, abs=1e-6)
    assert t.speed_mps[0] == pytest.approx(11.52356, abs=1e-5)
    assert t.longitude_deg[0] == pytest.approx(11 + 31 / 60)
    assert (t.course_deg[0], t.time_s[0]) == (84.4, NOON)


def test_nmea_sentences_of_one_moment_are_one_fix() -> None:
    text = (
        gga("120000.00")
        + rmc("120000")
        + sentence("GPVTG,99.9,T,,M,1.0,N,1.9,K")
        + gga("120001.00")
        + rmc("120001.00")
    )
    t = parse_nmea(text.encode(), "a.nmea")
    assert t.time_s.tolist() == [NOON, NOON + 1]
    assert t.height_m.tolist() == [545.4, 545.4]
    assert t.hdop.tolist() == [0.9, 0.9]
    assert t.course_deg[0] == 84.4


def test_nmea_speed_from_vtg_where_there_is_no_rmc_speed() -> None:
    t = parse_nmea((gga("120000") + sentence("GPVTG,123.0,T,,M,,N,36.0,K,A")).encode(), "a.nmea")
    assert t.speed_mps[0] == pytest.approx(10.0)
    assert t.course_deg[0] == 123.0
    assert "times are relative" in t.notes[0]


def test_nmea_midnight() -> None:
    before = gga("235958") + rmc("235959") + gga("000000") + gga("000001") + rmc("000002", date="130426")
    t = parse_nmea(before.encode(), "a.nmea")
    midnight = dt.datetime(2026, 4, 13, tzinfo=dt.UTC).timestamp()
    assert (t.time_s - midnight).tolist() == [-2, -1, 0, 1, 2]
    late = gga("235959") + gga("000000") + rmc("000001", date="130426")
    assert (parse_nmea(late.encode(), "a.nmea").time_s - midnight).tolist() == [-1, 0, 1]


def test_nmea_invalid_fixes_junk_and_damage() -> None:
    text = (
        "# a comment\njunk\n$\n$GPRMC\n$GPGSV,3,1,12*00\n\x00\xff\n"
        + rmc("120000", status="V")
        + gga("120000", quality="0")
        + rmc("120001")
        + rmc("120002").replace("4807", "4808")
        + rmc("120003", talker="GN")
        + sentence("GPRMC,120004,A,99")
        + sentence("GPRMC,126104,A,4807.038,N,01131.000,E,1,1,120426,,")
        + rmc("120005")[:30]
    )
    t = parse_nmea(text.encode("latin-1"), "a.nmea")
    assert (t.time_s - NOON).tolist() == [1, 3]
    assert t.notes == (
        "2 sentences with a wrong or no checksum left out",
        "2 sentences that cannot be read left out",
        "2 sentences without a valid fix left out",
    )


def test_nmea_without_any_checksum_is_read_and_said() -> None:
    text = "\n".join(line.partition("*")[0] for line in (rmc("120000"), rmc("120001")))
    t = parse_nmea(text.encode(), "a.nmea")
    assert len(t) == 2 and "no sentence has a checksum" in t.notes[0]


@pytest.mark.parametrize("name", ["bt451.log", "bundg_zeus_9.log"])
def test_real_nmea_logs_against_a_general_library(shared: Callable[[str], Path], name: str) -> None:
    path = shared(f"nmea/{name}")
    t = read_nmea(path)
    rmc_fixes: dict[float, pynmea2.RMC] = {}
    positions: dict[float, tuple[float, float]] = {}
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        if line[3:6] not in ("RMC", "GGA"):
            continue
        m = pynmea2.parse(line, check=True)
        if (m.sentence_type == "RMC" and m.status != "A") or (m.sentence_type == "GGA" and not m.gps_qual):
            continue
        of_day = (
            m.timestamp.hour * 3600
            + m.timestamp.minute * 60
            + m.timestamp.second
            + m.timestamp.microsecond / 1e6
        )
        if m.sentence_type == "RMC":
            rmc_fixes[of_day] = m
            positions.setdefault(of_day, (m.latitude, m.longitude))
        else:
            # Where both say where it was, GGA is taken: receivers write it with more decimals.
            positions[of_day] = (m.latitude, m.longitude)
    assert len(t) == len(positions) > 10
    for time, latitude, longitude, speed in zip(
        t.time_s, t.latitude_deg, t.longitude_deg, t.speed_mps, strict=True
    ):
        assert (latitude, longitude) == pytest.approx(positions[time % 86_400], abs=1e-9)
        if time % 86_400 in rmc_fixes:
            m = rmc_fixes[time % 86_400]
            assert speed == pytest.approx(float(m.spd_over_grnd) * 1852 / 3600)
            assert dt.datetime.fromtimestamp(time, dt.UTC).date() == m.datestamp


# ---------------------------------------------------------------- GeoJSON

LINE = [[4.5, 51.0, 3.0], [4.51, 51.0, 4.0], [4.52, 51.0]]
TIMES = ["2026-04-12T12:00:00Z", "2026-04-12T12:00:01Z", "2026-04-12T12:00:02Z"]


def feature(geometry: dict[str, object], **properties: object) -> dict[str, object]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def geojson(document: object) -> bytes:
    return json.dumps(document).encode()


@pytest.mark.parametrize(
    "properties",
    [
        {"coordTimes": TIMES},
        {"times": TIMES},
        {"coordinateProperties": {"times": TIMES}},
        {"times": [NOON, NOON + 1, NOON + 2]},
        {"times": [NOON * 1000, NOON * 1000 + 1000, NOON * 1000 + 2000]},
    ],
)
def test_geojson_line(properties: dict[str, object]) -> None:
    f = feature({"type": "LineString", "coordinates": LINE}, **properties)
    for document in (f, {"type": "FeatureCollection", "features": [f]}):
        t = parse_geojson(geojson(document), "a.geojson")
        assert (t.time_s - NOON).tolist() == [0, 1, 2]
        assert t.longitude_deg.tolist() == [4.5, 4.51, 4.52] and t.latitude_deg.tolist() == [51.0] * 3
        assert t.height_m[:2].tolist() == [3.0, 4.0] and math.isnan(t.height_m[2])


def test_geojson_multi_line_and_bare_geometry() -> None:
    multi = {"type": "MultiLineString", "coordinates": [LINE[:2], LINE[2:]]}
    t = parse_geojson(geojson(feature(multi, coordTimes=[TIMES[:2], TIMES[2:]])), "a.geojson")
    assert t.segment.tolist() == [0, 0, 1] and (t.time_s - NOON).tolist() == [0, 1, 2]
    bare = parse_geojson(geojson({"type": "LineString", "coordinates": LINE}), "a.geojson")
    assert np.isnan(bare.time_s).all() and bare.notes == ("no fix has a time",)


def test_geojson_points_with_time_and_speed() -> None:
    points = [
        feature({"type": "Point", "coordinates": c}, time=time, speed_kmh=36, heading=90)
        for c, time in zip(LINE, TIMES, strict=True)
    ]
    t = parse_geojson(geojson({"type": "FeatureCollection", "features": points}), "a.geojson")
    assert t.speed_mps.tolist() == pytest.approx([10.0] * 3) and t.course_deg.tolist() == [90.0] * 3


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"{", "is not JSON"),
        (b"[" * 100_000, "is not JSON"),
        (b'{"a": NaN}', "is not JSON"),
        (b"[]", "no line"),
        (b'{"type": "FeatureCollection", "features": 3}', "no line"),
        (geojson({"type": "Polygon", "coordinates": [LINE]}), "no line"),
        (
            geojson(feature({"type": "LineString", "coordinates": LINE}, times=TIMES[:2])),
            "2 times for 3 positions",
        ),
        (geojson({"type": "LineString", "coordinates": [["a", "b"], 3, [1]]}), "no usable fix"),
        (b'{"type": "LineString", "coordinates": [[1' + b"0" * 400 + b", 2]]}", "no"),
        ('{"type": "Point"}'.encode("utf-16"), "UTF-16"),
    ],
)
def test_geojson_refused(data: bytes, wrong: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_geojson(data, "a.geojson")
    assert wrong in caught.value.faults[0].wrong


# ---------------------------------------------------------------- CSV


@pytest.mark.parametrize(
    ("column", "factor"),
    [
        ("speed_mps", 1.0),
        ("speed_kmh", 1 / 3.6),
        ("speed_mph", 0.44704),
        ("speed_kn", 1852 / 3600),
        ("Speed (km/h)", 1 / 3.6),
    ],
)
def test_csv_speed_units(column: str, factor: float) -> None:
    t = parse_csv_track(f"time,lat,lon,{column}\n{NOON},51,4.5,10\n{NOON + 1},51,4.6,20\n".encode(), "a.csv")
    assert t.speed_mps.tolist() == pytest.approx([10 * factor, 20 * factor])
    assert t.time_s.tolist() == [NOON, NOON + 1] and t.notes == ()


def test_csv_of_many_tongues() -> None:
    text = (
        "\ufeff# logger\nTimestamp;Latitude;Longitude;Altitude_ft;Heading;HDOP;Segment\r\n"
        "2026-04-12T14:00:00+02:00;51,5;4,5;10;90;1,1;a\r\n"
        "2026-04-12T14:00:01+02:00;51,6;4,5;;;;b\r\n"
    )
    t = parse_csv_track(text.encode(), "a.csv")
    assert (t.time_s - NOON).tolist() == [0, 1]
    assert t.latitude_deg.tolist() == [51.5, 51.6]
    assert t.height_m[0] == pytest.approx(3.048) and math.isnan(t.height_m[1])
    assert (t.course_deg[0], t.hdop[0], t.segment.tolist()) == (90.0, 1.1, [0, 1])
    tabs = parse_csv_track(b"time_s\tlat\tlon\n0\t51\t4.5\n1\t51\t4.6\n", "a.csv")
    assert tabs.time_s.tolist() == [0, 1] and "relative" in tabs.notes[0]


def test_csv_speed_log_without_positions() -> None:
    t = parse_csv_track(b"time_s,speed_kmh\n0,90\n0.5,89\n", "a.csv")
    assert np.isnan(t.latitude_deg).all() and t.speed_mps[0] == pytest.approx(25.0)
    assert "no positions, only speed" in t.notes


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "no lines"),
        ("time,lat,lon\n", "no rows"),
        ("lat,lon\n51\n", "1 fields"),
        ("time,lat\n1,51\n", "longitude"),
        ("time,lat,lon,speed\n1,51,4,5\n", "has no unit"),
        ("a,b\n1,2\n", "neither position nor speed"),
        ("speed_kmh,x_acc\n90,1\n", "no column for time"),
        ("time,lat,lon\nsoon:ish,51,4\n", "is not a time"),
        ("time,lat,lon\n1,nan,4\n2,inf,4\n3,x,4\n", "no usable fix among 3"),
        ("time,lat,lon\n1,51,5\n2,51,5,6\n", "4 fields"),
    ],
)
def test_csv_refused(text: str, wrong: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_csv_track(text.encode(), "a.csv")
    assert wrong in caught.value.faults[0].wrong


def test_real_csv_tracks(shared: Callable[[str], Path]) -> None:
    course = read_track(shared("closed_course_10hz.csv"))
    assert len(course) > 3000 and np.median(np.diff(course.time_s)) == pytest.approx(0.1)
    assert course.speed_mps.max() == pytest.approx(25.0, abs=15.0)
    drives = read_track(shared("drives_1hz.csv"))
    assert drives.segment.max() == 1 and (drives.hdop > 0).all()
    assert drives.speed_mps[0] == pytest.approx(24.0657062753519 * 0.44704)
    schedule = read_track(shared("hwfet_765s_mph.csv"))
    assert np.sum(schedule.speed_mps) / 1609.344 == pytest.approx(10.26, abs=0.01)  # 40 CFR 600 App. I (S)


# ---------------------------------------------------------------- dispatch


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
