"""The pages about power show what the command prints, keep to the reader's units, and need no script."""

from __future__ import annotations

import json
import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_client import Parsed, client_of, parsed
from starlette.testclient import TestClient

from calmday.logbook import Logbook
from calmday.operations import GearStudy, conditions, study_gears_file
from calmday.procedures.gears_result import GearsResult
from calmday.reports.along_sheet import along_sentence
from calmday.reports.gears_sheet import gears_sheet
from calmday.reports.json_result import json_result
from calmday.reports.sheet import Bars, Table

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler"
WINDY = "headwind=7&headwind~unit=m/s&grade=2&payload=100&speed=70"


@pytest.fixture(scope="module")
def worked_out(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str, str]]:
    """The example, brought in and worked out; its client, vehicle and run."""
    with client_of(tmp_path_factory.mktemp("book") / "b.calmday") as client:
        run = str(client.post("/moving/example").url.path).split("/")[2]
        answer = client.post(f"/runs/{run}/reduce")
        until = time.monotonic() + 60
        while "/jobs/" in str(answer.url) and time.monotonic() < until:
            time.sleep(0.05)
            answer = client.get(str(answer.url))
        vehicle = next(link for link in parsed(answer).links if link.startswith("/vehicles/")).split("/")[2]
        yield client, vehicle, run


@pytest.fixture(scope="module")
def by_command() -> GearStudy:
    return study_gears_file(EXAMPLE / "vehicle.toml", EXAMPLE / "run.toml")


def windy(study: GearStudy, **more: float) -> GearsResult:
    return study.answer(conditions(head_wind_mps=7.0, grade=0.02, payload_kg=100.0), speed_kmh=70.0, **more)


def plain(text: str) -> str:
    return " ".join(text.split())


def test_the_json_is_that_of_the_command(worked_out: tuple[TestClient, str, str], by_command: GearStudy) -> None:
    client, vehicle, _ = worked_out
    shown = json.loads(client.get(f"/vehicles/{vehicle}/gears.json?{WINDY}").content)
    printed = json.loads(json_result(windy(by_command)))
    for key in printed.keys() - {"provenance"}:
        assert shown[key] == printed[key], key
    assert shown["provenance"]["inputs_sha256"] == printed["provenance"]["inputs_sha256"]


def test_every_number_of_the_printed_sheet_stands_on_a_page(
    worked_out: tuple[TestClient, str, str], by_command: GearStudy
) -> None:
    client, vehicle, run = worked_out
    pages = (f"/vehicles/{vehicle}/gears?{WINDY}", f"/vehicles/{vehicle}/gears/changes?{WINDY}", f"/runs/{run}/power")
    everything = " ".join(plain(parsed(client.get(where)).text) for where in pages)
    sheet = gears_sheet(windy(by_command))
    assert sheet.lead in everything
    missing = []
    for block in sheet.blocks:
        cells = [cell for row in block.rows for cell in row[1:]] if isinstance(block, Table) else []
        cells += [bar.text for bar in block.bars] if isinstance(block, Bars) else []
        missing += [cell for cell in cells if re.search(r"\d", cell) and plain(cell) not in everything]
    assert missing == []
    assert by_command.run is not None
    assert along_sentence(by_command.run) in everything


def test_the_question_is_a_plain_form(worked_out: tuple[TestClient, str, str]) -> None:
    client, vehicle, _ = worked_out
    found = parsed(client.get(f"/vehicles/{vehicle}/gears?{WINDY}"))
    assert found.boxes["headwind"] == "7"
    assert found.boxes["speed"] == "70"
    assert found.boxes["altitude"] == ""
    assert f"/vehicles/{vehicle}/gears" in found.forms
    assert found.inline == []


def test_thin_air_takes_power(worked_out: tuple[TestClient, str, str]) -> None:
    client, vehicle, _ = worked_out
    held = [
        json.loads(client.get(f"/vehicles/{vehicle}/gears.json?altitude={height}").content)["hold"]["top_speed"][
            "value"
        ]
        for height in (0, 2500)
    ]
    assert held[1] < held[0]


def test_miles_for_who_drives_miles(worked_out: tuple[TestClient, str, str], by_command: GearStudy) -> None:
    client, vehicle, _ = worked_out
    client.cookies.set("calmday_habits", "units=us&look=device&decimal=.&by=me")
    try:
        text = parsed(client.get(f"/vehicles/{vehicle}/gears?headwind=15.66")).text
        result = json.loads(client.get(f"/vehicles/{vehicle}/gears.json?headwind=15.66").content)
    finally:
        client.cookies.delete("calmday_habits")
    assert "mph" in text
    assert result["asked"]["headwind"]["value"] == pytest.approx(15.66 * 0.44704)


@pytest.mark.parametrize("query", ["headwind=fast", "grade=900", "speed=nan", "payload=1e99", "altitude=-&speed=%00"])
def test_what_is_no_figure_is_said_and_left_out(worked_out: tuple[TestClient, str, str], query: str) -> None:
    client, vehicle, _ = worked_out
    answer = client.get(f"/vehicles/{vehicle}/gears?{query}")
    assert answer.status_code == 200
    assert "It was left out." in parsed(answer).text


