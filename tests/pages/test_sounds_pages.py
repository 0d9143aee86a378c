"""A recording kept on the page and worked out: the command finds the same in the folder, and faults are said."""

from __future__ import annotations

import io
import json
import sys
import time
import zipfile
from pathlib import Path

import pytest
from page_client import parsed
from starlette.testclient import TestClient

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "samples"))
from sample_sounds import held_speed  # noqa: E402

from calmday.operations import hear_sound_file  # noqa: E402
from calmday.reports.json_result import json_result  # noqa: E402

ENGINE = {"engine.cylinders": "4", "engine.idle_speed": "800", "engine.idle_speed~unit": "rpm",
          "engine.governed_speed": "4600", "engine.governed_speed~unit": "rpm",
          "vehicle.gear_ratios": "3.65, 2.02, 1.37, 1.0, 0.83", "vehicle.final_drive": "4.1",
          "vehicle.tyre": "195/75 R16"}  # fmt: skip


@pytest.fixture
def recording(client: TestClient, vehicle: str, tmp_path: Path) -> str:
    """A recording of an engine at 2520 rpm, kept on the page; its id."""
    client.post(f"/save/vehicle/{vehicle}", data=ENGINE)
    data = held_speed(tmp_path, 2520, seconds=6).read_bytes()
    found = str(client.post(f"/vehicles/{vehicle}/documents/sound").url.path).split("/")[2]
    kept = client.post(f"/documents/{found}/files", data={"role": "recording"}, files={"file": ("cab.wav", data)})
    assert kept.status_code == 200, parsed(kept).text
    saved = client.post(f"/sounds/{found}", data={"speed": "25.3", "speed~unit": "m/s", "listened_by": "Ada"})
    assert saved.status_code == 200, parsed(saved).text
    return found


def worked_out(client: TestClient, found: str) -> str:
    answer = client.post(f"/documents/{found}/work")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.url.path == f"/sounds/{found}"
    return " ".join(parsed(answer).text.split())


def test_the_page_says_what_the_command_says(client: TestClient, recording: str, tmp_path: Path) -> None:
    text = worked_out(client, recording)
    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("sound.toml")
    by_command = hear_sound_file(file).result
    assert by_command.sentence in text
    assert "Ada" in text
    shown = json.loads(client.get(f"/sounds/{recording}/sound.json").content)
    printed = json.loads(json_result(by_command))
    for key in printed.keys() - {"provenance", "label"}:
        assert shown[key] == printed[key], key
    assert by_command.stretches[0].engine_speed.value == pytest.approx(2520, rel=1e-3)
    assert by_command.stretches[0].gear == 5


def test_the_pictures_come_from_here(client: TestClient, recording: str, vehicle: str) -> None:
    worked_out(client, recording)
    found = client.get(f"/sounds/{recording}").text
    assert "data:image" not in found, "the content policy shows pictures of our own addresses only"
    assert f"/sounds/{recording}/spectrogram.png" in found
    grey = client.get(f"/sounds/{recording}/spectrogram.png")
    assert grey.headers["content-type"] == "image/png"
    assert grey.content.startswith(b"\x89PNG")
    assert b"data:image/png" in client.get(f"/sounds/{recording}/charts/spectrogram/svg").content
    assert client.get(f"/sounds/{recording}/engine-speed.csv").text.startswith("time_s,engine_speed_rpm")
    assert client.get(f"/sounds/{recording}/charts/nothing/svg").status_code == 404
    assert "2520 rpm" in parsed(client.get(f"/vehicles/{vehicle}/sounds")).text


def test_a_changed_build_sheet_is_said(client: TestClient, recording: str, vehicle: str) -> None:
    assert "changed after it was worked out" not in worked_out(client, recording)
    client.post(f"/save/vehicle/{vehicle}", data={"vehicle.final_drive": "3.7"})
    assert "changed after it was worked out" in client.get(f"/sounds/{recording}").text


@pytest.mark.parametrize("data", [b"not a sound at all, but text", b"RIFF\x10\0\0\0WAVEfmt ", b"fLaC" + bytes(50)])
def test_what_is_no_recording_is_not_kept(client: TestClient, vehicle: str, data: bytes) -> None:
    found = str(client.post(f"/vehicles/{vehicle}/documents/sound").url.path).split("/")[2]
    answer = client.post(f"/documents/{found}/files", data={"role": "recording"}, files={"file": ("cab.wav", data)})
    assert answer.status_code == 422
    assert "cab.wav" in parsed(answer).text


def test_without_cylinders_it_says_what_is_missing(client: TestClient, vehicle: str, tmp_path: Path) -> None:
    data = held_speed(tmp_path, 2520, seconds=3).read_bytes()
    found = str(client.post(f"/vehicles/{vehicle}/documents/sound").url.path).split("/")[2]
    client.post(f"/documents/{found}/files", data={"role": "recording"}, files={"file": ("cab.wav", data)})
    assert "cylinders" in worked_out(client, found)
    assert "does not say how many cylinders" in parsed(client.get(f"/vehicles/{vehicle}/tachometer")).text


def test_the_microphone_is_lent_to_one_page_only(client: TestClient, vehicle: str) -> None:
    client.post(f"/save/vehicle/{vehicle}", data=ENGINE)
    lent = {
        where: client.get(f"/vehicles/{vehicle}/{where}").headers["permissions-policy"]
        for where in ("tachometer", "sounds")
    }
    assert "microphone=(self)" in lent["tachometer"]
    assert "microphone=()" in lent["sounds"]
    assert "camera=()" in lent["tachometer"]


def test_what_the_microphone_recorded_is_kept(client: TestClient, vehicle: str, tmp_path: Path) -> None:
    client.post(f"/save/vehicle/{vehicle}", data=ENGINE)
    data = held_speed(tmp_path, 3000, seconds=4).read_bytes()
    answer = client.post(
        f"/vehicles/{vehicle}/sounds/recording",
        data={"seconds": "4", "listened_by": "Ben"},
        files={"file": ("cab.wav", data)},
        headers={"Accept": "application/json"},
    )
    where = answer.json()["where"]
    assert parsed(client.get(where)).boxes["listened_by"] == "Ben"
    assert "3000 rpm" in worked_out(client, where.rsplit("/", 1)[1])
    refused = client.post(f"/vehicles/{vehicle}/sounds/recording", files={"file": ("cab.wav", data[:50])})
    assert refused.status_code == 422
