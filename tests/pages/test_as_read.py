"""Entries and figures as a person reads them: no raw values of choices, no figure parted at the edge of the page."""

from __future__ import annotations

import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.reports.unbroken import HARD_SPACE, paired, whole
from calmday.web.as_read import as_read, in_a_few_words
from calmday.web.fields import field

TERRAIN = field(
    "terrain",
    "What lies beside the road?",
    kind="choice",
    choices=(("farmland", "Farmland: fields, a few hedges"), ("other", "Houses")),
)
LIMIT = field("scale.accuracy", "Maker's limit of error", "", "fraction")


def test_a_choice_is_read_in_its_words_and_a_unit_as_printed() -> None:
    assert as_read("farmland", TERRAIN) == "Farmland: fields, a few hedges"
    assert as_read("true", field("x", "Is it?", kind="yes_no")) == "yes"
    assert as_read("2.9 m^2") == "2.9 m²"
    assert as_read("12.880 kg") == "12.880 kg", "readings keep their zeros"
    assert as_read("METAR ZZAA 121050Z 34012KT") == "METAR ZZAA 121050Z 34012KT"


def test_an_entry_without_its_box_says_what_it_is() -> None:
    assert in_a_few_words("farmland", TERRAIN) == "farmland"
    assert in_a_few_words("0.1 %", LIMIT) == "maker's limit of error 0.1 %"


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("75.5 ± 0.8 km/h", "75.5~±~0.8~km/h"),
        ("18 mpg US city (13.1 L/100 km); yours", "18~mpg~US city (13.1~L/100~km); yours"),
        ("11 °C, carried to 20 °C", "11~°C, carried to 20~°C"),
        ("in 100 of 100 cases", "in 100 of 100 cases"),
        ("in 1 h 00 min, or more", "in 1~h~00~min, or more"),
        ("38 min 20 s moving; 45 s standing", "38~min~20~s moving; 45~s standing"),
        ("11 lb 14.0 oz", "11~lb~14.0~oz"),
        ("by 10 h and 12 min later", "by 10~h and 12~min later"),
        ("2 meals, 3 sheets", "2 meals, 3 sheets"),
        ("28\u202f000 km", "28\u202f000~km"),
    ],
)
def test_a_figure_stays_on_one_line(text: str, kept: str) -> None:
    assert whole(text) == kept.replace("~", HARD_SPACE)


def test_a_length_of_time_stays_on_one_line_in_a_narrow_cell_too() -> None:
    assert paired("38 min 20 s") == "38 min 20 s".replace(" ", HARD_SPACE)
    assert paired("1 h 04 min") == "1 h 04 min".replace(" ", HARD_SPACE)
    assert paired("45 s") == "45 s", "short ones may part, as figures in cells may"


def test_no_page_of_a_run_shows_the_values_of_choices(client: TestClient, vehicle: str) -> None:
    client.post(f"/save/vehicle/{vehicle}", data={"engine.overrun_fuel_cut": "true", "engine.induction": "natural"})
    text = parsed(client.get(f"/history/vehicle/{vehicle}")).text
    assert "None: it breathes by itself" in text
    assert "natural" not in text
    assert "true" not in text.split()


def test_no_list_of_runs_or_results_parts_a_figure(client: TestClient) -> None:
    run = str(client.post("/moving/example").url.path).split("/")[2]
    book = client.app.state.desk.book  # type: ignore[attr-defined]
    told = {"as_driven_words": "8.41 ± 0.08 L/100 km", "calm_day_words": "7.6 ± 0.3 L/100 km"}
    book.add_result(run, inputs_sha256="0", version="0.0.1", seed=1, draws=1, summary=told, content=b"{}")
    for place in (f"/vehicles/{book.subject(run).parent}", f"/runs/{run}/sheet"):
        shown = client.get(place).text
        for words in told.values():
            assert words not in shown, place
            assert paired(words) in shown, place
