"""Cost files: what is shown in the documentation can be read, and every fault is told with its place."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from random_tables import QUICK, random_tables

from calmday.errors import InputError
from calmday.files.cost_file import cost_of, read_cost
from calmday.files.named_files import FolderFiles, NamedDocument

PAGE = Path(__file__).parents[2] / "docs" / "cost.md"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The file that docs/cost.md shows."""
    shown = re.search(r"## cost.toml.*?```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    path = tmp_path / "cost.toml"
    path.write_text(shown[1], encoding="utf-8")
    return path


def faults(file: Path, *changes: tuple[str, str]) -> list[str]:
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_cost(file, name="cost.toml")
    return [str(fault) for fault in caught.value.faults]


def test_the_file_shown_can_be_read(file: Path) -> None:
    sheet = read_cost(file)
    assert [use.fuel for use in sheet.uses] == ["petrol", "diesel"]
    assert sheet.conversion is not None
    assert sheet.conversion.outlay.money.amount == 2400
    assert sheet.conversion.yearly is not None
    assert sheet.rates[0].rate.factor == pytest.approx(1.17)
    assert sheet.per_m == pytest.approx(100_000)
    assert sheet.tank_m3 == pytest.approx(0.06)
    assert sheet.prices[0].low is not None


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('"11.4 L/100km"', '"11.4 mpg"'), "use[0].consumption.value: \"11.4 mpg\": which gallon?; mpg US or mpg imp"),
        (('pm = "0.8 L/100km"', 'pm = "0.8 mpg US"'), "use[0].consumption.pm: \"0.8 mpg US\" is not in the unit"),
        (('pm = "0.8 L/100km"', 'pm = "8 L/100km"'), "is not a possible half width; above zero, and at most half"),
        (('price = "1.81 EUR/L"', 'price = "1.81 EUR/gal"'), "price[0].price: \"1.81 EUR/gal\": which gallon?"),
        (('low = "1.68 EUR/L"', 'low = "1.90 EUR/L"'), "price[0].low: lies above the price"),
        (('low = "1.68 EUR/L"', 'low = "1.68 GBP/L"'), "price[0].low: has another currency"),
        (('tax = "in"', 'tax = "yes"'), "price[0].tax: \"yes\" is not known; one of in, out"),
        (('rate = "1 GBP = 1.17 EUR"', 'rate = "1.17"'), "rate[0].rate: \"1.17\" is not an exchange rate"),
        (('date = 2026-04-10', ''), "rate[0].date: is missing; the day it was read"),
        (('from = "before, petrol"', 'from = "once"'), "conversion.from: \"once\" is not a use"),
        (('outlay = { value = "2400 EUR"', 'outlay = { value = "2400"'), "conversion.outlay.value: "),
        (('fuel = "petrol"', 'fuel = "coal"'), "use[0].fuel: \"coal\" is not known"),
        (('yearly_distance', 'yearly_distanse'), "is not a known key; did you mean yearly_distance?"),
        (('name = "after, diesel"', 'name = "before, petrol"'), "use[1].name: \"before, petrol\" is there already"),
        (('currency = "EUR"', 'currency = "euros"'), "currency: \"euros\" is not a currency"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_place(file: Path, change: tuple[str, str], told: str) -> None:
    found = faults(file, change)
    assert any(told in line for line in found), found


def test_an_empty_file_says_what_it_needs(tmp_path: Path) -> None:
    path = tmp_path / "cost.toml"
    path.write_text("", encoding="utf-8")
    assert len(faults(path)) == 2


KEYS = [
    "label", "currency", "use", "price", "rate", "conversion", "per", "tank", "saving", "yearly_distance",
    "consumption", "fuel", "run", "low", "high", "date", "tax", "from", "to", "outlay", "yearly", "value", "pm", "odd",
]  # fmt: skip
TEXTS = ["7.5 L/100km", "1.62 EUR/L", "1 GBP = 1.17 EUR", "2400 EUR", "diesel", "100 km", "5 %", "in"]


@QUICK
@given(random_tables(KEYS, TEXTS))
def test_any_document_is_read_or_refused_in_words(tables: dict[str, Any]) -> None:
    try:
        cost_of(NamedDocument(tables, FolderFiles(Path("/nowhere"))), "cost.toml", "cost")
    except InputError as error:
        for fault in error.faults:
            assert fault.wrong
            assert "\n" not in str(fault)


def test_what_the_page_shows_is_toml() -> None:
    for text in re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL):
        assert tomllib.loads(text)
