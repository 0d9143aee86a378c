"""The map plane against published geodesics. S: seen in the source, R: recomputed here with geographiclib."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.reduction.projection import Plane, plane_for, radii_m

geographiclib = pytest.importorskip("geographiclib.geodesic")
WGS84 = geographiclib.Geodesic.WGS84
GEODTEST = Path(__file__).parents[3] / "shared/data/geodesic/GeodTest-100.dat"


def dms(degrees: int, minutes: int, seconds: float) -> float:
    return degrees + minutes / 60 + seconds / 3600


CV130 = (-dms(37, 57, 3.72030), dms(144, 25, 29.52440), -dms(37, 39, 10.15610), dms(143, 55, 35.38390))


def length_on_plane(line, pieces: int) -> float:
    """Length of a geodesic as summed on the plane in short pieces, each freed of the point scale."""
    at = [line.Position(s) for s in np.linspace(0.0, line.s13, pieces + 1)]
    lat = np.array([p["lat2"] for p in at])
    lon = np.array([p["lon2"] for p in at])
    plane = plane_for(lat, lon)
    east, north = plane.to_plane(lat, lon)
    scale, _ = plane.scale_and_convergence(lat, lon)
    middle = 2 / (1 / scale[1:] + 1 / scale[:-1])
    return float((np.hypot(np.diff(east), np.diff(north)) / middle).sum())


@pytest.mark.parametrize(
    ("ends", "published_m", "tolerance_m"),
    [
        # CV-130: published test line of the Australian datum manual. S R
        (CV130, 54_972.271, 1e-3),
        # CV-131: Land's End to John o' Groats, Vincenty's formula pages. S
        ((50.06632, -5.71475, 58.64402, -3.07009), 969_954.166, 1e-2),
        # CV-132: geographiclib-python's own test of JFK to LGW. S
        ((40.6, -73.8, 49.01666667, 2.55), 5_853_226.0, 1.0),
        # CV-133: first of geographiclib's twenty test lines. S
        ((35.60777, -139.44815, -11.17491, -69.95921), 8_935_244.5604818305, 1.0),
    ],
)  # fmt: skip
def test_published_lines(ends, published_m, tolerance_m):
    line = WGS84.InverseLine(*ends)
    assert length_on_plane(line, 3000) == pytest.approx(published_m, abs=tolerance_m)


def test_bearing_of_the_published_line():
    # CV-130: azimuth 306 deg 52' 05.37". S R
    lat1, lon1 = -dms(37, 57, 3.72030), dms(144, 25, 29.52440)
    start = WGS84.Direct(lat1, lon1, dms(306, 52, 5.37), 10.0)
    lat, lon = np.array([lat1, start["lat2"]]), np.array([lon1, start["lon2"]])
    plane = Plane(-37.8, 144.2)
    east, north = plane.to_plane(lat, lon)
    _, convergence = plane.scale_and_convergence(lat[:1], lon[:1])
    bearing = np.degrees(np.arctan2(east[1] - east[0], north[1] - north[0]) + convergence[0]) % 360
    assert bearing == pytest.approx(dms(306, 52, 5.37), abs=0.05 / 3600 * 10)


def test_a_thousandth_degree_at_45_north():
    # CV-135: 111.13179 m north, 78.84684 m east. R
    plane = Plane(45.0, 7.0)
    east, north = plane.to_plane(np.array([45.0, 45.001, 45.0]), np.array([7.0, 7.0, 7.001]))
    assert north[1] - north[0] == pytest.approx(111.13179, abs=2e-3)
    assert east[2] - east[0] == pytest.approx(78.84684, abs=1e-5)


@pytest.mark.skipif(not GEODTEST.exists(), reason="../shared/data/geodesic is absent")
def test_geodtest_lines():
    # GeographicLib GeodTest, columns lat1 lon1 azi1 lat2 lon2 azi2 s12. S. A car's day: the first 400 km of each line
    for row in np.loadtxt(GEODTEST)[:40]:
        lat1, lon1, azimuth, length = row[0], row[1], row[2], min(row[6], 4e5)
        line = WGS84.DirectLine(lat1, lon1, azimuth, length)
        if abs(lat1) > 85 or abs(line.Position(length)["lat2"]) > 85:
            continue
        assert length_on_plane(line, 400) == pytest.approx(length, rel=1e-7)


def test_radii():
    # a = 6378137, b = 6356752.3142 (NIMA TR8350.2): at the equator M = b^2/a, N = a; at the pole both a^2/b. M
    assert radii_m(0.0) == pytest.approx((6_335_439.327, 6_378_137.0), abs=1e-2)
    assert radii_m(90.0) == pytest.approx((6_399_593.6258,) * 2, abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(
    lat=st.floats(-84, 84), lon=st.floats(-180, 180), off_lat=st.floats(-3, 3), off_lon=st.floats(-4, 4),
    height=st.floats(-400, 4000),
)  # fmt: skip
def test_there_and_back(lat, lon, off_lat, off_lon, height):
    plane = Plane(lat, lon, height)
    at = np.array([lat + off_lat]), np.array([lon + off_lon])
    back = plane.to_geographic(*plane.to_plane(*at))
    assert back[0][0] == pytest.approx(at[0][0], abs=1e-9)
    assert (back[1][0] - at[1][0] + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-8)


def test_height_lengthens_the_road():
    low, high = Plane(47.0, 9.0, 0.0), Plane(47.0, 9.0, 2000.0)
    ends = np.array([47.0, 47.1]), np.array([9.0, 9.0])
    ratio = np.diff(high.to_plane(*ends)[1]) / np.diff(low.to_plane(*ends)[1])
    assert ratio[0] == pytest.approx(1 + 2000 / 6_378_600, rel=1e-6)
