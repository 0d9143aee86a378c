"""Published figures: what is shown in the documentation can be read, and every fault is told with its place."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from random_tables import QUICK, random_tables

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, NamedDocument
from calmday.files.published_file import published_of, read_published

PAGE = Path(__file__).parents[2] / "docs" / "published.md"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The file that docs/published.md shows."""
    shown = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    path = tmp_path / "published.toml"
    path.write_text(shown[1], encoding="utf-8")
    return path


def test_the_file_shown_can_be_read(file: Path) -> None:
    found = read_published(file)
    assert (found.rule, found.model_year, found.fuel) == ("us 1985", 1991, "petrol")
    assert found.city is not None
    assert found.city.unit == "mpg_us"
    assert found.steady[0].speed_mps == pytest.approx(25)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('city = "18 mpg US"', 'city = "18 mpg"'), 'city: "18 mpg": which gallon?; mpg US or mpg imp'),
        (('rule = "us 1985"', 'rule = "us 1986"'), 'rule: "us 1986" is not known'),
        (("model_year = 1991", "model_year = 19910"), "model_year: "),
        (('speed = "90 km/h"\n', ""), "steady[0].speed: is missing"),
        (('fuel = "petrol"', 'fule = "petrol"'), "about.fule: is not a known key; did you mean fuel?"),
        (('mass = "1390 kg"', 'mass = "1390"'), 'about.mass: "1390" has no unit'),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_place(file: Path, change: tuple[str, str], told: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert change[0] in text
    file.write_text(text.replace(*change), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_published(file, name="published.toml")
    assert any(f"published.toml: {told}" in str(fault) for fault in caught.value.faults)


def test_an_empty_file_says_what_it_needs() -> None:
    with pytest.raises(InputError, match="value: is missing"):
        published_of(NamedDocument({}, FolderFiles(Path())), "published.toml", "p")


KEYS = ["label", "rule", "city", "highway", "combined", "value", "steady", "speed", "model_year", "about", "mass",
        "fuel", "pm", "temperature", "odd"]  # fmt: skip


@QUICK
@given(random_tables(KEYS, ["18 mpg US", "7 L/100km", "us 1985", "90 km/h", "petrol", "5 %"]))
def test_any_document_is_read_or_refused_in_words(tables: dict[str, Any]) -> None:
    try:
        published_of(NamedDocument(tables, FolderFiles(Path())), "published.toml", "p")
    except InputError as error:
        assert all(fault.wrong and "\n" not in str(fault) for fault in error.faults)
