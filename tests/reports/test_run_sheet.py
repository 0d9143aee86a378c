"""The sheet of a run: its order, its words, its width, on paper, pipe and terminal."""

from __future__ import annotations

import io
import re

import msgspec
import pytest
from rich.console import Console
from sample_results import consumption, flag, full_result

from calmday.reports.plain_sheet import encodable, plain_sheet
from calmday.reports.run_sheet import run_sheet
from calmday.reports.sheet import Bar, Bars, Column, Remark, Remarks, Sheet, Table
from calmday.reports.terminal_sheet import print_sheet
from calmday.reports.words import text_width

TITLES = (
    "What it used",
    "Where the fuel went",
    "Where the doubt of the calm-day figure comes from",
    "Worth knowing",
    "What the day cost",
    "Level cruise",
    "Laps",
    "Legs and wind",
    "The vehicle, as this run sees it",
    "What went in",
    "How it was found",
    "On the road and with fuel",
)
AWKWARD = Sheet(
    title="T" * 150,
    lead="漢字" * 70,
    blocks=(
        Table(
            title="Wide",
            columns=(Column("a", wrap=True), *(Column(f"column {i}", "right") for i in range(9))),
            rows=(("[bold]not markup[/bold] " * 5, *("12 345 ± 678",) * 9),),
            note="n" * 200,
        ),
        Bars(title="Long labels", bars=(Bar("a label that goes on and on " * 4, 1.0, "12.3 ± 0.4 %"),)),
        Remarks(title="", items=(Remark(severity="stop", saw="s" * 130, why="", remedy="r " * 99),)),
    ),
)


def on_terminal(sheet: Sheet, columns: int) -> str:
    out = io.StringIO()
    print_sheet(sheet, Console(file=out, width=columns, color_system=None, force_terminal=True, highlight=False))
    return out.getvalue()


def drawings(sheet: Sheet, columns: int) -> list[str]:
    return [plain_sheet(sheet, columns), on_terminal(sheet, columns)]


@pytest.mark.parametrize(
    ("fuel", "said", "unsaid"),
    [
        ("diesel", "High-pressure jets pierce skin", "Petrol"),
        ("biodiesel", "Biodiesel: outside", "Petrol"),
        ("petrol", "Petrol: can on the ground outside", "jets"),
        ("e10", "Petrol: can on the ground outside", "jets"),
        ("ethanol", "hard to see", "Petrol"),
        ("lpg", "valve shut before a hose comes off", "Petrol"),
        ("", "Fuel: can on the ground outside", "Petrol"),
    ],
)
def test_the_caution_fits_the_fuel_and_untaxed_fuel_is_told_of(fuel: str, said: str, unsaid: str) -> None:
    shown = plain_sheet(run_sheet(msgspec.structs.replace(full_result(), fuel=fuel)), 80)
    care = " ".join(shown[shown.index("On the road and with fuel") :].split())
    assert said in care
    assert unsaid not in care
    assert "untaxed" in care
    assert "Look up your local law" in care


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
@pytest.mark.parametrize("sheet", [run_sheet(full_result()), AWKWARD], ids=["run", "awkward"])
def test_no_line_is_wider_than_the_page(sheet: Sheet, columns: int) -> None:
    for text in drawings(sheet, columns):
        assert max(text_width(line.rstrip()) for line in text.splitlines()) <= columns


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_sentence_first_then_the_sections_in_order(columns: int) -> None:
    for text in drawings(run_sheet(full_result()), columns):
        flat = " ".join(text.split())
        assert flat.index("Fen Hauler used 6.6 L/100 km") < flat.index(TITLES[0])
        places = [flat.index(title) for title in TITLES]
        assert places == sorted(places)


def test_terminal_and_plain_sheet_say_the_same_words() -> None:
    sheet = run_sheet(full_result())
    plain, drawn = drawings(sheet, 80)
    marks = str.maketrans({"#": "", "█": "", "=": "", "-": "", "!": "", "·": "", "−": "", "\u202f": " "})
    assert plain.translate(marks).split() == drawn.translate(marks).split()


