"""An invented run's result beside the truth it was invented from."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import msgspec

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.run_tables import PARAMETER_WORDS
from calmday.reports.sheet import Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, is_known, number, short, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from calmday.procedures.weighed_run_result import RunResult
    from calmday.reports.words import Interval

GROUP_WORDS = {
    "as_driven": "as driven",
    "calm_day": "calm day",
    "penalties": "cost of the day",
    "estimates": "vehicle",
}


ONE_UNIT = "L_per_100km"
"""Of one consumption in many units, this one is compared; the others would only repeat it."""

NAME_WORDS = {**PARAMETER_WORDS, "fuel_density_15C": "fuel density at 15 °C"}


class TruthLine(msgspec.Struct, frozen=True):
    """One figure beside its truth, in the figure's unit. `inside`: the truth lies in the 95 % interval."""

    name: str
    truth: str
    found: str
    inside: bool


def truth_lines(result: RunResult, truth: Mapping[str, Any]) -> tuple[TruthLine, ...]:
    """Every truth that the result has a figure for; `truth` is nested like the result, in the same units."""
    lines = []
    for path, true in _leaves(truth, ()):
        figure = _figure_at(result, path)
        if figure is not None and is_known(figure) and not _repeats(path):
            inside = figure.low <= true <= figure.high
            lines.append(TruthLine(_label(path, figure), _as_precise(true, figure), amount(figure), inside))
    return tuple(lines)


def truth_sheet(lines: tuple[TruthLine, ...]) -> Sheet:
    """The comparison as a sheet of its own."""
    inside = sum(line.inside for line in lines)
    counted = f"{inside} of {len(lines)} figures have it inside their give or take"
    lead = f"This drive is invented, so the truth is known: {counted}."
    rows = tuple((line.name, line.truth, line.found, "✓ inside" if line.inside else "? outside") for line in lines)
    columns = (
        Column("", wrap=True),
        Column("truth", "right"),
        Column("found", "right"),
        Column("give or take"),
    )
    about = "About one figure in twenty should miss, and figures of one run tend to miss together."
    return Sheet(
        title="Found against known",
        lead=lead,
        blocks=(Table(title="", columns=columns, rows=rows), Prose(title="", lines=(about,))),
    )


def _leaves(node: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], float]]:
    """Numbers of a nested mapping with their path; `{"value": x, ...}` counts as the number x."""
    for name, inner in node.items():
        here = (*path, name)
        if isinstance(inner, dict):
            plain = inner.get("value")
            if isinstance(plain, (int, float)):
                yield here, float(plain)
            else:
                yield from _leaves(inner, here)
        elif isinstance(inner, (int, float)) and not isinstance(inner, bool) and math.isfinite(inner):
            yield here, float(inner)


def _repeats(path: tuple[str, ...]) -> bool:
    return path[0] in ("as_driven", "calm_day") and path[-1] != ONE_UNIT


def _figure_at(result: RunResult, path: tuple[str, ...]) -> Interval | None:
    """The figure of the result under this path, if it has one."""
    node: Any = result
    for name in path:
        node = node.get(name) if isinstance(node, dict) else getattr(node, name, None)
        if node is None:
            return None
    return node if all(hasattr(node, part) for part in ("value", "low", "high", "unit")) else None


def _label(path: tuple[str, ...], figure: Interval) -> str:
    *groups, name = path
    words = NAME_WORDS.get(name, clean(name).replace("_", " "))
    unit = unit_words(figure.unit)
    group = " ".join(GROUP_WORDS.get(part, part) for part in groups)
    named = f"{group}: {words}" if group else words
    return f"{group}, {unit}" if name == ONE_UNIT else f"{named}, {unit}" if unit else named


def _as_precise(true: float, figure: Interval) -> str:
    half = (figure.high - figure.low) / 2
    return number(true, decimals_for_half_width(half)) if half > 0 else short(true)
