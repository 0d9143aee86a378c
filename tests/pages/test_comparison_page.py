"""Did it make a difference, on the page: runs ticked, worked out, taken out; the command finds the same."""

from __future__ import annotations

import io
import json
import math
import re
import time
import zipfile
from pathlib import Path

import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.operations import compare_file
from calmday.operations.logbook import compare_logged, comparison_result_of, export_folder, import_folder

GRAMS = (1900, 1810, 1800, 1885)
CHANGED = (False, True, True, False)


def _run(client: TestClient, vehicle: str, number: int, grams: int) -> str:
    answer = client.post(f"/vehicles/{vehicle}/runs")
    found = str(answer.url.path).split("/")[2]
    said = {
        "label": f"Loop {number}",
        "date": f"2026-04-{number:02d}",
        "laps": "3",
        "lap_length": "10",
        "lap_length~unit": "km",
        "weighing[0].when": "before",
        "weighing[0].gross[0]": f"{1 + grams / 1000:.3f} kg",
        "weighing[1].when": "after",
        "weighing[1].gross[0]": "1.000 kg",
    }
    for key, text in said.items():
        if "~" not in key:
            unit = {f"{key}~unit": said[f"{key}~unit"]} if f"{key}~unit" in said else {}
            client.post(f"/save/run/{found}", data={key: text, **unit})
    return found


@pytest.fixture
def runs(client: TestClient, vehicle: str) -> list[str]:
    """Four weighed runs; their ids, oldest first."""
    return [_run(client, vehicle, i, grams) for i, grams in enumerate(GRAMS, 1)]


@pytest.fixture
def comparison(client: TestClient, vehicle: str, runs: list[str]) -> str:
    """A comparison begun on the page, with every run on its side; its id."""
    answer = client.post(f"/vehicles/{vehicle}/documents/comparison")
    found = str(answer.url.path).split("/")[2]
    said = {f"member.{run}.group": ("changed" if c else "baseline") for run, c in zip(runs, CHANGED, strict=True)}
    saved = client.post(f"/comparisons/{found}", data={"label": "Roof", "changed_name": "deflector", **said})
    assert saved.status_code == 200, parsed(saved).text
    return found


def worked_out(client: TestClient, comparison: str) -> str:
    answer = client.post(f"/documents/{comparison}/work")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.url.path == f"/comparisons/{comparison}"
    return answer.text.replace("\u00a0", " ")


def test_every_run_is_offered_by_its_name(client: TestClient, comparison: str, runs: list[str]) -> None:
    text = client.get(f"/comparisons/{comparison}").text
    for number, run in enumerate(runs, 1):
        assert f'name="member.{run}.group"' in text
        assert f"Loop {number}, 2026-04-0{number}" in text
    assert text.count("before the change</option>") == len(runs)


