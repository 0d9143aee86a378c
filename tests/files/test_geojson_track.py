"""GeoJSON tracks."""

from __future__ import annotations

import datetime as dt
import json
import math

import numpy as np
import pytest

from calmday.errors import InputError
from calmday.files.geojson_track import parse_geojson

NOON = dt.datetime(2026, 4, 12, 12, 0, 0, tzinfo=dt.UTC).timestamp()


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
