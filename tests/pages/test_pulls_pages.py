"""A day of pulls kept on the page, worked out, and taken out: the command finds the same power in the folder."""

from __future__ import annotations

import io
import json
import re
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.operations import reduce_pull_file
from calmday.reports.json_result import json_result
from calmday.reports.pull_sheet import pull_sheet
from calmday.reports.sheet import Table

GEARS = {"vehicle.gear_ratios": "3.65, 2.02, 1.37, 1.0, 0.83", "vehicle.final_drive": "4.1",
         "vehicle.tyre": "195/75 R16", "vehicle.test_mass": "1480", "vehicle.test_mass~unit": "kg"}  # fmt: skip
CURVE = b"speed_rpm,torque_Nm\n800,96\n1600,115\n2400,116\n3200,108\n4200,88\n"


def recording(power_w: float, seed: int) -> bytes:
    """A pull in third of a vehicle of 1480 kg and constant power against 350 N and drag, five fixes a second."""
    g = np.random.default_rng(seed)
    speed, rows = 9.0, ["time_s,speed_kmh"]
    for step in range(160):
        rows.append(f"{0.2 * step:.1f},{3.6 * (speed + 0.05 * g.standard_normal()):.2f}")
        speed += 0.2 * (0.93 * power_w / speed - 350 - 0.8 * speed**2) / 1600
        if speed > 27:
            break
    return ("\n".join(rows) + "\n").encode()


@pytest.fixture
def day(client: TestClient, vehicle: str) -> str:
    """A day with two pulls, begun and filled in on the page; its id."""
    client.post(f"/save/vehicle/{vehicle}", data=GEARS)
    curve = client.post(f"/vehicles/{vehicle}/curve", data={"unit": "torque_Nm"}, files={"file": ("c.csv", CURVE)})
    assert curve.status_code == 200
    answer = client.post(f"/vehicles/{vehicle}/documents/pull")
    found = str(answer.url.path).split("/")[2]
    for seed in (1, 2):
        kept = client.post(
            f"/documents/{found}/files",
            data={"role": "pull"},
            files={"file": (f"pull-{seed}.csv", recording(3e4, seed))},
        )
        assert kept.status_code == 200, parsed(kept).text
    said = {"pull[0].gear": "3", "pull[0].grade": "0", "pull[0].grade~unit": "%", "pull[1].gear": "3",
            "weather.reading[0].time": "12:30", "weather.reading[0].wind_speed": "1.5",
            "weather.reading[0].wind_speed~unit": "m/s", "weather.reading[0].temperature": "14",
            "weather.reading[0].temperature~unit": "degC"}  # fmt: skip
    saved = client.post(f"/pulls/{found}", data=said)
    assert saved.status_code == 200, parsed(saved).text
    return found


def worked_out(client: TestClient, day: str) -> str:
    answer = client.post(f"/documents/{day}/work")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.url.path == f"/pulls/{day}"
    return answer.text


def test_the_power_is_that_of_the_command_on_the_folder(client: TestClient, day: str, tmp_path: Path) -> None:
    worked_out(client, day)
    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("pull.toml")
    by_command = reduce_pull_file(file)
    shown = json.loads(client.get(f"/pulls/{day}/pull.json").content)
    printed = json.loads(json_result(by_command))
    for key in printed.keys() - {"provenance", "label"}:
        assert shown[key] == printed[key], key
    assert shown["provenance"]["inputs_sha256"] == printed["provenance"]["inputs_sha256"]
    text = " ".join(parsed(client.get(f"/pulls/{day}")).text.split())
    assert by_command.sentence in text
    sheet = pull_sheet(by_command)
    cells = [cell for block in sheet.blocks if isinstance(block, Table) for row in block.rows for cell in row[1:]]
    assert [cell for cell in cells if re.search(r"\d", cell) and " ".join(cell.split()) not in text] == []
    assert 25 < by_command.peak_power.value < 36