def test_the_answer_is_that_of_the_command_on_the_folder(client: TestClient, comparison: str, tmp_path: Path) -> None:
    text = worked_out(client, comparison)
    shown = json.loads(client.get(f"/comparisons/{comparison}/comparison.json").content)
    assert shown["sentence"] in text.replace("&#39;", "'")
    assert shown["change_percent"]["value"] == pytest.approx(100 * ((1810 * 1800 / 1900 / 1885) ** 0.5 - 1), abs=0.05)
    assert [run["label"] for run in shown["runs"]] == ["Loop 1", "Loop 2", "Loop 3", "Loop 4"]
    zipfile.ZipFile(io.BytesIO(client.get("/moving/logbook.zip").content)).extractall(tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("comparison.toml")
    by_command = compare_file(file)
    assert by_command.change_percent is not None
    for key in ("value", "low", "high"):
        assert getattr(by_command.change_percent, key) == pytest.approx(shown["change_percent"][key], rel=1e-12)
    assert by_command.sentence == shown["sentence"]


def test_it_is_called_stale_once_a_run_has_changed(client: TestClient, comparison: str, runs: list[str]) -> None:
    worked_out(client, comparison)
    assert "Work it out anew" not in client.get(f"/comparisons/{comparison}").text
    client.post(f"/save/run/{runs[0]}", data={"weighing[1].gross[0]": "1.010 kg"})
    assert "Work it out anew" in client.get(f"/comparisons/{comparison}").text


def test_a_run_is_left_out_with_its_reason(client: TestClient, comparison: str, runs: list[str]) -> None:
    key = f"member.{runs[1]}"
    client.post(f"/save/comparison/{comparison}", data={f"{key}.left_out": "a shower"})
    text = client.get(f"/comparisons/{comparison}").text
    assert f'name="{key}.known_before_weighing"' in text
    client.post(f"/save/comparison/{comparison}", data={f"{key}.known_before_weighing": "true"})
    assert "a shower" in worked_out(client, comparison)


def test_without_runs_it_says_what_is_missing(client: TestClient, vehicle: str) -> None:
    answer = client.post(f"/vehicles/{vehicle}/documents/comparison")
    found = str(answer.url.path).split("/")[2]
    assert "This vehicle has no run yet" in answer.text
    text = worked_out(client, found)
    assert "It cannot be worked out yet" in text
    assert "no run that counts" in text


def test_a_box_that_cannot_be_read_is_kept_and_told(client: TestClient, comparison: str) -> None:
    answer = client.post(f"/comparisons/{comparison}", data={"planned_runs": "many"})
    assert answer.status_code == 422
    assert 'value="many"' in answer.text
    assert "a whole number" in parsed(answer).text


def test_what_people_say_is_looked_at(client: TestClient, comparison: str) -> None:
    client.post(f"/save/comparison/{comparison}", data={"claim[0].text": "12 % better mpg"})
    assert "10.7 % less fuel" in worked_out(client, comparison)
    assert 'name="claim[1].text"' in client.get(f"/comparisons/{comparison}").text


def test_an_order_is_drawn_and_its_digest_kept(client: TestClient, comparison: str) -> None:
    answer = client.post(f"/comparisons/{comparison}/order", data={"runs": "8"})
    line = re.search(r"(?:[AB]-){7}[AB] [0-9a-f]{32}", answer.text)
    digest = re.search(r"[0-9a-f]{64}", answer.text)
    assert line and digest
    text = client.get(f"/comparisons/{comparison}").text
    assert digest[0] in text
    assert line[0] not in text
    assert client.post(f"/comparisons/{comparison}/order", data={"runs": "7"}).status_code == 422


def test_pictures_can_be_taken_along(client: TestClient, comparison: str) -> None:
    worked_out(client, comparison)
    assert client.get(f"/comparisons/{comparison}/charts/compared-runs/svg").text.startswith("<svg")
    assert client.get(f"/comparisons/{comparison}/charts/nothing/svg").status_code == 404


def _fitted(client: TestClient, comparison: str, said: dict[str, str]) -> None:
    for key, text in said.items():
        answer = client.post(f"/save/comparison/{comparison}", data={key: text})
        assert answer.json()["faults"] == {}, (key, answer.text)


def test_several_changes_at_once_are_told_apart(client: TestClient, comparison: str, runs: list[str]) -> None:
    """Deflector in the middle two runs, tyres in the last two: by the grams 5 % less and nothing, near enough."""
    _fitted(client, comparison, {"changes[0]": "deflector"})
    _fitted(client, comparison, {"changes[1]": "hard tyres"})
    text = parsed(client.get(f"/comparisons/{comparison}"))
    assert "Which changes were fitted?" in text.text
    assert text.text.count("not fitted") == 8, "two changes for each of four runs"
    _fitted(client, comparison, {f"member.{run}.with[0]": "deflector" for run in runs[1:3]})
    _fitted(client, comparison, {f"member.{run}.with[1]": "hard tyres" for run in runs[2:]})
    worked_out(client, comparison)
    shown = client.get(f"/comparisons/{comparison}/comparison.json").json()
    found = {each["name"]: each["change_percent"]["value"] for each in shown["effects"]}
    # least squares on ln(grams): two balanced columns, so each is half the sum of its two contrasts
    y = [math.log(grams) for grams in GRAMS]
    assert found["deflector"] == pytest.approx(100 * math.expm1((y[1] + y[2] - y[0] - y[3]) / 2), abs=0.1)
    assert found["hard tyres"] == pytest.approx(100 * math.expm1((y[2] + y[3] - y[0] - y[1]) / 2), abs=0.1)


def test_a_change_taken_out_of_the_middle_leaves_the_others_where_they_were(
    client: TestClient, comparison: str, runs: list[str]
) -> None:
    _fitted(client, comparison, {"changes[0]": "deflector", "changes[1]": "hard tyres"})
    _fitted(client, comparison, {f"member.{run}.with[1]": "hard tyres" for run in runs[2:]})
    _fitted(client, comparison, {"changes[0]": ""})
    worked_out(client, comparison)
    shown = client.get(f"/comparisons/{comparison}/comparison.json").json()
    (left,) = shown["effects"]
    assert left["name"] == "hard tyres"
    y = [math.log(grams) for grams in GRAMS]
    assert left["change_percent"]["value"] == pytest.approx(100 * math.expm1((y[2] + y[3] - y[0] - y[1]) / 2), abs=0.1)


def test_the_ratio_to_a_control_vehicle_is_compared(client: TestClient, comparison: str, runs: list[str]) -> None:
    """The other vehicle used more in the very runs before the change: what looked like 5 % is nearly nothing."""
    control = ("6.30", "6.02", "6.01", "6.28")
    for run, figure in zip(runs, control, strict=True):
        key = f"member.{run}.control"
        saved = client.post(f"/save/comparison/{comparison}", data={key: figure, f"{key}~unit": "L/100km"})
        assert saved.json()["faults"] == {}
    assert f"Loop {len(runs)}, 2026-04-04: the other vehicle used" in client.get(f"/comparisons/{comparison}").text
    worked_out(client, comparison)
    shown = client.get(f"/comparisons/{comparison}/comparison.json").json()
    ratios = [math.log(grams / float(figure)) for grams, figure in zip(GRAMS, control, strict=True)]
    expected = 100 * math.expm1((ratios[1] + ratios[2] - ratios[0] - ratios[3]) / 2)
    assert shown["change_percent"]["value"] == pytest.approx(expected, abs=0.1)
    assert abs(expected) < 0.5


@pytest.mark.parametrize(("last", "words"), [("", "known of some runs only"), ("44 mpg imp", "one unit for every run")])
def test_a_control_vehicle_is_known_of_every_run_in_one_unit_or_of_none(
    client: TestClient, comparison: str, runs: list[str], last: str, words: str
) -> None:
    _fitted(client, comparison, {f"member.{run}.control": "6.3 L/100km" for run in runs[:3]})
    _fitted(client, comparison, {f"member.{runs[3]}.control": last})
    assert words in worked_out(client, comparison)


def test_what_the_other_vehicle_used_is_asked_for_with_its_unit(
    client: TestClient, comparison: str, runs: list[str]
) -> None:
    key = f"member.{runs[0]}.control"
    saved = client.post(f"/save/comparison/{comparison}", data={key: "6.3 pots"})
    assert "pots" in saved.json()["faults"][key]


def test_what_most_people_leave_empty_is_folded_until_something_stands_in_it(
    client: TestClient, comparison: str, runs: list[str]
) -> None:
    where = f"/comparisons/{comparison}"
    folded = "<summary>Did another vehicle drive along, unchanged?</summary>"
    assert folded in client.get(where).text
    _fitted(client, comparison, {f"member.{runs[0]}.control": "6.3 L/100km"})
    assert folded not in client.get(where).text
    assert "<summary>Were they driven in pairs?</summary>" in client.get(where).text


RUN = """
label = "Loop {number}"
vehicle = "vehicle.toml"
date = 2026-04-{number:02d}
laps = 3
lap_length = "10 km"
[[weighing]]
when = "before"
gross = "{grams} g"
[[weighing]]
when = "after"
gross = "1000 g"
"""
LISTED = """
label = "Roof"
baseline = ["one.toml", "four.toml"]
[[run]]
file = "two.toml"
group = "changed"
label = "First with it"
[[run]]
file = "three.toml"
group = "changed"
left_out = "rain"
known_before_weighing = true
[[run]]
label = "From memory"
group = "changed"
fuel = "805 g"
distance = "30 km"
"""


def test_a_comparison_of_a_folder_comes_in_with_its_runs(client: TestClient, tmp_path: Path) -> None:
    """Runs in lists, in tables and without a file: on the page they are members under their vehicle, and the answer is
    that of the command on the folder; what is taken out again gives it once more."""
    folder = tmp_path / "day"
    folder.mkdir()
    (folder / "vehicle.toml").write_text('[vehicle]\nname = "Roofed"\ntest_mass = "1480 kg"\n', encoding="utf-8")
    for name, number, grams in (("one", 1, 1900), ("two", 2, 1810), ("three", 3, 1700), ("four", 4, 1885)):
        (folder / f"run-{name}.toml").write_text(RUN.format(number=number, grams=grams + 1000), encoding="utf-8")
    text = re.sub(r'"(\w+)\.toml"', r'"run-\1.toml"', LISTED)
    (folder / "comparison.toml").write_text(text, encoding="utf-8")
    printed = compare_file(folder / "comparison.toml", draws=200)

    book = client.app.state.desk.book  # type: ignore[attr-defined]
    assert import_folder(book, folder, "me").remarks == ()
    (kept,) = book.subjects("comparison")
    assert book.subject(kept.id).parent == book.subjects("vehicle")[0].id
    members = book.tables("comparison", kept.id)["member"]
    assert sorted(said["group"] for said in members.values()) == ["baseline", "baseline", "changed", "changed"]
    page = client.get(f"/comparisons/{kept.id}")
    assert page.status_code == 200
    assert "Loop 4" in parsed(page).text
    shown = comparison_result_of(compare_logged(book, kept.id, draws=200))
    assert shown.change_percent == printed.change_percent
    runs = [sorted((run.label, run.group, run.used) for run in result.runs) for result in (shown, printed)]
    assert runs[0] == runs[1]
    export_folder(book, None, tmp_path / "out")
    (file,) = (tmp_path / "out").rglob("comparison.toml")
    assert compare_file(file, draws=200).change_percent == printed.change_percent
    again = import_folder(book, folder, "me")
    assert {each.state for each in again.subjects} == {"same"}
    assert book.tables("comparison", kept.id)["member"] == members
