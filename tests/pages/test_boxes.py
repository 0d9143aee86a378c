"""Number and unit are two boxes on the page and one text in the logbook; lists are one box there and many here."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_client import parsed
from starlette.testclient import TestClient

from calmday.web.coastdown_fields import COASTDOWN
from calmday.web.comparison_fields import COMPARISON
from calmday.web.dial_fields import DIALS
from calmday.web.documents import STANDS_IN, document_kind
from calmday.web.evidence_fields import EVIDENCE
from calmday.web.fields import UNITS, Field, field
from calmday.web.forms import box, texts_of_form
from calmday.web.habits import Habits
from calmday.web.pages.entering import numbers_in
from calmday.web.plan_fields import PLAN
from calmday.web.pull_fields import PULL
from calmday.web.run_fields import run_fields
from calmday.web.settings_fields import SETTING
from calmday.web.sound_fields import SOUND
from calmday.web.vehicle_fields import build_fields

METRIC = Habits()
COMMA = Habits(decimal=",")
MASS = field("m", "Mass", "", "mass")


@pytest.mark.parametrize(
    ("typed", "unit", "habits", "text"),
    [
        ("1480", "kg", METRIC, "1480 kg"),
        (" 12.885 ", "kg", METRIC, "12.885 kg"),
        ("12,885", "kg", COMMA, "12.885 kg"),
        ("12,5", "kg", METRIC, "12.5 kg"),
        ("12,885", "kg", METRIC, "12,885 kg"),  # may be thousands: the reader asks
        ("11 lb 14 oz", "kg", METRIC, "11 lb 14 oz"),
        ("1.5 t", "kg", METRIC, "1.5 t"),
        ("", "kg", METRIC, None),
        ("heavy", "kg", METRIC, "heavy"),
    ],
)
def test_a_number_takes_the_unit_beside_it(typed: str, unit: str, habits: Habits, text: str | None) -> None:
    assert texts_of_form([MASS], {"m": typed, "m~unit": unit}, habits) == {"m": text}


PRICE_BOX = field("p", "Price", "", kind="text", figures=True)


@pytest.mark.parametrize(
    ("typed", "habits", "text"),
    [
        ("1,62 EUR/L", METRIC, "1.62 EUR/L"),
        ("1,62 EUR/L", COMMA, "1.62 EUR/L"),
        ("1,629 EUR/L", COMMA, "1.629 EUR/L"),
        ("1,629 EUR/L", METRIC, "1,629 EUR/L"),  # may be thousands: the reader asks
        ("139,9p/L", METRIC, "139.9p/L"),
        ("2400 EUR", COMMA, "2400 EUR"),
        ("1 GBP = 1,17 EUR", METRIC, "1 GBP = 1.17 EUR"),
        ("0,4 L/100km", METRIC, "0.4 L/100km"),
        ("1,2,3", METRIC, "1,2,3"),
        ("1/4", METRIC, "1/4"),
    ],
)
def test_a_decimal_comma_is_one_where_a_unit_stands_with_the_figure_too(typed: str, habits: Habits, text: str) -> None:
    assert texts_of_form([PRICE_BOX], {"p": typed}, habits) == {"p": text}
    assert texts_of_form([MASS], {"m": typed, "m~unit": "kg"}, habits) == {"m": text}


def test_what_is_no_figure_keeps_its_commas() -> None:
    name = field("n", "Name", "", kind="text")
    assert texts_of_form([name], {"n": "Loop 3,5 laps"}, COMMA) == {"n": "Loop 3,5 laps"}


def test_every_box_with_a_figure_in_its_example_reads_a_decimal_comma() -> None:
    """Money, settings, gauges: no box is left in which a comma is a fault and in its neighbour it is none."""
    kinds = [document_kind(name) for name in STANDS_IN]
    fields = [one for kind in kinds if kind is not None for one in kind.fields(())]
    figure = re.compile(r"[-+]?[\d.]+( ?[%A-Za-z/²³°]+){1,2}")
    told = [one for one in (*fields, *run_fields(2), *build_fields()) if figure.fullmatch(one.example)]
    assert len(told) > 20
    for one in told:
        if one.kind in ("text", "lines") and "tyre" not in one.key:
            assert one.figures, one.key


@pytest.mark.parametrize(
    ("typed", "habits", "numbers"),
    [
        ("3.65, 2.02, 1", METRIC, ["3.65", "2.02", "1"]),
        ("3.65, 2.02, 1", COMMA, ["3.65", "2.02", "1"]),
        ("3,65; 2,02; 1", COMMA, ["3.65", "2.02", "1"]),
        ("3,65; 2,02; 1", METRIC, ["3.65", "2.02", "1"]),
        ("3,65 2,02 1", METRIC, ["3.65", "2.02", "1"]),
        ("3,65, 2,02, 1", METRIC, ["3.65", "2.02", "1"]),
        ("3,65", COMMA, ["3.65"]),
        ("4,2,1", METRIC, ["4", "2", "1"]),
        ("4.1/2.3", METRIC, ["4.1/2.3"]),
        ("", METRIC, []),
    ],
)
def test_the_numbers_of_one_box(typed: str, habits: Habits, numbers: list[str]) -> None:
    assert numbers_in(typed, habits) == numbers


@pytest.mark.parametrize("page", [run_fields(2), PLAN.fields(()), COASTDOWN.fields(()), PULL.fields(())])
def test_a_wind_from_240_is_read_as_degrees_as_its_box_says(page: tuple[Field, ...]) -> None:
    (asked,) = (one for one in page if one.key.endswith("[0].wind_from"))
    for typed, text in (("240", "240 deg"), ("NNW", "NNW"), ("240 deg", "240 deg"), ("variable", "variable")):
        assert texts_of_form([asked], {asked.key: typed}, METRIC) == {asked.key: text}


@given(
    text=st.one_of(
        st.from_regex(r"-?[0-9]{1,6}(\.[0-9]{1,4})? (kg|g|lb|t|oz)", fullmatch=True),
        st.sampled_from(["11 lb 14.0 oz", "1 1/2 t", "heavy", "kg", "3 L", "1e3 kg"]),
    ),
    habits=st.sampled_from([METRIC, COMMA, Habits(units="us"), Habits(units="imperial", decimal=",")]),
)
def test_what_a_box_shows_goes_back_as_it_was(text: str, habits: Habits) -> None:
    shown = box(MASS, text, habits)
    back = texts_of_form([MASS], {"m": shown.value, "m~unit": shown.unit}, habits)
    assert back == {"m": text}
    priced = box(PRICE_BOX, text, habits)
    assert texts_of_form([PRICE_BOX], {"p": priced.value}, habits) == {"p": text}


DOCUMENTS = (COASTDOWN, COMPARISON, DIALS, EVIDENCE, PLAN, PULL, SETTING, SOUND)


@pytest.mark.parametrize(
    "each",
    [*build_fields(), *run_fields(), *(one for kind in DOCUMENTS for one in kind.fields(()))],
    ids=lambda each: each.key,
)
def test_every_box_says_what_it_is_for_or_what_it_is(each: Field) -> None:
    assert each.label
    assert not each.units or set(UNITS[each.units]) == {"metric", "imperial", "us"}
    assert bool(each.choices) == (each.kind in ("choice", "yes_no"))


def test_every_offered_unit_is_one_the_readers_know() -> None:
    from calmday.metrology.units import parse_consumption, parse_quantity  # noqa: PLC0415

    dimensions = {
        "small mass": "mass",
        "weighing": "mass",
        "small length": "length",
        "distance": "length",
        "air pressure": "pressure",
        "displacement": "volume",
        "road speed": "speed",
        "working time": "time",
    }
    for name, habits in UNITS.items():
        for unit in {unit for offered in habits.values() for unit in offered}:
            if name == "consumption":
                parse_consumption(f"10 {unit}")
            elif name == "fuel amount":  # measured or weighed
                parse_quantity(f"10 {unit}", "mass" if unit in ("kg", "lb") else "volume")
            else:
                parse_quantity(f"10 {unit}", dimensions.get(name, name))


def test_gears_are_one_box_and_a_list(client: TestClient, vehicle: str) -> None:
    place = f"/vehicles/{vehicle}/build"
    answer = client.post(place, data={"vehicle.gear_ratios": "3.65, 2.02 1.37; 1.0"})
    assert answer.status_code == 200
    assert parsed(answer).boxes["vehicle.gear_ratios"] == "3.65, 2.02, 1.37, 1.0"
    answer = client.post(place, data={"vehicle.gear_ratios": "3.65, 2.02"})
    assert parsed(answer).boxes["vehicle.gear_ratios"] == "3.65, 2.02"
    answer = client.post(place, data={"vehicle.gear_ratios": "2.02, 3.65"})
    assert answer.status_code == 422
    assert "first gear first" in parsed(answer).text


def test_nothing_is_written_where_nothing_was_touched(client: TestClient, vehicle: str) -> None:
    place = f"/vehicles/{vehicle}/build"
    client.post(place, data={"vehicle.test_mass": "1480", "vehicle.test_mass~unit": "kg"})
    entries = client.get(f"/history/vehicle/{vehicle}").text.count("<tr>")
    client.post(place, data={"vehicle.test_mass": "1480", "vehicle.test_mass~unit": "kg", "vehicle.name": "Fen Hauler"})
    assert client.get(f"/history/vehicle/{vehicle}").text.count("<tr>") == entries


def test_what_cannot_be_used_is_kept_and_said_at_the_box(client: TestClient, vehicle: str) -> None:
    answer = client.post(
        f"/vehicles/{vehicle}/build", data={"vehicle.tyre_pressure": "3000", "vehicle.tyre_pressure~unit": "bar"}
    )
    assert answer.status_code == 422
    shown = parsed(answer)
    assert (
        'Usual cold pressure: "3000 bar" is not possible here. Right would be: from 50 kPa to 1200 kPa.' in shown.text
    )
    assert shown.boxes["vehicle.tyre_pressure"] == "3000"
    assert 'aria-invalid="true"' in answer.text
    assert "#f-vehicle-tyre-pressure" in shown.links


def test_a_field_is_saved_as_it_is_typed_and_judged(client: TestClient, run: str) -> None:
    place = f"/save/run/{run}"
    json = {"accept": "application/json"}
    good = client.post(place, data={"weighing[0].gross[0]": "12.875", "weighing[0].gross[0]~unit": "kg"}, headers=json)
    assert good.json() == {"faults": {}}
    bad = client.post(place, data={"tyre_pressure": "38", "tyre_pressure~unit": "bananas"}, headers=json)
    assert "bananas" in bad.json()["faults"]["tyre_pressure"]
    page = parsed(client.get(f"/runs/{run}/steps/weigh-out"))
    assert page.boxes["weighing[0].gross[0]"] == "12.875"
    assert parsed(client.get(f"/runs/{run}/steps/tyres")).boxes["tyre_pressure"] == "38 bananas"


def test_a_late_entry_says_when_it_was_typed(client: TestClient, run: str) -> None:
    data = {"payload": "80", "payload~unit": "kg", "~typed": "2026-04-12T09:30:00.000Z"}
    client.post(f"/save/run/{run}", data=data)
    assert "typed 2026-04-12 09:30 UTC" in client.get(f"/history/run/{run}").text


def test_a_key_that_no_box_has_is_passed_over(client: TestClient, run: str) -> None:
    assert client.post(f"/save/run/{run}", data={"@void": "x", "nonsense": "y"}).json() == {"faults": {}}
    assert "nonsense" not in client.get(f"/history/run/{run}").text


@pytest.mark.parametrize("path", ["/save/route/0", "/save/run/nothing", "/save/vehicle/" + "0" * 26])
def test_saving_to_what_is_not_there(client: TestClient, path: str) -> None:
    assert client.post(path, data={"label": "x"}).status_code == 404


def test_a_box_left_out_says_what_is_assumed_and_what_that_adds(client: TestClient, vehicle: str) -> None:
    text = parsed(client.get(f"/vehicles/{vehicle}/build")).text
    assert "If you leave it out: a usual mass for the shape, 1600 kg; that adds ±" in text
    assert "Swept volume of the engine: not known, it adds ±" in text
    client.post(f"/vehicles/{vehicle}/build", data={"vehicle.test_mass": "1480", "vehicle.test_mass~unit": "kg"})
    text = parsed(client.get(f"/vehicles/{vehicle}/build")).text
    assert "If you leave it out: a usual mass for the shape." in text


def test_a_change_holds_from_its_day_on(client: TestClient, vehicle: str) -> None:
    place = f"/vehicles/{vehicle}/changes"
    empty = client.post(place, data={"change[0].date": "", "change[0].what": ""})
    assert empty.status_code == 422
    data = {"change[0].date": "2026-05-02", "change[0].what": "taller axle", "change[0].final_drive": "3.7"}
    answer = client.post(place, data=data)
    assert answer.status_code == 200
    text = parsed(answer).text
    assert "2026-05-02 taller axle axle ratio 3.7" in text
    second = {"change[1].date": "2026-06-01", "change[1].what": "cap", "change[1].engine.idle_speed": "820",
              "change[1].engine.idle_speed~unit": "rpm"}  # fmt: skip
    assert "idle speed 820 rpm" in parsed(client.post(place, data=second)).text


def test_the_curve_is_drawn_kept_and_judged(client: TestClient, vehicle: str) -> None:
    place = f"/vehicles/{vehicle}/curve"
    points = {"unit": "torque_Nm", "speed-0": "1200", "value-0": "118", "speed-1": "2000", "value-1": "137"}
    drawn = client.post(place, data=points | {"go": "draw"})
    assert drawn.text.startswith("<svg")
    assert "most torque 137" in drawn.text
    kept = client.post(place, data=points)
    assert parsed(kept).boxes["speed-1"] == "2000"
    assert parsed(kept).boxes["value-1"] == "137"
    twice = client.post(place, data=points | {"speed-1": "1200"})
    assert twice.status_code == 422
    assert "The curve was not kept." in parsed(twice).text
    assert parsed(twice).boxes["speed-1"] == "1200", "what was typed stays in its boxes"


def test_a_thousand_in_the_curve_is_asked_about_and_a_decimal_comma_read(client: TestClient, vehicle: str) -> None:
    points = {"unit": "torque_Nm", "speed-0": "1200", "value-0": "118,5", "speed-1": "2000", "value-1": "137"}
    kept = client.post(f"/vehicles/{vehicle}/curve", data=points)
    assert parsed(kept).boxes["value-0"] == "118.5"
    told = parsed(client.post(f"/vehicles/{vehicle}/curve", data=points | {"speed-0": "1,200"})).text
    assert "The curve was not kept." in told
    assert "a comma that may set off thousands" in told
