"""Planning through the verbs: the example, other questions, and what learning from a run does."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import jsonschema
import pypdf
import pytest

from calmday.errors import InputError
from calmday.operations import field_sheets_pdf, plan_file, schema, write_test_sheets
from calmday.procedures.plan_result import PlanResult
from calmday.reports.json_result import json_result
from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.plan_sheet import plan_sheet

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "plan-a-test" / "plan.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8").replace("../fen-hauler", (ROOT / "examples" / "fen-hauler").as_posix())


@pytest.fixture(scope="module")
def example() -> PlanResult:
    return plan_file(EXAMPLE, draws=400)


def planned(folder: Path, *changes: tuple[str, str]) -> PlanResult:
    """The example with lines of its text replaced."""
    text = TEXT
    for pattern, line in changes:
        text, count = re.subn(pattern, line, text, flags=re.MULTILINE)
        assert count, pattern
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    return plan_file(folder / "plan.toml", draws=400)


def test_the_json_fits_its_schema(example: PlanResult) -> None:
    made = json.loads(json_result(example))
    jsonschema.validate(made, schema("plan"))
    assert made["schema"] == "calmday/plan/1"
    for key in ("fuel_mass", "fits_scale", "reserve", "consumption", "uncertainty_percent", "laps_advised"):
        assert made[key] is not None


def test_the_sheet_begins_with_the_sentence_and_says_everything(example: PlanResult) -> None:
    text = plain_sheet(plan_sheet(example))
    assert example.sentence.split(":")[0] in text
    for part in ("What to expect", "by laps", "smallest change", "small things", "How it was found"):
        assert part in text


def test_a_run_teaches_and_narrows_the_fuel_to_expect(example: PlanResult, tmp_path: Path) -> None:
    blank = planned(tmp_path, (r"^runs = .*$", ""))
    assert "north wind" in example.learned_from and "no weighed run" in blank.learned_from
    # What is left is mostly what days differ by, 4 % for the run that teaches and for the one to come.
    relative = [found.fuel_mass.half_width / found.fuel_mass.value for found in (blank, example)]
    assert relative[1] < 0.85 * relative[0]
    assert relative[1] > 2 * 0.04


def test_a_comparison_is_planned_in_a_balanced_order(tmp_path: Path) -> None:
    found = planned(tmp_path, (r'^question = "baseline".*$', 'question = "comparison"\nruns_per_side = 2'))
    assert found.change.order == "ABBA"
    assert found.smallest_detectable_percent == pytest.approx(found.change.percent)
    assert [each.runs_per_side for each in found.smallest_changes] == [1, 2, 4, 8]
    assert found.smallest_changes[0].own_percent is None
    percents = [each.percent for each in found.smallest_changes]
    assert percents == sorted(percents, reverse=True)
    assert "ABBA" in found.sentence or "Do not drive" in found.sentence


def test_a_change_too_small_is_refused_with_what_would_show_it(tmp_path: Path) -> None:
    found = planned(
        tmp_path,
        (r'^question = "baseline".*$', 'question = "comparison"'),
        (r"^smallest_change = .*$", 'smallest_change = "0.3 %"'),
    )
    assert found.verdict.answer == "no go"
    assert "cannot answer" in found.sentence
    assert any("coastdown" in each for each in found.verdict.instead)


def test_a_capability_is_asked_of_the_engine(tmp_path: Path) -> None:
    found = planned(
        tmp_path, (r'^question = "baseline".*$', 'question = "capability"\nhead_wind = "40 m/s"\ngrade = "5 %"')
    )
    assert found.holds is not None
    assert found.holds.chance == 0.0
    assert "does not hold" in found.sentence


def test_a_small_scale_asks_for_parts_and_a_tiny_one_stops(tmp_path: Path) -> None:
    parts = planned(tmp_path, (r'^capacity = "10 kg"$', 'capacity = "3 kg"'))
    assert parts.fits_scale.parts is not None and parts.fits_scale.parts >= 2 and parts.fits_scale.fits is False
    assert parts.fits_scale.doubt_times == pytest.approx(parts.fits_scale.parts**0.5)
    assert "weigh-in-parts" in {flag.code for flag in parts.flags}
    none = planned(tmp_path, (r'^capacity = "10 kg"$', 'capacity = "1 kg"'))
    assert none.fits_scale.parts is None
    assert none.verdict.answer == "no go"
    assert [flag.code for flag in none.flags if flag.severity == "stop"] == ["scale-too-small"]


def test_fuel_that_cannot_last_stops(tmp_path: Path) -> None:
    found = planned(tmp_path, (r'^fuel_on_board = "42 L"$', 'fuel_on_board = "2 L"'))
    assert found.verdict.answer == "no go"
    assert found.reserve.enough == 0.0
    assert {flag.code for flag in found.flags if flag.severity == "stop"} == {"fuel-may-not-last"}


def test_wind_widens_and_a_calm_forecast_narrows(tmp_path: Path) -> None:
    halves = [
        planned(
            tmp_path, (r'^wind_speed = "5 m/s"$', f'wind_speed = "{wind} m/s"'), (r"^gust = .*$", "")
        ).uncertainty_percent
        for wind in (1, 5, 10)
    ]
    assert halves == sorted(halves)
    assert halves[2] > 1.5 * halves[0]


def test_a_gale_stops(tmp_path: Path) -> None:
    found = planned(tmp_path, (r'^wind_speed = "5 m/s"$', 'wind_speed = "18 m/s"'), (r"^gust = .*$", ""))
    assert [flag.code for flag in found.flags if flag.severity == "stop"] == ["gale-foretold"]


def test_the_fuel_of_another_engine_stops(tmp_path: Path) -> None:
    found = planned(tmp_path, (r'^kind = "diesel".*$', 'kind = "petrol"'))
    assert "fuel-of-another-engine" in [flag.code for flag in found.flags if flag.severity == "stop"]


def test_more_laps_are_named_where_they_help(tmp_path: Path) -> None:
    found = planned(
        tmp_path,
        (r'^arrangement = "test can"$', 'arrangement = "brim to brim"'),
        (r'^repeatability = "12 g"$', ""),
        (r"^laps = 4.*$", "laps = 1"),
    )
    assert found.verdict.answer == "no go"
    assert "even 12 laps give" in found.verdict.why


def test_advised_laps_are_the_fewest_that_give_what_is_wanted(tmp_path: Path) -> None:
    found = planned(tmp_path, (r'^wanted = "3 %".*$', 'wanted = "4 %"'), (r"^laps = 4.*$", ""))
    assert found.reaches_wanted
    assert found.laps == found.laps_advised
    below = [option for option in found.by_laps if option.laps < found.laps_advised]
    assert all(option.uncertainty_percent > 4.0 for option in below)


def test_the_same_seed_gives_the_same_plan(example: PlanResult) -> None:
    assert json_result(plan_file(EXAMPLE, draws=400)) == json_result(example)


def test_too_few_draws_are_refused() -> None:
    with pytest.raises(ValueError, match="too few"):
        plan_file(EXAMPLE, draws=50)


@pytest.mark.parametrize("paper", ["a4", "a5"])
def test_sheets_are_written_one_side_each(example: PlanResult, tmp_path: Path, paper: str) -> None:
    files = write_test_sheets(example, tmp_path / "print", paper)  # type: ignore[arg-type]
    assert [file.name for file in files] == [
        f"{name}-{paper}.pdf"
        for name in ("fuel-rig", "course-card", "driving-rules", "run-sheet", "lap-card", "coastdown")
    ]
    for file in files:
        reader = pypdf.PdfReader(io.BytesIO(file.read_bytes()))
        assert len(reader.pages) == 1, file.name
        assert reader.trailer["/Root"]["/Lang"] == "en"
        assert "/StructTreeRoot" in reader.trailer["/Root"]
    whole = pypdf.PdfReader(io.BytesIO(field_sheets_pdf(example, paper)))  # type: ignore[arg-type]
    assert len(whole.pages) == 6


def test_a_folder_that_cannot_be_made_is_told(example: PlanResult, tmp_path: Path) -> None:
    (tmp_path / "print").write_text("a file")
    with pytest.raises(InputError, match="--sheets"):
        write_test_sheets(example, tmp_path / "print")


def test_a_coastdown_teaches_too(tmp_path: Path) -> None:
    """A coastdown of the same vehicle narrows the fuel to expect before any run was weighed."""
    passes = []
    for k in range(6):
        # free rolling of 1480 kg against 175 N and 0.62 v^2 (drag area near 1.05 m2), a trace a second, whole km/h / 10
        speed, rows = 25.0, ["time_s,speed_kmh"]
        for step in range(60):
            rows.append(f"{step},{3.6 * speed + 0.1 * ((7 * step + 3 * k) % 5 - 2):.1f}")
            speed -= (175 + 0.62 * speed**2) / (1.035 * 1480)
        (tmp_path / f"pass{k}.csv").write_text("\n".join(rows) + "\n")
        passes.append(f'[[pass]]\ntrack = "pass{k}.csv"\nheading = "{180 * (k % 2)} deg"\n')
    head = f'vehicle = "{(ROOT / "examples" / "fen-hauler").as_posix()}/vehicle.toml"\n'
    (tmp_path / "coastdown.toml").write_text(head + "".join(passes))
    blank = planned(tmp_path, (r"^runs = .*$", ""))
    taught = planned(tmp_path, (r"^runs = .*$", 'coastdowns = ["coastdown.toml"]'))
    assert "coastdown" in taught.learned_from
    relative = [found.fuel_mass.half_width / found.fuel_mass.value for found in (blank, taught)]
    assert relative[1] < relative[0]
    assert taught.uncertainty_percent < 1.05 * blank.uncertainty_percent
