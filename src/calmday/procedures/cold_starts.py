"""Starter seconds against temperature: a weak sign of many things at once, and treated as one."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.figure import Figure
from calmday.metrology.line_fit import LineFit, fit_line
from calmday.procedures.settings_result import ColdStartLine, ColdStarts, SettingHistory
from calmday.records.setting import ColdStart

WEAK = (
    "Starter seconds are a weak sign: battery, oil, glow plugs, fuel and the thumb on the key move them as much as "
    "timing does. Nothing is concluded from them here."
)


def cold_starts(starts: Sequence[ColdStart], timing: SettingHistory | None) -> ColdStarts | None:
    """The starts with a line of ln(seconds) on temperature through them, intervals by Student's t; None for none.

    The interval of one more start holds the scatter of starts as well as the doubt of the line.
    """
    if not starts:
        return None
    ordered = sorted(starts, key=lambda start: start.date or dt.date.min)
    degrees = [start.temperature_k - ZERO_CELSIUS_K for start in ordered]
    logs = [math.log(start.time_s) for start in ordered]
    fit = fit_line(degrees, logs)
    lines = []
    for i, start in enumerate(ordered):
        others = fit_line(degrees[:i] + degrees[i + 1 :], logs[:i] + logs[i + 1 :])
        lines.append(
            ColdStartLine(
                date=start.date.isoformat() if start.date is not None else "",
                temperature=degrees[i],
                time=start.time_s,
                expected=one_more(others, degrees[i]) if others is not None else None,
                setting=_setting_at(timing, start.date),
            )
        )
    return ColdStarts(
        starts=tuple(lines),
        growth=_growth(fit) if fit is not None else None,
        at_freezing=one_more(fit, 0.0) if fit is not None else None,
        words=WEAK,
    )


def one_more(fit: LineFit, degrees: float) -> Figure:
    """Seconds of one more start at a temperature: 95 of 100 such starts fall inside, if nothing else changes."""
    value, doubt = fit.at(degrees)
    spread = math.hypot(doubt, fit.scatter)
    reach = fit.reach() * spread
    return Figure(math.exp(value), math.exp(value) * spread, math.exp(value - reach), math.exp(value + reach), "s")


def _growth(fit: LineFit) -> Figure:
    """Percent more seconds for each degree colder."""
    doubt = math.sqrt(fit.covariance[1][1])
    reach = fit.reach() * doubt

    def grown(slope: float) -> float:
        return 100 * math.expm1(-slope)

    value = grown(fit.slope)
    return Figure(value, (100 + value) * doubt, grown(fit.slope + reach), grown(fit.slope - reach), "%")


def _setting_at(timing: SettingHistory | None, date: dt.date | None) -> str:
    """What the timing stood at on that day."""
    if timing is None or date is None:
        return ""
    standing = ""
    for change in timing.changes:
        value = next((v for v in (change.tightened, change.set, change.found) if v is not None), None)
        if value is not None and change.date and change.date <= date.isoformat():
            standing = f"{value:g} {timing.unit}"
    return standing
