"""Sheets about gears and pulls, and the card: the words, the units, nothing that a narrow page breaks."""

from __future__ import annotations

import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "procedures"))
from gears_samples import BREAD_VAN, PLAINS_TRUCK
from test_pull_power import SMOOTH, hill, pulled

from calmday.operations.gears import conditions, reduce_pulls, study_gears
from calmday.procedures.gears_result import GearsResult
from calmday.reports.gears_sentence import gears_headline, ordinal
from calmday.reports.gears_sheet import gears_sheet
from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.pull_sheet import pull_sheet
from calmday.reports.shift_card import shift_card_page, shift_card_sheet

STUDY = study_gears(PLAINS_TRUCK, draws=200)
WINDY = STUDY.answer(conditions(head_wind_mps=14.0, payload_kg=200.0))


def numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(r"\d+(?:\.\d+)?", text)]


def test_the_sentence_in_both_units():
    kmh, mph = gears_headline(WINDY), gears_headline(WINDY, "mph")
    assert "into 14 m/s of wind and with 200 kg more" in kmh
    (fast, *_), (slow, *_) = numbers(kmh), numbers(mph)
    assert fast / slow == pytest.approx(1.609, abs=0.05)


def test_gears_are_called_by_their_names():
    assert [ordinal(n) for n in (1, 5, 10, 11)] == ["first", "fifth", "tenth", "gear 11"]


@pytest.mark.parametrize("columns", [60, 80, 100])
@pytest.mark.parametrize("unit", ["km/h", "mph"])
def test_the_sheet_fits_the_page_and_says_what_stops_each_gear(columns: int, unit: str):
    text = plain_sheet(gears_sheet(WINDY, unit), columns)
    assert max(len(line) for line in text.splitlines()) <= columns
    assert text.index("In fifth") < text.index("Speed each gear holds")
    for words in ("too tall here", "governed speed", "Hold ", "Change up for best acceleration", unit):
        assert words in text
    assert "nan" not in text


def test_changes_not_reached_are_named():
    text = plain_sheet(gears_sheet(study_gears(BREAD_VAN, draws=200).answer()), 100)
    assert "Not reached here: 4 to 5." in text


def test_the_dial_gets_a_column_only_where_its_factor_is_known():
    assert "on the dial" not in plain_sheet(gears_sheet(WINDY), 100)
    assert "on the dial" in plain_sheet(gears_sheet(STUDY.answer(speedometer_factor=0.92)), 100)


class Page(HTMLParser):
    """Tags and texts of a page, to be held against the result."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.cells: list[str] = []
        self._cell: list[str] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]
        if tag == "td":
            self._cell = []

    def handle_endtag(self, tag: str) -> None:
        if tag == "td" and self._cell is not None:
            self.cells.append(" ".join(self._cell))
            self._cell = None

    def handle_data(self, data: str) -> None:
        if self._cell is not None:
            self._cell.append(data.strip())


def test_the_card_page_shows_the_cards_own_speeds_and_asks_for_nothing():
    page = Page(shift_card_page(WINDY))
    assert page.links == []
    assert "script" not in page.tags
    rows = WINDY.shift_card.rows
    assert len(page.cells) == 3 * len(rows)
    shown = [numbers(cell) for cell in page.cells]
    expected = [
        [] if up is None else [round(up), round(down)]
        for row in rows
        for up, down in ((row.level_up, row.level_down), (row.hill_up, row.hill_down),
                         (row.headwind_up, row.headwind_down))
    ]  # fmt: skip
    assert shown == expected
    for cell, speeds in zip(page.cells, expected, strict=True):
        assert ("stay" in cell) == (speeds == [])
        assert speeds == [] or ("\u25b2" in cell and "\u25bc" in cell)


def test_the_card_is_large_and_escapes_names():
    import msgspec  # noqa: PLC0415

    page = shift_card_page(msgspec.structs.replace(WINDY, vehicle="<b>Van</b>"))
    assert "<b>Van" not in page
    assert "&lt;b&gt;Van" in page
    sizes = [float(size) for size in re.findall(r"font-size: (\d+)pt", page)]
    assert min(sizes) >= 14


def test_the_card_on_the_dial_and_in_miles():
    plain = STUDY.answer()
    dial = STUDY.answer(speedometer_factor=0.8)
    (satellite, *_), (indicated, *_) = (
        [row[1] for row in shift_card_sheet(result).blocks[0].rows] for result in (plain, dial)
    )  # type: ignore[union-attr]
    assert numbers(indicated)[0] == pytest.approx(numbers(satellite)[0] / 0.8, abs=1.2)
    miles = shift_card_sheet(plain, "mph")
    assert "Speeds in mph by satellite" in miles.lead
    assert "on the dial" in shift_card_sheet(dial).lead


def test_cruise_is_only_named_where_the_gear_holds_it():
    """The bread van's fifth would turn its governed speed at 133 km/h but holds 96; its third reaches the governor."""
    study = study_gears(BREAD_VAN, draws=200)
    calm, windy = study.answer(speed_kmh=80.0), study.answer(conditions(head_wind_mps=15.0), speed_kmh=60.0)
    assert calm.hold.gear == 5
    assert calm.shift_card.cruise_slow is None
    assert "Cruise" not in plain_sheet(shift_card_sheet(calm), 80)
    assert windy.hold.gear == 3
    assert "Cruise in 3 at no more than 63 to 66 km/h" in plain_sheet(shift_card_sheet(windy), 80)


def test_a_run_has_its_own_part():
    from test_gears_study import EXAMPLE  # noqa: PLC0415

    from calmday.operations.gears import study_gears_file  # noqa: PLC0415

    if not (EXAMPLE / "run.toml").exists():
        pytest.skip("examples/fen-hauler is not here")
    result: GearsResult = study_gears_file(EXAMPLE / "vehicle.toml", EXAMPLE / "run.toml", draws=200).answer()
    text = plain_sheet(gears_sheet(result), 80)
    assert "What the drive says: Fen loop" in text
    assert "At full load for" in text


@pytest.mark.parametrize("columns", [60, 80, 100])
def test_the_sheet_of_pulls(columns: int):
    from gears_samples import CAMPER  # noqa: PLC0415

    for day in (pulled(SMOOTH), hill(CAMPER, (246.0, 249.0, 247.0))):
        result = reduce_pulls(day, draws=200)
        text = plain_sheet(pull_sheet(result), columns)
        assert max(len(line) for line in text.splitlines()) <= columns
        assert "The engine gave " in text
        assert "give or take" in text
        assert "ISO 1585: factor" in text
        assert ("One pull: an indication." in text) == (len(result.pulls) == 1)
        assert "nan" not in text
