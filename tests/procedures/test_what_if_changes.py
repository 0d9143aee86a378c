"""Changes of one key, what they cost, and what to begin with."""

from __future__ import annotations

from pathlib import Path

import pytest
from what_if_samples import sheet_in

from calmday import operations
from calmday.errors import InputError
from calmday.files.what_if_file import read_what_if
from calmday.reports.what_if_sheet import what_if_sheet

SEED = 7


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sheet_in(tmp_path_factory.mktemp("heron"))


SAME = """
vehicle = "vehicle.toml"
speed = "80 km/h"
[[change]]
{first}
cost = "350 GBP"
[[change]]
{second}
cost = "10 GBP"
"""


def test_a_change_of_one_key_says_the_same_as_its_setting(sheet: Path) -> None:
    found = []
    for first, second in (
        ("set = { final_drive = 3.7 }", 'set = { drag_coefficient = "-7 %" }'),
        ('key = "final_drive"\nto = "3.7"', 'key = "drag_coefficient"\nby = "-7 %"'),
    ):
        file = sheet.with_name("same.toml")
        file.write_text(SAME.format(first=first, second=second), encoding="utf-8")
        found.append(operations.what_if_file(file, draws=200, seed=SEED))
    assert found[0].changes == found[1].changes
    assert found[0].together == found[1].together


def test_what_a_change_costs_is_told_in_its_own_currency(sheet: Path) -> None:
    file = sheet.with_name("money.toml")
    text = SAME.format(first="set = { final_drive = 3.7 }", second='set = { drag_coefficient = "-7 %" }')
    file.write_text('price = "1.60 EUR/L"\n' + text, encoding="utf-8")
    result = operations.what_if_file(file, draws=200, seed=SEED)
    worth = [each.worth for each in result.changes]
    assert [(each.cost_currency, each.currency, each.ranked_by) for each in worth if each is not None] == [
        ("GBP", "EUR", "money")
    ] * 2
    shown = next(block for block in what_if_sheet(result).blocks if block.title == "What to do first")
    assert "350 GBP" in str(shown)
    assert "350 EUR" not in str(shown)
    assert "for its money" in str(shown)
    assert result.sentence.startswith(
        "Begin with drag coefficient \u22127 %: it saves most fuel for its money. With all "
    )


def test_fuel_that_costs_nothing_saves_no_money_and_divides_by_nothing(sheet: Path) -> None:
    """What cost money then never pays; what cost nothing has paid at once."""
    file = sheet.with_name("free.toml")
    text = SAME.format(first="set = { final_drive = 3.7 }", second='set = { drag_coefficient = "-7 %" }')
    file.write_text('price = "0 EUR/L"\ndistance_per_year = "12000 km"\n' + text.replace("10 GBP", "0 EUR"))
    found = operations.what_if_file(file, draws=200, seed=SEED)
    axle, rack = sorted((each.worth for each in found.changes), key=lambda worth: -(worth.cost or 0.0) if worth else 0)
    assert axle is not None and rack is not None
    assert axle.payback_km is None
    assert axle.per_year is not None and axle.per_year.value == 0
    assert rack.payback_km == 0


@pytest.mark.parametrize(
    ("change", "key", "word"),
    [
        ('key = "final_drive"', "change[0].by", "is missing"),
        ('by = "-5 %"', "change[0].key", "is missing"),
        ('key = "final_drive"\nby = "-5 %"\nto = 3.7', "change[0].to", "stands beside"),
        ('key = "final_drive"\nset = { final_drive = 3.7 }', "change[0].key", "stands beside set"),
        ('key = "fuel"\nby = "-5 %"', "change[0].by", "cannot change in per cent"),
        ('key = "engine_efficiency"\nto = 0.5', "change[0].to", "no change in per cent"),
        ('key = "final_drive"\nby = -5', "change[0].by", "-5"),
        ('key = "final_driv"\nto = 3.7', "change[0].to", "did you mean final_drive"),
        ('key = "final_drive"\nto = "big"', "change[0].to", "big"),
    ],
)
def test_a_change_of_one_key_is_told_with_its_place(sheet: Path, change: str, key: str, word: str) -> None:
    file = sheet.with_name("place.toml")
    file.write_text(f'vehicle = "vehicle.toml"\n[[change]]\n{change}\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_what_if(file)
    told = [(fault.key, f"{fault.wrong}; {fault.right}") for fault in caught.value.faults]
    assert any(key == where and word in words for where, words in told), told


@pytest.mark.parametrize("vehicle", ["vehicle.toml", "gone.toml"])
def test_too_many_changes_are_counted_with_and_without_a_build_sheet(sheet: Path, vehicle: str) -> None:
    file = sheet.with_name("many.toml")
    file.write_text(f'vehicle = "{vehicle}"\n' + "[[change]]\nset = { final_drive = 3.7 }\n" * 41, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_what_if(file)
    assert [fault.wrong for fault in caught.value.faults if fault.key == "change"] == ["has 41 tables"]
