"""A planned test on the page: kept, worked out, printed, taken out; the command finds the same in the folder."""

from __future__ import annotations

import io
import json
import time
import zipfile
from pathlib import Path

import pypdf
import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.operations import plan_file
from calmday.reports.json_result import json_result

SHEET = {
    "vehicle.body": "van", "vehicle.gear_ratios": "3.65, 2.02, 1.37, 1.0, 0.83", "vehicle.final_drive": "4.1",
    "vehicle.tyre": "195/75 R16", "vehicle.test_mass": "1480", "vehicle.test_mass~unit": "kg",
    "engine.displacement": "2.1", "engine.displacement~unit": "L",
}  # fmt: skip
SAID = {
    "label": "Fen loop #1 *bold*", "question": "baseline", "wanted": "4", "wanted~unit": "%",
    "lap_length": "14.2", "lap_length~unit": "km", "laps": "3", "most_laps": "4", "speed": "80", "speed~unit": "km/h",
    "stops_per_lap": "0.5", "date": "2026-05-03", "timezone": "+02:00", "start": "07:30", "record_track": "true",
    "weather.forecast[0].wind_speed": "5", "weather.forecast[0].wind_speed~unit": "m/s",
    "weather.forecast[0].wind_from": "WSW", "fuel_on_board": "42", "fuel_on_board~unit": "L",
    "scale.capacity": "10", "scale.capacity~unit": "kg", "can.tare": "1.02", "can.tare~unit": "kg",
}  # fmt: skip


@pytest.fixture
def plan(client: TestClient, vehicle: str) -> str:
    """A plan begun and filled in on the page; its id."""
    client.post(f"/save/vehicle/{vehicle}", data=SHEET)
    found = str(client.post(f"/vehicles/{vehicle}/documents/plan").url.path).split("/")[2]
    saved = client.post(f"/plans/{found}", data=SAID)
    assert saved.status_code == 200, parsed(saved).text
    return found


def worked_out(client: TestClient, plan: str) -> str:
    answer = client.post(f"/documents/{plan}/work")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.url.path == f"/plans/{plan}"
    return " ".join(parsed(answer).text.split())


def test_the_page_says_what_the_command_says_of_the_folder(client: TestClient, plan: str, tmp_path: Path) -> None:
    text = worked_out(client, plan)
    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("plan.toml")
    by_command = plan_file(file)
    shown = json.loads(client.get(f"/plans/{plan}/plan.json").content)
    printed = json.loads(json_result(by_command))
    for key in printed.keys() - {"provenance"}:
        assert shown[key] == printed[key], key
    assert shown["provenance"]["inputs_sha256"] == printed["provenance"]["inputs_sha256"]
    assert by_command.sentence in text


def test_the_sheets_for_the_day_come_as_one_pdf(client: TestClient, plan: str) -> None:
    assert client.get(f"/plans/{plan}/sheets/a4.pdf").status_code == 404
    worked_out(client, plan)
    for paper in ("a4", "a5"):
        answer = client.get(f"/plans/{plan}/sheets/{paper}.pdf")
        assert answer.headers["content-type"] == "application/pdf"
        assert len(pypdf.PdfReader(io.BytesIO(answer.content)).pages) == 6
    assert client.get(f"/plans/{plan}/sheets/a3.pdf").status_code == 404


def test_the_chart_can_be_taken_along(client: TestClient, plan: str) -> None:
    worked_out(client, plan)
    assert client.get(f"/plans/{plan}/charts/laps/svg").content.startswith(b"<svg")
    assert client.get(f"/plans/{plan}/charts/laps/bmp").status_code == 404


def test_the_list_tells_the_newest_sentence(client: TestClient, plan: str, vehicle: str) -> None:
    before = parsed(client.get(f"/vehicles/{vehicle}/plans")).text
    assert "worth before you drive it" in before
    worked_out(client, plan)
    after = " ".join(parsed(client.get(f"/vehicles/{vehicle}/plans")).text.split())
    assert json.loads(client.get(f"/plans/{plan}/plan.json").content)["sentence"] in after


def test_a_change_afterwards_is_said(client: TestClient, plan: str) -> None:
    worked_out(client, plan)
    assert "changed after it was worked out" not in client.get(f"/plans/{plan}").text
    client.post(f"/save/plan/{plan}", data={"payload": "80", "payload~unit": "kg"})
    assert "changed after it was worked out" in client.get(f"/plans/{plan}").text


def test_a_box_at_fault_says_so_and_keeps_what_was_typed(client: TestClient, plan: str) -> None:
    answer = client.post(f"/plans/{plan}", data={"laps": "many", "wanted": "900", "wanted~unit": "%"})
    assert answer.status_code == 422
    found = parsed(answer)
    assert (found.boxes["laps"], found.boxes["wanted"]) == ("many", "900")


def test_without_a_route_it_says_what_is_missing(client: TestClient, vehicle: str) -> None:
    empty = str(client.post(f"/vehicles/{vehicle}/documents/plan").url.path).split("/")[2]
    assert "cannot be worked out yet" in worked_out(client, empty)


def test_what_stops_the_work_is_said_by_the_name_of_its_box(client: TestClient, plan: str) -> None:
    client.post(f"/plans/{plan}", data={"weather.forecast[0].wind_from": "over there"})
    text = worked_out(client, plan)
    assert "From where?" in text
    assert "weather.forecast" not in text


def test_a_track_of_the_route_serves_instead_of_a_length(client: TestClient, plan: str) -> None:
    track = (Path(__file__).parents[2] / "examples" / "fen-hauler" / "out.gpx").read_bytes()
    kept = client.post(f"/documents/{plan}/files", data={"role": "route"}, files={"file": ("lap.gpx", track)})
    assert kept.status_code == 200
    client.post(f"/plans/{plan}", data={"lap_length": "", "stops_per_lap": ""})
    worked_out(client, plan)
    shown = json.loads(client.get(f"/plans/{plan}/plan.json").content)
    assert shown["lap_distance"]["value"] == pytest.approx(9.86, abs=0.03)
    assert any("stops as in the track" in note for note in shown["notes"])
    refused = client.post(f"/documents/{plan}/files", data={"role": "route"}, files={"file": ("x.gpx", b"nothing")})
    assert refused.status_code == 422