def test_what_is_changed_afterwards_is_said(client: TestClient, day: str) -> None:
    worked_out(client, day)
    assert "changed after it was worked out" not in client.get(f"/pulls/{day}").text
    client.post(f"/save/pull/{day}", data={"payload": "80", "payload~unit": "kg"})
    assert "changed after it was worked out" in client.get(f"/pulls/{day}").text


def test_a_box_at_fault_says_so_and_keeps_what_was_typed(client: TestClient, day: str) -> None:
    answer = client.post(
        f"/pulls/{day}", data={"pull[0].gear": "third", "pull[0].grade": "90", "pull[0].grade~unit": "%"}
    )
    assert answer.status_code == 422
    found = parsed(answer)
    assert found.boxes["pull[0].gear"] == "third"
    assert found.boxes["pull[0].grade"] == "90"


def test_pulls_that_cannot_be_worked_out_say_why(client: TestClient, vehicle: str) -> None:
    found = str(client.post(f"/vehicles/{vehicle}/documents/pull").url.path).split("/")[2]
    assert "cannot be worked out yet" in parsed_text(worked_out(client, found))


def parsed_text(html: str) -> str:
    from page_client import Parsed  # noqa: PLC0415

    return " ".join(Parsed(html).text.split())


def test_what_is_wrong_is_told_by_the_name_of_its_box(client: TestClient, vehicle: str, day: str) -> None:
    client.post(f"/save/pull/{day}", data={"pull[1].heading": "180"})
    answer = client.post(f"/documents/{day}/work")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    text = " ".join(parsed(client.get(f"/pulls/{day}")).text.split())
    assert 'Pull 2, Which way? "180" has no unit.' in text
    assert "pull[1].heading" not in text


def test_a_file_that_is_no_recording_is_not_kept(client: TestClient, day: str) -> None:
    answer = client.post(f"/documents/{day}/files", data={"role": "pull"}, files={"file": ("x.csv", b"nothing here")})
    assert answer.status_code == 422


def test_another_recording_becomes_the_next_pull(client: TestClient, day: str) -> None:
    client.post(f"/documents/{day}/files", data={"role": "pull"}, files={"file": ("more.csv", recording(3e4, 3))})
    boxes = parsed(client.get(f"/pulls/{day}")).boxes
    assert "pull[2].gear" in boxes
    assert "pull[3].gear" in boxes
    assert "pull[4].gear" not in boxes


def test_pictures_lists_and_links(client: TestClient, vehicle: str, day: str) -> None:
    assert client.get(f"/pulls/{day}/charts/power/svg").status_code == 404
    worked_out(client, day)
    for chart in ("power", "each", "doubt"):
        assert client.get(f"/pulls/{day}/charts/{chart}/svg").status_code == 200
    assert client.get(f"/pulls/{day}/charts/other/svg").status_code == 404
    listed = parsed(client.get(f"/vehicles/{vehicle}/pulls"))
    assert f"/pulls/{day}" in listed.links
    assert "kW" in listed.text
    for link in dict.fromkeys([*listed.links, *parsed(client.get(f"/pulls/{day}")).links]):
        if not link.startswith("#"):
            assert client.get(link).status_code == 200, link


def test_a_folder_with_pulls_comes_in_and_goes_out_again(client: TestClient, day: str, tmp_path: Path) -> None:
    from page_client import client_of  # noqa: PLC0415

    worked_out(client, day)
    taken = client.get("/moving/logbook.zip").content
    with client_of(tmp_path / "other.calmday") as other:
        assert other.post("/moving/import", files={"file": ("out.zip", taken)}).status_code == 200
        assert json.loads(other.get(f"/pulls/{day}/pull.json").content) == json.loads(
            client.get(f"/pulls/{day}/pull.json").content
        )
        held = other.app.state.desk.book.files("pull", day, "pull")  # type: ignore[attr-defined]
        assert len(held) == 2
