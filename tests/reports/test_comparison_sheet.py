"""Words, sheet and pictures of a comparison."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import msgspec
import pytest

from calmday.metrology.figure import Figure
from calmday.operations import compare_file
from calmday.procedures.comparison_result import ComparisonResult
from calmday.reports.charts.compared import charts_of_comparison
from calmday.reports.comparison_sentence import places, runs_words, span, verdict_words
from calmday.reports.comparison_sheet import comparison_sheet
from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.sheet import Table

ROW = '[[run]]\ngroup = "{group}"\nlabel = "{label}"\nfuel = "{grams} g"\ndistance = "30 km"\n'


@pytest.fixture
def result(tmp_path: Path) -> ComparisonResult:
    rows = [
        ("baseline", 899),
        ("changed", 865),
        ("changed", 849),
        ("baseline", 889),
        ("baseline", 872),
        ("changed", 843),
    ]
    text = "".join(ROW.format(group=g, label=f"run {i}", grams=w) for i, (g, w) in enumerate(rows, 1))
    (tmp_path / "comparison.toml").write_text('baseline_name = "2.0 bar"\nchanged_name = "2.8 bar"\n' + text)
    return compare_file(tmp_path / "comparison.toml")


def _figure(value: float, low: float, high: float) -> Figure:
    return Figure(value, (high - low) / 4, low, high, "%")


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-5.5, -2.7, "from 2.7 to 5.5 % less"),
        (2.7, 5.5, "from 2.7 to 5.5 % more"),
        (-1.4, 0.9, "from 1.4 % less to 0.9 % more"),
        (-20.5, -14.2, "from 14 to 20 % less"),
    ],
)
def test_both_ends_in_plain_words(low: float, high: float, words: str) -> None:
    assert span(_figure((low + high) / 2, low, high)) == words


@pytest.mark.parametrize(
    ("verdict", "low", "high", "words"),
    [
        ("less fuel", -5.5, -2.7, "4.1 % less fuel with 2.8 bar, somewhere from 2.7 to 5.5 % less."),
        ("more fuel", 2.7, 5.5, "4.1 % more fuel with 2.8 bar, somewhere from 2.7 to 5.5 % more."),
        ("no difference seen", -1.5, 0.9, "If there is one it is smaller than about 1.5 %"),
        ("too small to matter", -0.9, 0.5, "it is smaller than 0.9 %: too small to matter to you."),
        ("cannot tell", -18.0, 14.0, "anywhere from 18 % less to 14 % more."),
    ],
)
def test_the_verdict_in_a_sentence(result: ComparisonResult, verdict: str, low: float, high: float, words: str) -> None:
    changed = msgspec.structs.replace(result, verdict=verdict, change_percent=_figure((low + high) / 2, low, high))
    assert words in verdict_words(changed)


def test_no_change_is_given_more_digits_than_it_deserves() -> None:
    assert places(_figure(-4.1, -5.5, -2.7)) == 1
    assert places(_figure(-17.4, -20.5, -14.2)) == 0
    assert places(_figure(-0.12, -0.15, -0.09)) == 1


def test_the_sheet_says_both_percentages_and_every_run(result: ComparisonResult) -> None:
    text = plain_sheet(comparison_sheet(result))
    assert "fuel for the same distance" in text
    assert "distance on the same fuel" in text
    for run in result.runs:
        assert run.label in text
    assert "significant" not in text
    assert "residual" not in text


def test_every_table_has_as_many_cells_as_columns(result: ComparisonResult) -> None:
    for block in comparison_sheet(result).blocks:
        if isinstance(block, Table):
            assert all(len(row) == len(block.columns) for row in block.rows), block.title


def test_the_order_is_told(result: ComparisonResult) -> None:
    design = result.design
    told = runs_words(
        msgspec.structs.replace(result, design=msgspec.structs.replace(design, interleaved=False, days=3))
    )
    assert told == "Six runs, not alternating, on three days."


def test_the_pictures_hold_what_they_say(result: ComparisonResult) -> None:
    charts = charts_of_comparison(result)
    assert [chart.name for chart in charts] == ["compared", "compared-runs"]
    for chart in charts:
        for size in ("page", "narrow", "16:9", "9:16"):
            root = ET.fromstring(chart.svg(size, "light"))  # type: ignore[arg-type]
            assert root.tag.endswith("svg")
        assert chart.description[0].isupper() or chart.description[0].isdigit()
    runs = charts[1]
    assert len(runs.table.rows) == 6
    change = next(story.change_percent for story in result.stories if story.headline)
    assert charts[0].table.rows[-1][1] == pytest.approx(change.value)
    assert re.search(r"[−-]\d", charts[0].svg("page", "light"))
