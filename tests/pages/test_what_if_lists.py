"""Which change first, and a whole year: the page answers what the command answers, and keeps what was typed."""

from __future__ import annotations

import io
import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.files.plan_file import read_plan
from calmday.logbook import Logbook
from calmday.operations import what_if_file
from calmday.operations.logbook import export_folder, import_folder, plan_of_logbook
from calmday.operations.logbook.plans import earlier_tests
from calmday.reports.json_result import json_result

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler"
LIST = {
    "label": "Winter plans", "speed": "85", "speed~unit": "km/h", "wind": "3", "wind~unit": "m/s",
    "price": "1.62 EUR/L", "distance_per_year": "12000", "distance_per_year~unit": "km",
    "change[0].what": "taller axle", "change[0].key": "final_drive", "change[0].to": "3.7", "change[0].by": "",
    "change[0].cost": "350 EUR", "change[0].work": "9", "change[0].work~unit": "h",
    "change[1].what": "rack off", "change[1].key": "drag_coefficient", "change[1].by": "-7", "change[1].by~unit": "%",
    "change[1].cost": "10 EUR", "change[1].work": "30", "change[1].work~unit": "min",
    "year[0].distance": "6000", "year[0].distance~unit": "km", "year[0].speed": "75", "year[0].speed~unit": "km/h",
    "year[0].temperature": "3", "year[0].temperature~unit": "degC", "year[0].cold_starts": "150",
    "year[1].distance": "6000", "year[1].distance~unit": "km", "year[1].wind": "5", "year[1].wind~unit": "m/s",
}  # fmt: skip
FILE = """
vehicle = "vehicle.toml"
speed = "85 km/h"
wind = "3 m/s"
price = "1.62 EUR/L"
distance_per_year = "12000 km"
[[change]]
what = "taller axle"
set = { final_drive = 3.7 }
cost = "350 EUR"
work = "9 h"
[[change]]
what = "rack off"
set = { drag_coefficient = "-7 %" }
cost = "10 EUR"
work = "30 min"
[[year]]
distance = "6000 km"
speed = "75 km/h"
temperature = "3 degC"
cold_starts = 150
[[year]]
distance = "6000 km"
wind = "5 m/s"
"""


def begun(client: TestClient, vehicle: str) -> str:
    """A list begun on the page; its address."""
    answer = client.post(f"/vehicles/{vehicle}/documents/whatif")
    assert answer.status_code == 200, answer.text[:400]
    return str(answer.url.path)


def figures(result: dict[str, Any]) -> dict[str, Any]:
    """Everything of a result but where it came from."""
    return {key: value for key, value in result.items() if key not in ("provenance", "learnt_from")}


def test_the_page_answers_what_the_command_answers(sheet_only: tuple[TestClient, str], tmp_path: Path) -> None:
    client, vehicle = sheet_only
    place = begun(client, vehicle)
    answer = client.post(place, data=LIST)
    assert answer.status_code == 200
    shown = json.loads(client.get(place.replace("/what-if/", "/ledger/whatif/") + "/result.json").content)
    for name in ("vehicle.toml", "full_load.csv"):
        (tmp_path / name).write_bytes((EXAMPLE / name).read_bytes())
    (tmp_path / "whatif.toml").write_text(FILE, encoding="utf-8")
    printed = json.loads(json_result(what_if_file(tmp_path / "whatif.toml")))
    for told in (shown, printed):
        for change in [*told["changes"], told["together"]]:
            change.pop("settings")
    assert figures(shown) == figures(printed)
    assert [each["what"] for each in shown["changes"]] == ["rack off", "taller axle"]
    text = " ".join(parsed(answer).text.split())
    assert "Begin with rack off: it saves most fuel for its money." in text
    assert "350 EUR" in text
    year = shown["year"]
    assert year["fuel_after"]["value"] < year["fuel_before"]["value"]
    assert "Saved in a year" in text


