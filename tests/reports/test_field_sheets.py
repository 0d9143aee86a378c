"""Sheets for the test day: what to expect is printed on them, letters and boxes are large enough, one side each."""

from __future__ import annotations

import io
from functools import lru_cache
from pathlib import Path

import msgspec
import pypdf
import pytest

from calmday.metrology.figure import exact
from calmday.operations import plan_file
from calmday.procedures.plan_result import PlanResult
from calmday.reports.field_sheet import field_pdf
from calmday.reports.field_sheets import sheets_of_test
from calmday.reports.print import PAPERS, Paper

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan-a-test" / "plan.toml"
NAMES = ("fuel-rig", "course-card", "driving-rules", "run-sheet", "lap-card", "coastdown")
MM_PER_PT = 25.4 / 72


@lru_cache(maxsize=1)
def planned() -> PlanResult:
    return plan_file(EXAMPLE, draws=300)


def page(name: str, paper: Paper, result: PlanResult | None = None) -> pypdf.PageObject:
    sheet = next(s for s in sheets_of_test(result or planned(), paper) if s.name == name)
    reader = pypdf.PdfReader(io.BytesIO(field_pdf([sheet], sheet.title, paper)))
    assert len(reader.pages) == 1
    return reader.pages[0]


def words(name: str, paper: Paper = "a4", result: PlanResult | None = None) -> str:
    return " ".join(page(name, paper, result).extract_text().split())


def letter_sizes(found: pypdf.PageObject) -> set[float]:
    sizes: set[float] = set()

    def visit(text: str, _matrix: object, _text: list[float], _font: object, size: float) -> None:
        if text.strip():
            sizes.add(round(size * abs(_text[3]), 1))

    found.extract_text(visitor_text=visit)
    return sizes


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_letters_are_fourteen_points_or_more(name: str, paper: Paper) -> None:
    sizes = letter_sizes(page(name, paper))
    assert sizes and min(sizes) >= 14.0


@pytest.mark.parametrize("question", ["baseline", "comparison"])
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_one_side_each_whatever_the_question_and_however_long_the_name(name: str, paper: Paper, question: str) -> None:
    result = msgspec.structs.replace(planned(), question=question, vehicle="The Fen Hauler of Great Marsh", laps=40)
    assert words(name, paper, result)


def test_the_run_sheet_holds_units_ranges_and_the_last_line() -> None:
    result, shown = planned(), words("run-sheet")
    for expected in ("Before 1st", "After 3rd", "kg", "°C", "m/s", "less", "What happened", "If outside, check"):
        assert expected in shown
    low, high = result.fuel_mass.low, result.fuel_mass.high
    assert f"Expect {low:.1f} to {high:.1f} kg burnt" in shown


def test_the_order_stands_on_the_run_sheet_of_a_comparison() -> None:
    result = msgspec.structs.replace(planned(), question="comparison")
    shown = words("run-sheet", "a5", result)
    assert result.change.order in shown and "A: before the change" in shown
    assert "A: before" not in words("run-sheet", "a5")


@pytest.mark.parametrize("paper", PAPERS)
def test_a_comparison_has_a_sheet_of_all_runs_in_their_order(paper: Paper) -> None:
    result = msgspec.structs.replace(planned(), question="comparison")
    shown = words("runs", paper, result)
    for k, arm in enumerate(result.change.order):
        assert f"{k + 1} {arm}" in shown
    assert min(letter_sizes(page("runs", paper, result))) >= 14.0


def test_what_a_stop_costs_stands_on_card_and_course() -> None:
    grams = f"{planned().stop_cost.stop.value:.0f} g"
    assert grams in words("lap-card") and grams in words("course-card")


def test_what_can_hurt_is_said() -> None:
    assert "pierce skin" in words("fuel-rig") and "never in the cab" in words("fuel-rig")
    assert "brakes and steering need it" in words("coastdown") and "look up your law" in words("coastdown")
    assert "The driver drives" in words("driving-rules")


def test_a_hostile_name_is_only_a_name() -> None:
    result = msgspec.structs.replace(planned(), vehicle="#set text(red) *x* _y_ $z$")
    assert "#set text(red) *x* _y_ $z$" in words("course-card", "a4", result)


def test_more_laps_than_rows_ask_for_a_second_card() -> None:
    assert "second card" in words("lap-card", "a5", msgspec.structs.replace(planned(), laps=30))


def test_a_temperature_that_nobody_foretold_has_no_range_to_read_within() -> None:
    unknown = msgspec.structs.replace(planned(), temperature=exact(15.0, "degC"))
    assert "15 to 15" not in words("run-sheet", result=unknown)
    assert "in the shade" in words("run-sheet", result=unknown)
