"""Documents as a log of fields, and as TOML: nothing lost on the way there and back."""

from __future__ import annotations

import datetime as dt
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_documents import CHARACTERS, DOCUMENTS

from calmday.errors import InputError
from calmday.logbook.document import Leaf, flatten, leaf_of, nest
from calmday.logbook.keys import joined, parts_of
from calmday.logbook.render import same_tables
from calmday.logbook.toml_text import toml_text

PARTS = st.lists(st.one_of(st.integers(0, 99), st.text(CHARACTERS, max_size=6)), min_size=1, max_size=4).filter(
    lambda parts: isinstance(parts[0], str)
)


@given(DOCUMENTS)
@settings(deadline=None)
def test_a_document_comes_back_from_its_fields(document: dict[str, Any]) -> None:
    assert same_tables(nest(flatten(document)).tables, document)
    assert nest(flatten(document)).moved == {}


@given(DOCUMENTS)
@settings(deadline=None)
def test_a_document_comes_back_from_its_text(document: dict[str, Any]) -> None:
    assert same_tables(tomllib.loads(toml_text(document)), document)


@given(PARTS)
def test_every_path_has_a_key_and_every_key_its_path(parts: list[str | int]) -> None:
    assert parts_of(joined(tuple(parts))) == tuple(parts)


@given(st.text(max_size=20))
def test_what_is_no_key_is_refused_in_words_and_what_is_one_is_stable(text: str) -> None:
    try:
        parts = parts_of(text)
    except InputError as error:
        assert "field" in str(error)
    else:
        assert parts_of(joined(parts)) == parts


@pytest.mark.parametrize("text", ["", ".", "a.", "a..b", "[0]", "a.[0]", "a[x]", 'a."', "a b", "@void", "a" * 3000])
def test_these_are_no_keys(text: str) -> None:
    with pytest.raises(InputError):
        parts_of(text)


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("vehicle.drag_coefficient", " 0.44 ", 0.44),
        ("vehicle.gear_ratios[2]", "1.37", 1.37),
        ("engine.cylinders", "4", 4),
        ("engine.overrun_fuel_cut", "Yes", True),
        ("change[1].engine.overrun_fuel_cut", "no", False),
        ("date", "2026-04-12", dt.date(2026, 4, 12)),
        ("weather.reading[0].time", "13:30", dt.time(13, 30)),
        ("weather.reading[0].time", "2026-04-12T13:30", dt.datetime(2026, 4, 12, 13, 30)),
        ("laps", "4", 4),
        ("odometer.factor.pm", "0.01", 0.01),
        ("vehicle.drag_coefficient", "zero point four", "zero point four"),
        ("engine.cylinders", "4.5", "4.5"),
        ("weighing[0].tare", "1.020 kg", "1.020 kg"),
        ("label", "2026", "2026"),
    ],
)
def test_what_a_person_types_is_read_as_what_the_field_holds(key: str, text: str, value: object) -> None:
    place: Any = nest({key: Leaf(text)}).tables
    for part in parts_of(key):
        place = place[0 if isinstance(part, int) else part]
    assert place == value
    assert type(place) is type(value)


def test_places_missing_from_a_list_close_up_and_are_remembered() -> None:
    leaves = {
        "weighing[1].gross[2]": Leaf("3 kg"),
        "weighing[1].gross[5]": Leaf("4 kg"),
        "weighing[3].when": Leaf("after"),
    }
    nested = nest(leaves)
    assert nested.tables == {"weighing": [{"gross": ["3 kg", "4 kg"]}, {"when": "after"}]}
    assert nested.moved["weighing[0]"] == "weighing[1]"
    assert nested.moved["weighing[0].gross[1]"] == "weighing[1].gross[5]"
    assert nested.moved["weighing[1]"] == "weighing[3]"


def test_of_two_fields_that_exclude_each_other_the_newer_stands() -> None:
    leaves = {"vehicle.test_mass": Leaf("1480 kg"), "vehicle.test_mass.value": Leaf("1500 kg")}
    older, newer = "1", "2"
    first = nest(leaves, {"vehicle.test_mass": older, "vehicle.test_mass.value": newer})
    assert first.tables == {"vehicle": {"test_mass": {"value": "1500 kg"}}}
    second = nest(leaves, {"vehicle.test_mass": newer, "vehicle.test_mass.value": older})
    assert second.tables == {"vehicle": {"test_mass": "1480 kg"}}


def test_the_text_is_as_people_like_to_read_it() -> None:
    document = {
        "weighing": [{"when": "before", "gross": ["16.605 kg", "16.610 kg"], "tare": "1.020 kg"}],
        "date": dt.date(2026, 4, 12),
        "vehicle": "vehicle.toml",
        "fuel": {"kind": "diesel", "density": {"pm": "2 kg/m^3", "value": "836 kg/m^3"}},
        "weather": {"reading": [{"wind_speed": "5 m/s"}]},
    }
    assert toml_text(document) == (
        'vehicle = "vehicle.toml"\ndate = 2026-04-12\n\n'
        '[fuel]\nkind = "diesel"\ndensity = { value = "836 kg/m^3", pm = "2 kg/m^3" }\n\n'
        '[[weighing]]\nwhen = "before"\ngross = ["16.605 kg", "16.610 kg"]\ntare = "1.020 kg"\n\n'
        '[[weather.reading]]\nwind_speed = "5 m/s"\n'
    )


def test_only_what_toml_has_can_be_kept() -> None:
    with pytest.raises(TypeError, match="bytes has no place"):
        leaf_of(b"raw")


def test_a_document_nested_without_end_is_refused() -> None:
    document: dict[str, Any] = {}
    for _ in range(100):
        document = {"a": document}
    with pytest.raises(InputError, match="nested too deeply"):
        flatten({"a": document, "b": 1})
