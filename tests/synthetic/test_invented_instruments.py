"""Receivers, scales, stations and files of the invented drives."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from xml.etree import ElementTree as ET

import msgspec
import numpy as np
import pytest

from calmday.operations import read_run
from calmday.synthetic import SimulatedRun, write_folder
from calmday.synthetic.air_truth import _signed, wander
from calmday.synthetic.receiver import Receiver, random_receiver, record, to_geodetic
from calmday.synthetic.streams import stream
from calmday.synthetic.track_files import _degrees, _sentence, nmea, track_text
from calmday.synthetic.weighing import weigh


def test_local_plane_against_the_geodesic() -> None:
    """Lines of up to 8 km on the plane have their geodesic length to 5e-6."""
    from geographiclib.geodesic import Geodesic  # noqa: PLC0415

    g = np.random.default_rng(4)
    east, north = g.uniform(-6000, 6000, (2, 40))
    for latitude, longitude in ((52.3, 4.9), (-37.9, 144.4), (1.0, -179.99)):
        lat, lon = to_geodetic(east, north, np.zeros(40), latitude, longitude)
        for i in range(0, 40, 2):
            line = Geodesic.WGS84.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1])
            flat = np.hypot(east[i] - east[i + 1], north[i] - north[i + 1])
            assert line["s12"] == pytest.approx(flat, rel=5e-6)


def test_wander_has_the_memory_it_is_given() -> None:
    values = wander(stream(1, "x"), 200_000, 1.0, 20.0)
    assert values.std() == pytest.approx(1.0, abs=0.05)
    assert np.corrcoef(values[:-20], values[20:])[0, 1] == pytest.approx(np.exp(-1), abs=0.05)


def test_a_perfect_receiver_shows_the_true_way(windy_run: SimulatedRun) -> None:
    from geographiclib.geodesic import Geodesic  # noqa: PLC0415

    perfect = Receiver(
        drift_m=0.0,
        memory_s=60.0,
        white_m=0.0,
        height_drift_m=0.0,
        doppler_mps=0.0,
        outlier_share=0.0,
        dropouts=0,
    )
    track = record(windy_run, perfect)
    lat, lon = track.latitude_deg, track.longitude_deg
    steps = [Geodesic.WGS84.Inverse(*pair)["s12"] for pair in zip(lat[:-1], lon[:-1], lat[1:], lon[1:], strict=True)]
    # Chords cut the corners, and the way over hills is longer than the ground: parts in a thousand.
    assert sum(steps) == pytest.approx(windy_run.truth.distance_m, rel=2e-3)
    seen = np.trapezoid(track.speed_mps, track.time_s)
    assert seen == pytest.approx(windy_run.truth.distance_m, rel=1e-3)


def test_receiver_noise_is_as_asked(windy_run: SimulatedRun) -> None:
    rough = msgspec.structs.replace(random_receiver(2), drift_m=3.0, white_m=0.2, outlier_share=0.0, dropouts=3)
    noisy = record(windy_run, rough)
    smooth = record(windy_run, msgspec.structs.replace(rough, drift_m=0.0, white_m=0.0))
    off = (noisy.latitude_deg - smooth.latitude_deg) * 111_200
    assert 1.0 < np.sqrt(np.mean(off**2)) < 6.0
    assert np.std(np.diff(off)) < 1.0
    assert len(noisy) < windy_run.truth.duration_s + windy_run.scenario.parked_before_s + 400
    assert (np.diff(noisy.time_s) > 1).any()


def test_weighings_tell_the_fuel(windy_run: SimulatedRun) -> None:
    """Readings in air are light by (1 - rho_a/rho_f)/(1 - 1.2/8000): petrol 745: 0.146 % (reference sheet
    1.4, R).
    """
    weighed = weigh(windy_run)
    net = {"before": 0.0, "added": 0.0, "after": 0.0}
    for part in weighed.parts:
        net[part.when] += float(np.mean(part.gross_kg)) - part.tare_kg
    used = net["before"] + net["added"] - net["after"]
    expected = (windy_run.truth.fuel_burnt_kg + weighed.hidden_kg) * (1 + weighed.scale.span_error) / 1.0014
    doubt = 4 * (weighed.scale.resolution_kg + weighed.scale.repeatability_kg)
    assert used == pytest.approx(expected, abs=doubt)
    assert all(gross <= weighed.scale.capacity_kg for part in weighed.parts for gross in part.gross_kg)


def test_nmea_checksum_and_minutes() -> None:
    """The GGA sentence of 12:35:19 ends in *47 (S, R); 48.1173 degrees north are 4807.038 (R)."""
    body = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    assert _sentence(body) == f"${body}*47"
    assert _degrees(48.1173, 2, "NS") == "4807.03800,N"
    assert _degrees(-0.5, 3, "EW") == "00030.00000,W"


def test_signed_temperatures() -> None:
    assert [_signed(t) for t in (-3.4, -0.2, 0.2, 11.6)] == ["M03", "M00", "00", "12"]


def test_tracks_are_well_formed(windy_run: SimulatedRun) -> None:
    track = record(windy_run, random_receiver(1))
    for kind, space in (("gpx 1.1", "1/1"), ("gpx 1.0", "1/0")):
        root = ET.fromstring(track_text(track, kind, "x"))  # type: ignore[arg-type]
        name = "{http://www.topografix.com/GPX/" + space + "}"
        points = root.findall(f".//{name}trkpt")
        assert len(points) == len(track)
        speeds = [float(node.text or "nan") for node in root.iter(f"{name}speed")]
        assert speeds == pytest.approx(track.speed_mps.tolist())
    for line in nmea(track).split():
        body, check = line[1:].split("*")
        total = 0
        for letter in body.encode():
            total ^= letter
        assert total == int(check, 16)


METAR = re.compile(r"METAR ZZAA \d{6}Z (\d{3}|VRB)\d{2}(G\d{2})?KT (9999|10SM) \w{6} M?\d{2}/M?\d{2} (Q\d{4}|A\d{4})$")


def test_folder_is_whole_and_readable(windy_run: SimulatedRun, tmp_path: Path) -> None:
    path = write_folder(windy_run, tmp_path)
    run = tomllib.loads(path.read_text(encoding="utf-8"))
    assert tomllib.loads((tmp_path / "vehicle.toml").read_text(encoding="utf-8"))["vehicle"]["body"] == "van"
    assert all(METAR.match(line) for line in run["weather"]["metar"]), run["weather"]["metar"]
    truth = json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))
    assert truth["calm_day"]["g_per_km"] < truth["as_driven"]["g_per_km"]
    assert truth["distance"] == pytest.approx(windy_run.truth.distance_m / 1e3)
    read = read_run(path)
    assert read.engine_start == "cold"
    assert read.track is not None
    assert len(read.track) > 500
    again = write_folder(windy_run, tmp_path / "again")
    assert again.read_bytes() == path.read_bytes()