def test_a_decimal_comma_is_read_in_the_money_boxes_as_in_every_other(sheet_only: tuple[TestClient, str]) -> None:
    client, vehicle = sheet_only
    told = []
    for price, cost, speed in (("1.62 EUR/L", "350.50 EUR", "85.5"), ("1,62 EUR/L", "350,50 EUR", "85,5")):
        place = begun(client, vehicle)
        answer = client.post(place, data=LIST | {"price": price, "change[0].cost": cost, "speed": speed})
        assert answer.status_code == 200, parsed(answer).text[:400]
        found = json.loads(client.get(place.replace("/what-if/", "/ledger/whatif/") + "/result.json").content)
        told.append(figures(found))
    assert told[0] == told[1]
    assert told[0]["changes"][1]["worth"]["cost"] == 350.5


def test_the_exported_list_is_a_file_of_the_command(sheet_only: tuple[TestClient, str], tmp_path: Path) -> None:
    client, vehicle = sheet_only
    place = begun(client, vehicle)
    client.post(place, data=LIST | {"label": "To take along", "speed": "84"})
    shown = json.loads(client.get(place.replace("/what-if/", "/ledger/whatif/") + "/result.json").content)
    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path)
    file = next(each for each in tmp_path.rglob("whatif.toml") if "To take along" in each.read_text(encoding="utf-8"))
    printed = json.loads(json_result(what_if_file(file)))
    assert figures(shown) == figures(printed)


def test_what_was_typed_stands_there_again(sheet_only: tuple[TestClient, str]) -> None:
    client, vehicle = sheet_only
    place = begun(client, vehicle)
    saved = client.post(
        place.replace("/what-if/", "/save/whatif/"), data={"change[0].by": "-7", "change[0].by~unit": "%"}
    )
    assert saved.json()["faults"] == {}, "what is still missing is not told while somebody types"
    client.post(place, data=LIST)
    boxes = parsed(client.get(place)).boxes
    texts = {key: typed for key, typed in LIST.items() if not key.endswith(("~unit", ".key"))}
    assert {key: boxes[key] for key in texts} == texts
    assert "change[2].cost" in boxes
    assert "year[2].distance" in boxes
    assert "Winter plans" in parsed(client.get(f"/vehicles/{vehicle}/what-if")).text


def test_there_are_five_changes_at_the_most(sheet_only: tuple[TestClient, str]) -> None:
    client, vehicle = sheet_only
    place = begun(client, vehicle)
    keys = ("drag_coefficient", "test_mass", "final_drive", "tyre_pressure", "engine_friction")
    five = {f"change[{i}].key": key for i, key in enumerate(keys)} | {f"change[{i}].by": "-5" for i in range(5)}
    page = client.post(place, data=five | {f"change[{i}].by~unit": "%" for i in range(5)})
    assert page.status_code == 200
    assert "change[4].cost" in parsed(page).boxes
    assert "change[5].cost" not in parsed(page).boxes
    assert "Best first: what saves most fuel." in parsed(page).text


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("change[0].cost", "350", "Change 1, Price: \u201c350\u201d"),
        ("change[1].by", "much", "Change 2, By how much"),
        ("change[0].work", "9 kg", "Change 1, Work"),
        ("change[0].to", "long", "Change 1, Or: what it becomes"),
        ("change[1].key", "", "Change 2, What is changed?"),
        ("change[0].to", "", "Change 1, By how much: It is missing"),
        ("year[0].distance", "", "Driving 1, How far in a year: It is missing"),
        ("year[1].wind", "200", "Driving 2, Wind from all around"),
        ("price", "1.62", "What is asked, Price of fuel"),
    ],
)
def test_bad_input_is_told_by_the_name_of_its_box(
    sheet_only: tuple[TestClient, str], key: str, typed: str, words: str
) -> None:
    client, vehicle = sheet_only
    place = begun(client, vehicle)
    answer = client.post(place, data=LIST | {key: typed})
    page = parsed(answer)
    assert answer.status_code == 422
    assert "It cannot be worked out yet" in page.text
    told = " ".join(page.text.split()).replace('"', "\u201c").replace("\u201d", "\u201c")
    assert words.replace("\u201d", "\u201c") in told
    assert "change[" not in page.text
    assert "year[" not in page.text
    assert page.boxes[key] == typed


