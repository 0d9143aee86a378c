"""GPX tracks, sound, odd and hostile."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from file_samples import gpx_of, point

from calmday.errors import InputError
from calmday.files.gpx import parse_gpx, read_gpx

NOON = dt.datetime(2026, 4, 12, 12, 0, 0, tzinfo=dt.UTC).timestamp()


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


def test_gpx_written_with_a_prefix() -> None:
    """What XML libraries write that were not told a default namespace."""
    plain = gpx_of(point(0) + point(1) + "</trkseg><trkseg>" + point(2)).decode()
    prefixed = re.sub(r"<(/?)(\w)", r"<\1ns0:\2", plain).replace("<ns0:?xml", "<?xml").replace("xmlns=", "xmlns:ns0=")
    a, b = parse_gpx(plain.encode(), "a.gpx"), parse_gpx(prefixed.encode(), "b.gpx")
    assert b.time_s.tolist() == a.time_s.tolist() and b.segment.tolist() == a.segment.tolist() == [0, 0, 1]
    assert b.height_m.tolist() == a.height_m.tolist()


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
