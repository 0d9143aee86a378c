"""The lay-by check, the comparison with a known truth, and JSON."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from sample_results import NOWHERE, consumption, flag, full_result

from calmday.procedures.weighed_run_result import RunResult
from calmday.reports.check_sheet import check_sheet
from calmday.reports.guess_sheet import moment
from calmday.reports.json_result import json_result
from calmday.reports.notebook import reduction_html
from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.truth_sheet import truth_lines, truth_sheet


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        ("2026-11-26T06:59:49.226137Z", "26 November 2026, 06:59 (UTC)"),
        ("2026-04-12T09:30:00+02:00", "12 April 2026, 09:30 (UTC+02:00)"),
        ("2026-04-12", "12 April 2026"),
        ("at breakfast", "at breakfast"),
    ],
)
def test_a_time_is_said_without_its_microseconds(kept: str, said: str) -> None:
    assert moment(kept) == said


TRUTH = {
    "note": "invented",
    "calm_day": {"L_per_100km": 6.55, "mpg_us": 35.9},
    "as_driven": {"L_per_100km": {"value": 7.9, "unit": "L/100km"}},
    "penalties": {"wind": 4.1},
    "estimates": {"drag_area": {"value": 1.35, "unit": "m^2"}},
    "weather": {"wind": 6.0},
    "distance": 38.611,
    "closed": True,
}


def test_truth_is_held_against_every_figure_it_names() -> None:
    lines = truth_lines(full_result(), TRUTH)
    assert [(line.name, line.truth, line.found, line.inside) for line in lines] == [
        ("calm day, L/100 km", "6.6", "6.6 ± 0.2", True),
        ("as driven, L/100 km", "7.90", "7.12 ± 0.09", False),
        ("cost of the day: wind, %", "4", "5 ± 2", True),
        ("vehicle: drag area, m²", "1.35", "1.31 ± 0.12", True),
        ("distance, km", "38.61", "38.61 ± 0.02", True),
    ]


def test_the_comparison_counts_what_it_shows() -> None:
    text = " ".join(plain_sheet(truth_sheet(truth_lines(full_result(), TRUTH)), 80).split())
    assert "4 of 5 figures have it inside" in text
    assert text.count("+ inside") + text.count("✓ inside") == 4
    assert "? outside" in text


def test_a_check_leads_with_its_verdict_and_marks_each_row_in_words() -> None:
    check = SimpleNamespace(
        verdict="Check the return hose: this much fuel cannot have been burnt.",
        rows=(
            ("fuel burnt", "15.0 L/100 km", "5 to 9 L/100 km", "stop"),
            ("distance", "42.6 km", "about 42.6 km", "ok"),
            ("time", "38 min", "30 to 36 min", "look"),
        ),
        flags=(flag("stop", "About 5.6 L an hour went elsewhere"), flag("caution")),
    )
    text = plain_sheet(check_sheet(check, "run.toml"), 80)
    assert text.splitlines()[3].startswith("Check the return hose")
    order = [
        "Check the return",
        "Stop: About 5.6 L an hour",
        "✗ cannot be",
        "✓ plausible",
        "? look again",
        "Take care",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_json_is_pure_and_says_null_for_what_is_not_known() -> None:
    result = full_result(as_driven=consumption(7.1, 0.1, cost=False), fuel_volume=NOWHERE)
    data = json.loads(json_result(result), parse_constant=lambda name: (_ for _ in ()).throw(ValueError(name)))
    assert list(data) == list(RunResult.__struct_fields__)
    assert data["schema"] == "calmday/run/1"
    assert data["fuel_volume"] == {
        "value": None, "standard_uncertainty": None, "low": None, "high": None, "unit": "L/100km",
    }  # fmt: skip
    assert data["as_driven"]["L_per_100km"]["value"] == 7.1
    assert data["as_driven"]["cost_per_km"] is None


class Outline(HTMLParser):
    """Collects text and checks that tags close in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)
        assert not {name for name, _ in attrs} & {"src", "href", "onclick"}

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_the_notebook_shows_the_same_sheet_and_escapes_names() -> None:
    result = full_result(vehicle="<script>Fen</script>", flags=(flag("stop", "a < b"),))
    outline = Outline(reduction_html(result))
    assert outline.open == []
    text = " ".join(outline.texts)
    for words in ("a < b", "7.12 ± 0.09", "What it used", "Stop:", "On the road and with fuel"):
        assert words in text
    assert "script" not in reduction_html(full_result(vehicle="<script>")).replace("&lt;script&gt;", "")