def test_what_only_the_build_sheet_can_tell_is_told_above_the_boxes(client: TestClient, vehicle: str) -> None:
    place = begun(client, vehicle)
    answer = client.post(place, data={"change[0].key": "final_drive", "change[0].to": "3.7"})
    assert answer.status_code == 200, "the box itself is right"
    text = " ".join(parsed(answer).text.split())
    assert "It cannot be worked out yet: put this right below." in text
    assert "Change 1, Or: what it becomes: It has no gearing to belong to" in text


NAMES_A_RUN = f'label = "Learns"\nruns = ["run.toml"]\n{FILE}'


def test_tests_that_a_list_names_are_used_and_taken_out_with_it(client: TestClient, tmp_path: Path) -> None:
    """The list of a folder that names its run: the page finds the figures of the command on that folder, though the
    run was never worked out there; taken out and asked by the command, the list finds its run again; and so once more
    after it came into another logbook."""
    folder = tmp_path / "day"
    shutil.copytree(EXAMPLE, folder)
    (folder / "whatif.toml").write_text(NAMES_A_RUN, encoding="utf-8")
    printed = json.loads(json_result(what_if_file(folder / "whatif.toml")))
    alone = folder / "alone.toml"
    alone.write_text(FILE, encoding="utf-8")
    assert figures(json.loads(json_result(what_if_file(alone))))["before"] != printed["before"], "the run teaches much"
    alone.unlink()

    import_folder(client.app.state.desk.book, folder, "me")  # type: ignore[attr-defined]
    book = client.app.state.desk.book  # type: ignore[attr-defined]
    (kept,) = book.subjects("whatif")
    shown = json.loads(client.get(f"/ledger/whatif/{kept.id}/result.json").content)
    assert figures(shown) == figures(printed)
    assert shown["learnt_from"] == printed["learnt_from"] != ""
    assert client.get(f"/what-if/{kept.id}").status_code == 200

    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("whatif.toml")
    assert figures(json.loads(json_result(what_if_file(file)))) == figures(printed)
    with Logbook.open(tmp_path / "other.calmday") as other:
        import_folder(other, tmp_path / "out", "you")
        assert other.tables("whatif", kept.id)["runs"] == [book.subjects("run")[0].id]


def test_a_plan_that_names_a_run_learns_from_it(client: TestClient, tmp_path: Path) -> None:
    folder = tmp_path / "day"
    shutil.copytree(EXAMPLE, folder)
    plan = 'vehicle = "vehicle.toml"\nlap_length = "10 km"\nlaps = 2\nspeed = "80 km/h"\nruns = ["run.toml"]\n'
    (folder / "plan.toml").write_text(plan, encoding="utf-8")
    book = client.app.state.desk.book  # type: ignore[attr-defined]
    import_folder(book, folder, "me")
    (kept,) = book.subjects("plan")
    (folder / "plan.toml").write_text(plan.replace('"run.toml"', '"run.toml", "gone.toml"'), encoding="utf-8")
    assert "plan.toml: gone.toml was not taken in with it" in import_folder(book, folder, "me").remarks
    assert earlier_tests(book, kept.id)["run"] == (book.subjects("run")[0].id,)
    assert plan_of_logbook(book, kept.id)[0].runs == ()
    file = tmp_path / "out"
    export_folder(book, None, file)
    again = next(path for path in file.rglob("plan.toml") if "gone" not in path.read_text(encoding="utf-8"))
    assert [run.label for run in read_plan(again).runs] == [book.subjects("run")[0].name]
