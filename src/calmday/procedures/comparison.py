"""Did it make a difference? Runs before and after a change brought to one level, and their difference with its doubt.

1. Reduce every run; where all could be simulated, bring them to the calm day over one drive (`comparison_levels`).
2. Lay out the columns: change, pairs or blocks, drift in the order driven, temperature (`comparison_design`).
3. Fit them with the doubt that the runs share, the scatter unknown (`comparison_fit`).
4. The change is e^b - 1 in percent of the baseline's fuel per distance.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure
from calmday.metrology.normal_mixture import NormalMixture
from calmday.procedures.comparison_design import CHANGE, Layout, lay_out, two_groups
from calmday.procedures.comparison_fit import NOTHING, Fit, ScatterBelief, fit_levels
from calmday.procedures.comparison_levels import Levels, levels_on_calm_day
from calmday.procedures.weighed_run import WeighedRun, reduce_weighed_run
from calmday.records.comparison import Comparison, Entry

FloatArray = NDArray[np.float64]

USUAL_SCATTER, USUAL_SCATTER_OVER_DAYS = 0.015, 0.04
"""Run-to-run scatter of a lone vehicle as driven, on one day and from day to day; common practice, no source. With the
day taken off it is `usual_scatter`."""

ALIKE_SCATTER: Final = 0.0065
"""Scatter of runs driven quite alike, the day taken off; `Levels.unlike` adds to it. SAE J1321 has 1 % with a control
vehicle; of 100 sets of invented drives (`studies/comparisons.py`) the fifth driven most alike scattered by less than
0.5 % beyond what is known, the fifth least alike by 1.8 %, and those of other authors (`studies/against_outsiders.py`)
by less than was believed."""

BELIEF_WORTH = 3.0
"""What the usual scatter counts for, in degrees of freedom: half of all tests scatter between 0.75 and 1.6 times it."""

ENOUGH_OF_THEIR_OWN = 2
"""Runs to spare from which runs as driven speak for their scatter alone; below, the usual scatter is believed too."""

COMPARE_DRAWS = 500

Basis = Literal["calm day", "as driven", "over the control vehicle"]


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """A comparison worked out: what the result sheet is read off.

    `entries` and `runs` those that count, in the order given; `runs[i]` None where only fuel and distance were noted.
    `level` (n,) what was fitted; `known` (n, n) its known covariance.
    """

    asked: Comparison
    entries: tuple[Entry, ...]
    runs: tuple[WeighedRun | None, ...]
    basis: Basis
    levels: Levels | None
    as_driven: FloatArray
    level: FloatArray
    known: FloatArray
    layout: Layout
    belief: ScatterBelief
    fit: Fit
    temperatures_c: tuple[float | None, ...]
    days: tuple[dt.date | None, ...]

    @property
    def changed(self) -> NDArray[np.bool_]:
        """Which runs were made after the change."""
        return np.array([entry.changed for entry in self.entries])

    def change(self) -> NormalMixture | None:
        """The distribution of ln(changed / baseline); None where it cannot be had."""
        return effect_of(self.fit, self.layout, CHANGE)

    @property
    def one_day(self) -> bool:
        """Whether all runs may have been driven on one day: nobody says otherwise."""
        return len({day for day in self.days if day is not None}) <= 1


def effect_of(fit: Fit, layout: Layout, name: str) -> NormalMixture | None:
    """The distribution of one column's coefficient; None where it was left out."""
    return fit.along(layout.direction(name)) if name in layout.names else None


def percent_of(change: NormalMixture) -> Figure:
    """A change in the logarithm as a percentage, its bounds carried over one to one."""
    own = change.figure("")
    value = 100 * math.expm1(own.value)
    spread = 100 * math.exp(own.value) * min(own.standard_uncertainty, 1e3)
    return Figure(value, spread, 100 * math.expm1(own.low), 100 * math.expm1(min(own.high, 700.0)), "%")


