"""Coastdowns and small measurements kept on the page, worked out, put together, and found again by the command."""

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

from calmday.files.evidence_file import NEEDED, READ_AS
from calmday.logbook import Logbook
from calmday.operations import reduce_coastdown_file
from calmday.records.evidence import EVIDENCE_KINDS
from calmday.reports.json_result import json_result


def recording(seed: int, slope: float) -> bytes:
    """A roll of 1480 kg against 190 N and 0.6 N/(m/s)^2 and a slope, one fix a second."""
    g = np.random.default_rng(seed)
    speed, rows = 26.0, ["time_s,speed_kmh"]
    for second in range(120):
        rows.append(f"{second},{3.6 * speed + 0.3 * g.standard_normal():.2f}")
        speed -= (190 + 0.6 * speed**2 + 1480 * 9.80665 * slope) / (1480 * 1.035)
        if speed < 7:
            break
    return ("\n".join(rows) + "\n").encode()


@pytest.fixture
def day(client: TestClient, vehicle: str) -> str:
    """A day with two rolls, begun and filled in on the page; its id."""
    client.post(
        f"/save/vehicle/{vehicle}", data={"vehicle.test_mass": "1480", "vehicle.test_mass~unit": "kg"}
    )  # fmt: skip
    found = str(client.post(f"/vehicles/{vehicle}/documents/coastdown").url.path).split("/")[2]
    for seed, slope in ((1, 0.001), (2, -0.001)):
        files = {"file": (f"pass-{seed}.csv", recording(seed, slope))}
        kept = client.post(f"/documents/{found}/files", data={"role": "pass"}, files=files)
        assert kept.status_code == 200, parsed(kept).text
    said = {"pass[0].heading": "0", "pass[0].heading~unit": "deg", "pass[1].heading": "180",
            "pass[1].heading~unit": "deg", "weather.reading[0].time": "12:30", "weather.reading[0].wind_speed": "1",
            "weather.reading[0].wind_speed~unit": "m/s", "weather.reading[0].wind_from": "N",
            "weather.reading[0].temperature": "18", "weather.reading[0].temperature~unit": "degC"}  # fmt: skip
    saved = client.post(f"/coastdowns/{found}", data=said)
    assert saved.status_code == 200, parsed(saved).text
    return found


def waited(client: TestClient, where: str) -> str:
    answer = client.post(where)
    until = time.monotonic() + 120
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.status_code == 200
    return answer.text.replace("\u00a0", " ")


def test_a_day_is_worked_out_and_the_command_finds_the_same(client: TestClient, day: str, tmp_path: Path) -> None:
    page = waited(client, f"/documents/{day}/work")
    assert re.search(r"At \d+ km/h on a calm day, \d+ N hold this vehicle back", page)
    assert page.count("<svg") >= 4
    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("coastdown.toml")
    shown = json.loads(client.get(f"/coastdowns/{day}/coastdown.json").content)
    printed = json.loads(json_result(reduce_coastdown_file(file)))
    for key in printed.keys() - {"provenance", "label"}:
        assert shown[key] == printed[key], key
    assert client.get(f"/coastdowns/{day}/charts/residuals/svg").headers["content-type"].startswith("image/svg")


def test_what_is_known_puts_tests_and_measurements_together(client: TestClient, vehicle: str, day: str) -> None:
    found = str(client.post(f"/vehicles/{vehicle}/documents/evidence").url.path).split("/")[2]
    said = {"kind": "weighbridge", "label": "Slip", "mass": "1475 kg\n1485 kg", "instrument": "20 kg"}
    saved = client.post(f"/evidence/{found}", data=said)
    assert saved.status_code == 200, parsed(saved).text
    page = waited(client, f"/vehicles/{vehicle}/knowledge/work")
    assert "At a steady 80 km/h on a calm day it needs" in page
    told = json.loads(client.get(f"/vehicles/{vehicle}/knowledge.json").content)
    assert {test["kind"] for test in told["tests"]} == {"coastdown", "weighbridge"}
    again = client.post(f"/evidence/{found}", data=said | {"mass": "1500 kg"})
    assert again.status_code == 200
    assert "since this was put together" in parsed(client.get(f"/vehicles/{vehicle}/knowledge")).text


def test_a_reading_without_its_unit_is_told(client: TestClient, vehicle: str) -> None:
    found = str(client.post(f"/vehicles/{vehicle}/documents/evidence").url.path).split("/")[2]
    answer = client.post(f"/evidence/{found}", data={"kind": "weighbridge", "mass": "1480"})
    assert answer.status_code == 422
    assert "Mass" in parsed(answer).text


def test_a_result_of_another_form_is_worked_out_anew(client: TestClient, day: str, tmp_path: Path) -> None:
    """What an earlier version of the program made may lack what this one reads."""
    waited(client, f"/documents/{day}/work")
    with Logbook.open(tmp_path / "logbook.calmday") as book:
        stored = book.results(day, whole=True)[0]
        told = json.loads(stored.content)
        del told["forces"]
        book.add_result(
            day, inputs_sha256=stored.inputs_sha256, version="0.0.1", seed=stored.seed, draws=stored.draws,
            summary=stored.summary, content=json.dumps(told).encode(),
        )  # fmt: skip
    page = client.get(f"/coastdowns/{day}")
    assert page.status_code == 200
    assert "Work it out" in page.text
    assert "hold this vehicle back" in waited(client, f"/documents/{day}/work")


@pytest.mark.parametrize("kind", EVIDENCE_KINDS)
def test_a_measurement_shows_the_boxes_of_its_kind_only(client: TestClient, vehicle: str, kind: str) -> None:
    begun = client.post(f"/vehicles/{vehicle}/documents/evidence", data={"kind": kind})
    assert kind.capitalize() in parsed(begun).text
    boxes = set(re.findall(r'name="(\w+)"', begun.text))
    others = {reading for reading, *_ in READ_AS.values()} - {READ_AS[kind][0]}
    assert READ_AS[kind][0] in boxes
    assert not boxes & others
    assert {key for key, _ in NEEDED.get(kind, ())} <= boxes


def test_what_was_typed_for_another_kind_stays_in_sight(client: TestClient, vehicle: str) -> None:
    begun = client.post(f"/vehicles/{vehicle}/documents/evidence", data={"kind": "tow force"})
    where = str(begun.url.path)
    client.post(where, data={"kind": "tow force", "force": "190 N"})
    changed = client.post(where, data={"kind": "roll-out", "force": "190 N"})
    assert "Not of this kind" in changed.text
    assert "190 N" in changed.text
    assert "Not of this kind" not in client.post(where, data={"kind": "roll-out", "force": ""}).text


def test_before_the_kind_is_chosen_nothing_else_is_asked(client: TestClient, vehicle: str) -> None:
    page = client.post(f"/vehicles/{vehicle}/documents/evidence").text
    assert "Choose the kind and save" in page
    assert 'name="force"' not in page