def test_every_figure_of_the_estimates_says_where_it_came_from() -> None:
    text = plain_sheet(run_sheet(full_result()), 60)
    rows = text[text.index("The vehicle, as") : text.index("What went in")]
    assert "declared" in rows
    assert "assumed" in rows


def test_a_stop_comes_before_every_figure_and_takes_the_confidence_away() -> None:
    text = plain_sheet(run_sheet(full_result(flags=(flag("stop", "The return hose was in the tank"),))), 80)
    assert text.index("Stop: The return hose was in the tank") < text.index("What it used")
    assert "To do: Wait for a calmer hour" in text
    assert "One run: an indication" not in text


def test_cautions_stand_before_notes() -> None:
    text = plain_sheet(run_sheet(full_result()), 80)
    assert text.index("Take care: The wind blew 9 m/s") < text.index("Note: No price was given")


def test_a_run_with_next_to_nothing_still_has_a_sheet() -> None:
    bare = full_result(
        calm_day=None, penalties=None, energy=(), budget=(), laps=(), legs=(), estimates={}, level_cruise=(),
        moving_time=None, quality=None, flags=(), as_driven=consumption(7.1, 0.3, cost=False),
    )  # fmt: skip
    text = plain_sheet(run_sheet(bare), 80)
    assert "we can't tell" in text
    for title in TITLES[1:9]:
        assert title not in text


def test_a_speed_the_engine_does_not_hold_is_marked_and_explained() -> None:
    text = plain_sheet(run_sheet(full_result()), 80)
    assert re.search(r"110 km/h \(68 mph\)(, \d+ rpm)? \(\?\)", text)
    assert not re.search(r"^70 km/h.*\(\?\)", text, re.MULTILINE)
    assert "probably does not hold this speed" in " ".join(text.split())


def test_cruise_speaks_to_drivers_in_miles_too() -> None:
    text = plain_sheet(run_sheet(full_result()), 100)
    (line,) = (line for line in text.splitlines() if line.startswith("70 km/h"))
    point = next(point for point in full_result().level_cruise if point.speed.value == 70)
    assert "(43 mph)" in line
    assert f"; {point.mpg_us.value:.1f} US, {point.mpg_imp.value:.1f} imp" in line


def test_bars_are_as_long_as_their_figures() -> None:
    text = plain_sheet(run_sheet(full_result()), 80)
    drawn = {line.split("  ")[0]: line.count("#") for line in text.splitlines() if "#" in line}
    assert drawn["wind"] / drawn["fuel system"] == pytest.approx(0.21 / 0.62, abs=0.02)
    assert drawn["air drag"] / drawn["exhaust and cooling"] == pytest.approx(0.16 / 0.53, abs=0.02)


def test_markup_in_names_is_shown_as_written() -> None:
    sheet = run_sheet(full_result(vehicle="[red]Hauler[/red]", label="\x1b[2J"))
    for text in drawings(sheet, 80):
        assert "[red]Hauler[/red]" in text
        assert "\x1b[2J" not in text


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "cp437", "ascii", "latin-1"])
def test_the_plain_sheet_can_be_written_on_any_code_page(encoding: str) -> None:
    text = encodable(plain_sheet(run_sheet(full_result()), 80), encoding)
    assert text.encode(encoding).decode(encoding) == text
    assert "?" not in text.replace("(?)", "")


def test_plain_text_keeps_to_signs_a_keyboard_has_beside_those_of_units() -> None:
    text = plain_sheet(run_sheet(full_result()), 80)
    assert {char for char in text if not char.isascii()} <= set("±°²³₂")


def test_a_sheet_shows_file_names_but_not_where_they_lay() -> None:
    result = full_result()
    lying = msgspec.structs.replace(result.provenance, files=("/home/ada/run.toml", "C:\\Ada\\out.gpx", "a.csv"))
    text = plain_sheet(run_sheet(full_result(provenance=lying)), 80)
    assert "from run.toml, out.gpx, a.csv." in " ".join(text.split())
    assert "ada" not in text.lower()