def compare(asked: Comparison, draws: int, seed: int, compiled: bool = False) -> Compared:
    """Work a comparison out. Raises ValueError where there is not one run in each group that counts."""
    entries = tuple(entry for entry in asked.entries if not entry.left_out)
    arms = {entry.changed for entry in entries}
    if not entries or (len(arms) < 2 and two_groups(asked)):
        raise ValueError("each group needs a run that counts")
    runs = tuple(
        None if entry.run is None else reduce_weighed_run(entry.run, draws, seed, compiled) for entry in entries
    )
    as_driven = np.array([_log_as_driven(entry, run) for entry, run in zip(entries, runs, strict=True)])
    temperatures = tuple(_temperature_c(entry, run) for entry, run in zip(entries, runs, strict=True))
    days = tuple(entry.run.date if entry.run is not None else None for entry in entries)
    one_day = len({day for day in days if day is not None}) <= 1
    basis, levels, level, known = _level(asked, entries, runs, as_driven, days)
    layout = lay_out(asked, entries, temperatures, one_day, basis != "as driven")
    belief = belief_for(asked, basis, len(entries) - len(layout.names), one_day, levels)
    return Compared(
        asked=asked,
        entries=entries,
        runs=runs,
        basis=basis,
        levels=levels,
        as_driven=as_driven,
        level=level,
        known=known,
        layout=layout,
        belief=belief,
        fit=fit_levels(level, layout.columns, known, belief),
        temperatures_c=temperatures,
        days=days,
    )


def _level(
    asked: Comparison,
    entries: Sequence[Entry],
    runs: Sequence[WeighedRun | None],
    as_driven: FloatArray,
    days: Sequence[dt.date | None],
) -> tuple[Basis, Levels | None, FloatArray, FloatArray]:
    """What is compared, and its known covariance: over the control vehicle, on the calm day, or as driven."""
    nothing = np.zeros((len(entries), len(entries)))
    whole = [run for run in runs if run is not None and run.simulated is not None]
    levels = None
    if asked.correct_for_weather and len(whole) == len(entries):
        marks = [str(day) if day is not None else f"run {i}" for i, day in enumerate(days)]
        levels = levels_on_calm_day(whole, marks)
    controls = [entry.control_kgpm for entry in entries]
    if all(control is not None for control in controls):
        against = np.log(np.array([control or math.nan for control in controls]))
        return "over the control vehicle", levels, as_driven - against, nothing
    if levels is not None:
        return "calm day", levels, levels.level, levels.shared
    return "as driven", None, as_driven, nothing


def usual_scatter(basis: Basis, one_day: bool, levels: Levels | None = None) -> float:
    """What runs usually scatter: more from day to day where the day is not taken off; where it is, the less the more
    alike the runs were driven (standard deviation of what their ways of driving cost)."""
    if basis == "calm day" and levels is not None:
        unlike = float(np.std(levels.unlike, ddof=1)) if levels.unlike.size > 1 else 0.0
        return math.hypot(ALIKE_SCATTER, unlike)
    return USUAL_SCATTER if one_day or basis != "as driven" else USUAL_SCATTER_OVER_DAYS


def belief_for(
    asked: Comparison, basis: Basis, spare: int, one_day: bool, levels: Levels | None = None
) -> ScatterBelief:
    """What is believed of the scatter beforehand: as known, as declared, as usual, or nothing."""
    if asked.run_scatter is not None:
        return ScatterBelief(centre=asked.run_scatter, freedom=math.inf)
    usual = usual_scatter(basis, one_day, levels)
    believed = ScatterBelief(centre=asked.scatter_belief or usual, freedom=BELIEF_WORTH)
    if basis == "calm day" or asked.scatter_belief is not None:
        return believed
    return NOTHING if spare >= ENOUGH_OF_THEIR_OWN else believed


def _log_as_driven(entry: Entry, run: WeighedRun | None) -> float:
    if run is not None:
        metres, fuel = run.path.distance.metres, run.fuel.mass_kg
    else:
        metres, fuel = entry.distance_m or math.nan, entry.fuel_kg or math.nan
    if not (fuel > 0 and metres > 0):
        raise ValueError(f"{entry.label}: no fuel burnt, or no distance")
    return math.log(fuel / metres)


def _temperature_c(entry: Entry, run: WeighedRun | None) -> float | None:
    if entry.temperature_k is not None:
        return entry.temperature_k - 273.15
    if run is None or not any(r.temperature_k is not None for r in run.run.weather.readings):
        return None
    return float(np.mean(run.path.weather.temperature_k)) - 273.15
