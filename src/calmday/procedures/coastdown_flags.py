"""What a reader of a coastdown should know: limits of the published procedures, odd passes, what was not given."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from calmday.metrology.rounding import format_to
from calmday.procedures.day_flags import day_flags
from calmday.procedures.flag import Flag, flag

if TYPE_CHECKING:
    from calmday.procedures.coastdown import FittedCoastdown
    from calmday.procedures.coastdown_result import CoastdownResult

WIND_MEAN_MPS: Final = 5.0
WIND_ACROSS_MPS: Final = 2.0
WIND_PEAK_MPS: Final = 8.0
"""Mean, across and peak wind of UN GTR 15, Annex 4, for a stationary anemometer (from memory)."""
GRADE_LIMIT: Final = 0.01
FEWEST_PASSES: Final = 6
PRIOR_FAR: Final = 2.5
NEAR_ONE: Final = 0.85
SAME_MARK_M: Final = 60.0
"""Passes that begin within so much of each other roll through every rise at the same speed. Assumed."""


def flags_of_coastdown(fitted: FittedCoastdown, result: CoastdownResult) -> Iterator[Flag]:
    """All flags of a day."""
    yield from day_flags(fitted.fit.day.date, fitted.fit.day.days)
    yield from _of_passes(fitted, result)
    yield from _of_weather(fitted, result)
    yield from _of_figures(fitted, result)
    yield flag(
        "coasting-on-roads", "caution",
        "Rolling out of gear is restricted on public roads in some places.",
        "With the engine off there is no help for brakes and steering, and the steering may lock.",
        "Engine on, out of gear only where it is allowed, nobody behind, road clear to its end; the passenger records.",
    )  # fmt: skip


def _of_passes(fitted: FittedCoastdown, result: CoastdownResult) -> Iterator[Flag]:
    rolls = fitted.fit.rolls
    count = len(result.passes)
    if count < FEWEST_PASSES:
        yield flag(
            "few-passes", "caution",
            f"There {'is one pass' if count == 1 else f'are {count} passes'}.",
            "One gust moves a single pass by several per cent.",
            "Three pairs, both ways on the same road, are the least; published procedures ask for more.",
        )  # fmt: skip
    if rolls.known.all() and np.unique(rolls.way).size < 2:
        yield flag(
            "one-way", "caution",
            "All passes went the same way.",
            "Two tenths of a per cent of slope is as much as a sixth of rolling resistance, and looks just like it.",
            "Roll the same stretch both ways.",
        )  # fmt: skip
    if not rolls.known.all():
        yield flag(
            "heading-unknown", "caution",
            "Which way a pass went is not known.",
            "Wind from ahead cannot be told from wind from behind; the answer is wider for it.",
            'Add heading = "340 deg" to the [[pass]] table, or record positions.',
        )  # fmt: skip
    for one in result.passes:
        if one.odd:
            yield flag(
                "odd-pass", "caution",
                f"Pass {one.number} stands out.",
                f"It was {one.why}.",
                "It is allowed a force of its own and drags nothing along. If you remember the reason, leave it out.",
            )  # fmt: skip
    if _from_one_mark(fitted):
        yield flag(
            "same-mark", "note",
            f"All passes the same way began within {SAME_MARK_M:.0f} m.",
            "Rolled through at the same speed every time, a rise or dip of the road looks like drag, however often.",
            "Next time begin each pair of passes 150 to 300 m further along than the one before.",
        )  # fmt: skip
    if not any(sample.has_height for sample in fitted.fit.passes) and not any(
        sample.declared.grade for sample in fitted.fit.passes
    ):
        yield flag(
            "heights-unknown", "note",
            "No heights of the road were recorded or stated.",
            "A dip rolled into from both ends looks like more rolling and less drag.",
            "Record tracks with heights, and choose an even road.",
        )  # fmt: skip


def _from_one_mark(fitted: FittedCoastdown) -> bool:
    """Whether passes with places, two or more each way, all begin at one mark on either way."""
    rolls = fitted.fit.rolls
    groups = [rolls.along_m[rolls.way == way, 0] for way in (-1.0, 1.0)]
    return (
        bool(rolls.placed.all())
        and np.unique(rolls.road).size == 1
        and all(begin.size >= 2 and float(np.ptp(begin)) < SAME_MARK_M for begin in groups)
    )


def _of_weather(fitted: FittedCoastdown, result: CoastdownResult) -> Iterator[Flag]:
    weather, rolls = fitted.fit.weather, fitted.fit.rolls
    if not weather.wind_known:
        yield flag(
            "no-wind", "caution",
            "No wind was reported.",
            "Two directions cancel the slope of a road, but not the wind.",
            "Hold up a wind meter for two minutes, or paste the METAR of the nearest airfield.",
        )  # fmt: skip
    mean = float(rolls.wind_mps.mean())
    across = abs(result.wind_across.value)
    if weather.wind_known and (round(mean, 1) > WIND_MEAN_MPS or round(across, 1) > WIND_ACROSS_MPS):
        yield flag(
            "wind-above-procedure-limit", "caution",
            f"The wind at the vehicle was {mean:.1f} m/s, {across:.1f} m/s of it across.",
            f"UN GTR 15 allows {WIND_MEAN_MPS:.0f} m/s in the mean and {WIND_ACROSS_MPS:.0f} m/s across (from memory).",
            "The answer carries the doubt; a calmer hour, mostly early in the morning, narrows it.",
        )  # fmt: skip
    if weather.gust_at_mast_mps is not None and weather.gust_at_mast_mps > WIND_PEAK_MPS:
        yield flag(
            "gusts-above-procedure-limit", "note",
            f"Gusts of {weather.gust_at_mast_mps:.0f} m/s were reported.",
            f"UN GTR 15 allows peaks of {WIND_PEAK_MPS:.0f} m/s (from memory).",
            "Wait for a calmer hour if you can.",
        )  # fmt: skip
    temperature = float(weather.temperature_k.mean()) - 273.15
    if not 5.0 <= temperature <= 35.0:
        yield flag(
            "temperature-outside-procedure", "note",
            f"The air was at {format_to(temperature, 0)} °C.",
            "SAE J1263 keeps to 5 to 35 °C: outside, tyres correct poorly.",
            "Repeat on a milder day if rolling resistance is the question.",
        )  # fmt: skip


def _of_figures(fitted: FittedCoastdown, result: CoastdownResult) -> Iterator[Flag]:
    steep = max((abs(one.value) for one in result.grade), default=0.0)
    if steep > 100 * GRADE_LIMIT:
        yield flag(
            "steep-road", "caution",
            f"The road has a grade of {steep:.1f} %.",
            "Published procedures keep within 1 %; the slope is then several times what is looked for.",
            "Choose a road that is nearer to level.",
        )  # fmt: skip
    parameters, scores = fitted.fit.parameters, fitted.posterior.scores
    far = []
    for key, words in (("drag_area", "drag area"), ("rolling_resistance", "rolling resistance"), ("test_mass", "mass")):
        column = scores[:, parameters.column(key)]
        off = float(column.mean()) / max(1 - float(column.var()), 0.05) ** 0.5
        if abs(off) > PRIOR_FAR:
            far.append(f"a {words} far {'above' if off > 0 else 'below'}")
    if far:
        yield flag(
            "build-sheet-doubted", "caution",
            f"The passes say {' and '.join(far)} what the build sheet makes likely.",
            "Either the sheet states something that is not so, or something held the vehicle back in every pass.",
            "Check mass, tyre pressure and brakes, then drag_coefficient, frontal_area and rolling_resistance.",
        )  # fmt: skip
    if not fitted.posterior.sound:
        yield flag(
            "few-effective-draws", "caution",
            "The simulation settled poorly.",
            "The ends of the intervals are then rough.",
            "Ask for more draws, or leave out a pass that stands out.",
        )  # fmt: skip
    if abs(result.correlation) > NEAR_ONE:
        yield flag(
            "drag-and-rolling-entangled", "note",
            "Drag and rolling can hardly be told apart.",
            "What one loses the other gains; the force itself is known better than either.",
            "Roll over a wider range of speeds: from as fast as is allowed down to walking pace.",
        )  # fmt: skip