def test_the_card_has_engine_speeds_only_where_there_is_a_rev_counter(worked_out: tuple[TestClient, str, str]) -> None:
    client, vehicle, _ = worked_out
    without = parsed(client.get(f"/vehicles/{vehicle}/gears/card")).text
    with_one = parsed(client.get(f"/vehicles/{vehicle}/gears/card?tachometer=yes")).text
    assert "rpm" not in without
    assert "Marks on the rev counter" in with_one
    assert "on the dial" in parsed(client.get(f"/vehicles/{vehicle}/gears/card?dial=0.95")).text


def test_more_in_hand_means_later_changes(by_command: GearStudy) -> None:
    steep = conditions(grade=0.03)
    little, much = (by_command.answer(steep, reserve=share).shift_points.least_fuel for share in (0.05, 0.4))
    later = [
        b.speed is None or (a.speed is not None and b.speed.value >= a.speed.value)
        for a, b in zip(little, much, strict=True)
    ]
    assert all(later)
    assert little != much


@pytest.mark.parametrize("form", ["svg", "16x9.png", "9x16.png"])
def test_pictures_to_take_along(worked_out: tuple[TestClient, str, str], form: str) -> None:
    client, vehicle, run = worked_out
    for where in (f"/vehicles/{vehicle}/gears/thrust/{form}?{WINDY}", f"/runs/{run}/power/{form}"):
        answer = client.get(where)
        assert answer.status_code == 200
        assert len(answer.content) > 1000
    assert client.get(f"/vehicles/{vehicle}/gears/thrust/gif").status_code == 404


def test_every_link_leads_somewhere(worked_out: tuple[TestClient, str, str]) -> None:
    client, vehicle, run = worked_out
    for page in (f"/vehicles/{vehicle}/gears", f"/vehicles/{vehicle}/gears/changes", f"/runs/{run}/power"):
        for link in dict.fromkeys(parsed(client.get(page)).links):
            if not link.startswith("#"):
                assert client.get(link).status_code == 200, link


def test_a_vehicle_that_is_hardly_known_still_gets_an_answer(client: TestClient, vehicle: str) -> None:
    for page in ("gears", "gears/changes", "gears/card", "gears.json"):
        answer = client.get(f"/vehicles/{vehicle}/{page}")
        assert answer.status_code == 200, page
    assert "build sheet alone" in Parsed(client.get(f"/vehicles/{vehicle}/gears").text).text


def test_a_build_sheet_at_fault_says_where(client: TestClient, vehicle: str) -> None:
    client.post(f"/save/vehicle/{vehicle}", data={"vehicle.test_mass": "heavy", "vehicle.test_mass~unit": "kg"})
    for page in ("gears", "gears/changes"):
        answer = client.get(f"/vehicles/{vehicle}/{page}")
        assert answer.status_code == 422
        assert f"/vehicles/{vehicle}/build" in parsed(answer).links
    assert client.get(f"/vehicles/{vehicle}/gears.json").status_code == 422


def test_a_change_of_the_build_sheet_is_seen_at_once(client: TestClient, vehicle: str) -> None:
    def held() -> float:
        found = json.loads(client.get(f"/vehicles/{vehicle}/gears.json?grade=4").content)
        return float(found["hold"]["top_speed"]["value"])

    light = held()
    client.post(f"/save/vehicle/{vehicle}", data={"vehicle.test_mass": "3500", "vehicle.test_mass~unit": "kg"})
    assert held() < light - 5


def test_a_moved_slider_draws_no_vehicle_anew(
    worked_out: tuple[TestClient, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, vehicle, _ = worked_out
    client.get(f"/vehicles/{vehicle}/gears")
    studies = client.app.state.desk.studies  # type: ignore[attr-defined]
    before = {key: id(held.study) for key, held in studies._held.items()}
    for wind in range(5):
        client.get(f"/vehicles/{vehicle}/gears?headwind={wind}")
    assert {key: id(held.study) for key, held in studies._held.items()} == before


def test_coastdowns_are_worked_in_while_the_page_already_answers(
    worked_out: tuple[TestClient, str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, vehicle, _ = worked_out
    from calmday.operations import logbook  # noqa: PLC0415

    plain_study = logbook.study_of_vehicle
    go_on = threading.Event()

    def slow(book: Logbook, vehicle_id: str, run: str | None, days: tuple[str, ...] = ()) -> object:
        if days:
            assert go_on.wait(30)
        study, rests, _ = plain_study(book, vehicle_id, run)
        return study, rests, len(days)

    monkeypatch.setattr(logbook, "newest_coastdowns", lambda *_: ("a", "b"))
    monkeypatch.setattr(logbook, "study_of_vehicle", slow)
    monkeypatch.setattr(logbook, "study_mark", lambda *_: "as it stands")
    client.app.state.desk.memory.__init__()  # type: ignore[attr-defined]
    first = parsed(client.get(f"/vehicles/{vehicle}/gears")).text
    assert "being worked in" in first
    assert "coastdowns taught" not in first
    go_on.set()
    until = time.monotonic() + 30
    while "being worked in" in (text := parsed(client.get(f"/vehicles/{vehicle}/gears")).text):
        assert time.monotonic() < until
        time.sleep(0.05)
    assert "2 days of coastdowns taught" in text
