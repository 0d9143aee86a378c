"""The pictures of a comparison for a film."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.charts.card import Card, card_chart
from calmday.reports.charts.chart import Chart, known_or_none
from calmday.reports.charts.compared import compared_chart, setting_chart
from calmday.reports.charts.compared_runs import compared_runs_chart
from calmday.reports.charts.doubt import doubt_chart
from calmday.reports.charts.lettering import plain
from calmday.reports.comparison_sentence import is_named, places, runs_words, span, way
from calmday.reports.show.stills import Still, numbered
from calmday.reports.words import is_known, number

if TYPE_CHECKING:
    from calmday.procedures.comparison_result import ComparisonResult


def stills_of_comparison(result: ComparisonResult) -> tuple[Still, ...]:
    """The frames of a comparison in the order of telling: the runs, the answer, both stories, where the doubt lies."""
    stopped = any(flag.severity == "stop" for flag in result.flags)
    found: list[tuple[str, Chart | None]] = [
        ("the-runs", compared_runs_chart(result)),
        ("headline", _card(result, stopped)),
        ("the-answer", None if stopped else compared_chart(result)),
        ("over-the-setting", None if stopped else setting_chart(result)),
        ("where-the-doubt-comes-from", doubt_chart(result.budget, "difference")),
    ]
    return numbered([(name, chart) for name, chart in found if chart is not None])


def _card(result: ComparisonResult, stopped: bool) -> Chart | None:
    """The change as a large number; that it must not be used, or that no difference was seen, in words."""
    change = result.change_percent
    title = plain(result.changed) if is_named(result) else "Did it make a difference?"
    if stopped or change is None or not is_known(change) or result.effects or result.sweep is not None:
        if not stopped:
            return None
        card = Card(title=title, number="not usable", unit="", others=(), conditions=("see the remarks of the report",))
        return card_chart("headline", card, "This comparison must not be used.", ())
    seen = change.high < 0 or change.low > 0
    shown = f"{number(abs(change.value), places(change))} %" if seen else "not seen"
    unit = way(change.value) if seen else "a difference"
    card = Card(title=title, number=shown, unit=unit, others=(span(change),), conditions=(runs_words(result),))
    said = f"{plain(result.verdict_words)} {runs_words(result)}"
    rows = (("change in fuel, %", known_or_none(change.low), known_or_none(change.high)),)
    return card_chart("headline", card, said, rows)
