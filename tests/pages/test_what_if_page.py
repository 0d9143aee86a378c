"""The page of changes on sliders shows what the command prints, and needs no script."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday import operations
from calmday.procedures.what_if_result import WhatIfResult
from calmday.reports.json_result import json_result
from calmday.reports.sheet import Table
from calmday.reports.what_if_sheet import what_if_sheet
from calmday.web.pages.what_if import learnt_words

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler"
LEARNT = [(False, 0, ""), (True, 0, "a weighed run"), (False, 1, "a day of coastdowns")]
ASKED = "final_drive=-10&drag_coefficient=-5&wind=4&wind~unit=m/s&speed=85"


@pytest.fixture(scope="module")
def by_command() -> WhatIfResult:
    states = {"wind": "4 m/s", "speed": "85 km/h"}
    return operations.what_if_words(EXAMPLE / "vehicle.toml", ("final_drive=-10 %", "drag_coefficient=-5 %"), states)


def test_the_json_has_the_figures_of_the_command(sheet_only: tuple[TestClient, str], by_command: WhatIfResult) -> None:
    client, vehicle = sheet_only
    shown = json.loads(client.get(f"/vehicles/{vehicle}/what-if.json?{ASKED}").content)
    printed = json.loads(json_result(by_command))
    assert shown["before"] == printed["before"]
    assert [c["difference"] for c in shown["changes"]] == [c["difference"] for c in printed["changes"]]
    assert shown["together"]["after"] == printed["together"]["after"]
    assert shown["interaction_percent"] == printed["interaction_percent"]


def test_the_numbers_of_the_sheet_stand_on_the_page(
    sheet_only: tuple[TestClient, str], by_command: WhatIfResult
) -> None:
    client, vehicle = sheet_only
    text = " ".join(parsed(client.get(f"/vehicles/{vehicle}/what-if?{ASKED}")).text.split())
    cells = [
        " ".join(cell.split())
        for block in what_if_sheet(by_command).blocks
        if isinstance(block, Table)
        for row in block.rows
        for cell in row[1:]
        if re.search(r"\d", cell) and "%" not in row[0]
    ]
    assert len(cells) > 5
    assert [cell for cell in cells if cell not in text and "drag" not in cell and "final" not in cell] == []


@pytest.mark.parametrize(
    ("query", "word"),
    [
        ("final_drive=tall", "This is no number"),
        ("speed=1,200", "Thousands, or a decimal comma?"),
        ("test_mass=-99", "not possible here"),
        ("speed=200", "no gear surely holds"),
        ("", "At a steady 80 km/h it uses"),
    ],
)
def test_what_cannot_be_is_said_and_the_rest_is_answered(
    sheet_only: tuple[TestClient, str], query: str, word: str
) -> None:
    client, vehicle = sheet_only
    answer = client.get(f"/vehicles/{vehicle}/what-if?{query}")
    assert answer.status_code == 200
    assert word.lower() in parsed(answer).text.lower()


def test_the_best_axle_is_sought_on_request(sheet_only: tuple[TestClient, str]) -> None:
    client, vehicle = sheet_only
    assert "Least at" not in parsed(client.get(f"/vehicles/{vehicle}/what-if")).text
    found = parsed(client.get(f"/vehicles/{vehicle}/what-if?axle=yes")).text
    assert "Least at" in found
    assert "An axle of" in found


def test_another_fuel_is_imagined_as_by_the_command(sheet_only: tuple[TestClient, str]) -> None:
    client, vehicle = sheet_only
    shown = json.loads(client.get(f"/vehicles/{vehicle}/what-if.json?fuel=hvo&speed=85").content)
    printed = operations.what_if_words(EXAMPLE / "vehicle.toml", ("fuel=hvo",), {"speed": "85 km/h"})
    assert shown["changes"][0]["difference"] == json.loads(json_result(printed))["changes"][0]["difference"]
    page = client.get(f"/vehicles/{vehicle}/what-if?fuel=hvo&final_drive=-10")
    assert "With all changes" in parsed(page).text
    assert '<option value="hvo" selected>' in page.text


def test_the_picture_can_be_taken_along(sheet_only: tuple[TestClient, str]) -> None:
    client, vehicle = sheet_only
    answer = client.get(f"/vehicles/{vehicle}/what-if/chart/svg?{ASKED}")
    assert answer.headers["content-type"].startswith("image/svg")
    assert "as it would be" in answer.text
    assert client.get(f"/vehicles/{vehicle}/what-if/chart/gif").status_code == 404


@pytest.mark.parametrize(("run", "days", "words"), LEARNT)
def test_coastdowns_alone_are_not_called_nothing(run: bool, days: int, words: str) -> None:
    assert learnt_words(run, days) == words
