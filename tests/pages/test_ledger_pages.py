"""Cost, published figures, settings and the guess board on the page: the same readers, the same figures."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest
from conftest import EXAMPLE
from page_client import parsed
from starlette.testclient import TestClient

from calmday.operations import cost_file, published_file, settings_file

COST = {
    "label": "Was the swap worth it?",
    "use[0].name": "before", "use[0].fuel": "petrol",
    "use[0].consumption.value": "11.4", "use[0].consumption.value~unit": "L/100km", "use[0].consumption.pm": "5 %",
    "use[1].name": "after", "use[1].fuel": "diesel",
    "use[1].consumption.value": "7.5", "use[1].consumption.value~unit": "L/100km",
    "price[0].price": "1.81 EUR/L", "price[0].fuel": "petrol", "price[0].date": "2026-04-12",
    "price[1].price": "1.62 EUR/L", "price[1].fuel": "diesel", "price[1].date": "2026-04-12",
    "yearly_distance.value": "15000", "yearly_distance.value~unit": "km",
    "conversion.from": "before", "conversion.to": "after", "conversion.outlay.value": "2400 EUR",
    "conversion.horizon_years": "12",
}  # fmt: skip
FIGURE = {
    "label": "The donor", "rule": "us 1985", "model_year": "1991",
    "city": "18", "city~unit": "mpg US", "highway": "25", "highway~unit": "mpg US",
    "about.fuel": "petrol", "about.final_drive": "4.6", "source": "a label",
}  # fmt: skip
SETTING = {
    "label": "Pump", "setting[0].what": "plunger lift", "setting[0].found": "0.88 mm", "setting[0].set": "0.95 mm",
    "setting[0].tightened": "0.93 mm", "setting[0].date": "2026-03-14", "setting[0].by": "Ada",
    "setting[0].run": "run-3.toml\nrun-4.toml", "setting[1].what": "axle ratio", "setting[1].set": "4.1",
    "lift_curve.point[0].angle": "0 deg", "lift_curve.point[0].lift": "0 mm",
    "lift_curve.point[1].angle": "8 deg", "lift_curve.point[1].lift": "0.4 mm",
    "lift_curve.point[2].angle": "16 deg", "lift_curve.point[2].lift": "1.0 mm",
    "lift_curve.point[3].angle": "24 deg", "lift_curve.point[3].lift": "1.7 mm",
}  # fmt: skip


def begun(client: TestClient, vehicle: str, kind: str) -> str:
    """Begin a document on the page; its address."""
    answer = client.post(f"/vehicles/{vehicle}/documents/{kind}")
    assert answer.status_code == 200, answer.text[:400]
    return str(answer.url.path)


def unpacked(client: TestClient, tmp_path: Path) -> Path:
    import io  # noqa: PLC0415
    import zipfile  # noqa: PLC0415

    data = client.get("/moving/logbook.zip").content
    zipfile.ZipFile(io.BytesIO(data)).extractall(tmp_path / "out")
    return tmp_path / "out"


def test_a_cost_sheet_from_empty_to_payback_and_out_again(client: TestClient, vehicle: str, tmp_path: Path) -> None:
    place = begun(client, vehicle, "price")
    assert "It cannot be worked out yet" in parsed(client.get(place)).text
    answer = client.post(place, data=COST)
    assert answer.status_code == 200
    text = parsed(answer).text
    assert "has paid for itself after about" in text
    assert "Five ways of counting the same driving" in text
    told = client.get(place.replace("/cost/", "/ledger/price/") + "/result.json")
    result = json.loads(told.content)
    folder = unpacked(client, tmp_path)
    file = next(folder.rglob("price.toml"))
    again = cost_file(file)
    assert again.payback is not None
    assert again.payback.years.value == pytest.approx(result["payback"]["years"]["value"])
    assert again.payback.horizon == 12
    assert "has paid for itself" in parsed(client.get(f"/vehicles/{vehicle}/cost")).text


def test_a_price_keeps_its_history(client: TestClient, vehicle: str) -> None:
    place = begun(client, vehicle, "price")
    client.post(place, data=COST)
    client.post(place, data={"price[1].price": "1.75 EUR/L"})
    history = parsed(client.get(place.replace("/cost/", "/history/price/"))).text
    assert "1.62 EUR/L" in history
    assert "1.75 EUR/L" in history


def test_a_fault_stands_beside_its_box_and_the_text_stays(client: TestClient, vehicle: str) -> None:
    place = begun(client, vehicle, "price")
    answer = client.post(place, data=COST | {"price[0].price": "1.81 EUR/gal"})
    assert answer.status_code == 422
    page = parsed(answer)
    assert "which gallon?" in page.text
    assert "which gallon?." not in page.text
    assert "price[0]" not in page.text, "a box is called by its name, not by the key of a file"
    assert page.boxes["price[0].price"] == "1.81 EUR/gal"
    saved = client.post(place.replace("/cost/", "/save/price/"), data={"price[0].price": "1.81"})
    assert "price[0].price" in saved.json()["faults"]


def test_a_published_figure_names_the_differences_of_nothing_yet(
    client: TestClient, vehicle: str, tmp_path: Path
) -> None:
    place = begun(client, vehicle, "published")
    answer = client.post(place, data=FIGURE)
    text = parsed(answer).text
    assert "Published: 18 mpg US city" in text
    assert "The same car under other rules" in text
    file = next(unpacked(client, tmp_path).rglob("published.toml"))
    again = published_file(file)
    assert (again.rule, again.model_year) == ("us 1985", 1991)


def test_a_settings_log_from_the_page_reads_like_a_file(client: TestClient, vehicle: str, tmp_path: Path) -> None:
    place = begun(client, vehicle, "setting")
    answer = client.post(place, data=SETTING)
    assert answer.status_code == 200, parsed(answer).text[:900]
    text = parsed(answer).text
    assert "Plunger lift was 0.88 mm before anybody touched it (Ada, 2026-03-14)" in text
    assert "No factor holds for every pump" in text
    assert "knows no safe limit" in text
    again = settings_file(next(unpacked(client, tmp_path).rglob("setting.toml")))
    lift = next(each for each in again.settings if each.what == "plunger lift")
    assert lift.changes[0].advance is not None
    assert [each.what for each in again.settings] == ["axle ratio", "plunger lift"]
    assert again.runs[0].values["plunger lift"] == 0.93
    assert settings_boxes(client, place)["setting[2].what"] == ""


def settings_boxes(client: TestClient, place: str) -> dict[str, str]:
    return parsed(client.get(place)).boxes


def test_nobody_writes_across_kinds(client: TestClient, vehicle: str) -> None:
    place = begun(client, vehicle, "price")
    assert client.get(place.replace("/cost/", "/published/")).status_code == 404
    assert client.get(place.replace("/cost/", "/ledger/setting/") + "/result.json").status_code == 404
    assert client.get(place.replace("/cost/", "/ledger/run/") + "/result.json").status_code == 404


def test_the_newest_figure_can_only_be_taken_where_there_is_one(client: TestClient, vehicle: str) -> None:
    place = begun(client, vehicle, "price")
    answer = client.post(f"{place}/take")
    assert answer.status_code == 422
    assert "a weighed run that has been worked out" in parsed(answer).text


@pytest.fixture
def weighed(client: TestClient) -> str:
    """The example brought in with guesses, worked out; the address of its run."""
    if not EXAMPLE.exists():
        pytest.skip("examples/fen-hauler is not here")
    return f"/runs/{str(client.post('/moving/example').url.path).split('/')[2]}"


def test_the_guess_board_of_a_worked_out_run(client: TestClient, weighed: str) -> None:
    early = parsed(client.get(f"{weighed}/guess-board")).text
    assert "No guess lies open yet." in early
    assert client.get(f"{weighed}/guess-board.json").status_code == 404
    answer = client.post(f"{weighed}/reduce")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    sheet = parsed(client.get(f"{weighed}/sheet"))
    assert "Guesses, opened" in sheet.text
    board = client.get(f"{weighed}/guess-board")
    text = parsed(board).text
    assert "Who guessed best?" in text
    assert "was nearest" in text or "were nearest" in text
    told = json.loads(client.get(f"{weighed}/guess-board.json").content)
    assert told["guesses"][0]["place"] == 1
    assert client.get(f"{weighed}/guess-board/svg").content.startswith(b"<svg")


def test_the_program_guesses_before_and_never_after(client: TestClient, vehicle: str, run: str) -> None:
    place = f"/runs/{run}/guesses/own"
    nothing = client.post(place)
    assert nothing.status_code == 422
    assert "the speed you mean to hold" in parsed(nothing).text
    told = {"guessing.unit": "mpg imp", "guessing.speed": "60", "guessing.speed~unit": "km/h"}
    client.post(f"/save/run/{run}", data=told)
    sealed = parsed(client.post(place))
    assert "Sealed." in sealed.text
    assert "Calmday" in sealed.text
    assert client.post(place).status_code == 422
    client.post(f"/save/run/{run}", data={"weighing[1].gross[0]": "10", "weighing[1].gross[0]~unit": "kg"})
    assert client.post(place).status_code == 422


def test_the_rule_cannot_be_declared_once_the_guesses_lie_open(client: TestClient, run: str) -> None:
    client.post(f"/runs/{run}/guesses", data={"by": "Ada", "value": "34", "value~unit": "mpg US"})
    client.post(f"/save/run/{run}", data={"guessing.unit": "mpg US"})
    client.post(f"/save/run/{run}", data={"weighing[1].gross[0]": "10", "weighing[1].gross[0]~unit": "kg"})
    client.app.state.desk.book.open_predictions(run, "Ada")  # type: ignore[attr-defined]
    late = client.post(f"/save/run/{run}", data={"guessing.rule": "proportion"})
    assert late.status_code == 422
    assert "cannot be declared any more" in late.text
    step = client.post(f"/runs/{run}/steps/guesses", data={"guessing.unit": "mpg imp"})
    assert step.status_code == 422
    assert "cannot be declared any more" in parsed(step).text
    same = client.post(f"/runs/{run}/steps/guesses", data={"guessing.unit": "mpg US"})
    assert same.status_code == 200


def test_untaxed_fuel_is_told_of_where_fuel_and_its_price_are_entered(
    client: TestClient, vehicle: str, run: str
) -> None:
    for place in (f"/vehicles/{vehicle}/cost", f"/runs/{run}/steps/rig"):
        text = parsed(client.get(place)).text
        assert "untaxed" in text, place
        assert "Look up your local law" in text, place


def test_the_step_of_weighing_says_the_caution_of_the_fuel(client: TestClient, vehicle: str, run: str) -> None:
    place = f"/runs/{run}/steps/weigh-out"
    assert "Fuel: can on the ground" in parsed(client.get(place)).text
    client.post(f"/save/vehicle/{vehicle}", data={"engine.fuel": "diesel"})
    assert "Diesel: outside" in parsed(client.get(place)).text
    client.post(f"/save/run/{run}", data={"fuel.kind": "petrol"})
    assert "Petrol: can on the ground" in parsed(client.get(place)).text


def test_the_law_is_told_once_on_a_cost_sheet(client: TestClient, vehicle: str) -> None:
    place = str(client.post(f"/vehicles/{vehicle}/documents/price").url.path)
    said = {"use[0].consumption.value": "8", "use[0].consumption.value~unit": "L/100km", "price[0].price": "0 EUR/L"}
    text = parsed(client.post(place, data=said)).text
    assert "costs 0.00 EUR" in text
    assert text.count("Look up your local law") == 1
