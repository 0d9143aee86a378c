"""The runs of a comparison one by one: as driven, on the calm day, on the level all are compared on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact, from_draws
from calmday.metrology.rounding import common_decimals
from calmday.procedures.comparison import Compared
from calmday.procedures.comparison_design import CHANGE, LEVEL
from calmday.procedures.comparison_result import ComparedRun
from calmday.procedures.flag import Flag
from calmday.procedures.run_flags import flags_of_run
from calmday.procedures.weighed_run import FEWEST_DRAWS, reduce_weighed_run
from calmday.records.comparison import Comparison, Entry


def grams(log_level: Figure) -> Figure:
    """A level, ln(kg/m), in g/km."""
    value = 1e6 * math.exp(log_level.value)
    return Figure(
        value,
        value * min(log_level.standard_uncertainty, 1e3),
        1e6 * math.exp(max(log_level.low, -700.0)),
        1e6 * math.exp(min(log_level.high, 690.0)),
        "g/km",
    )


def compared_runs(found: Compared, odd: Sequence[bool], names: tuple[str, str]) -> tuple[ComparedRun, ...]:
    """Every run of a comparison in the order given, those left out too. `names` of the two groups."""
    counted = {id(entry): i for i, entry in enumerate(found.entries)}
    off = off_group_percent(found)
    return tuple(
        _run(found, entry, number, counted.get(id(entry)), odd, off, names[entry.changed])
        for number, entry in enumerate(found.asked.entries, 1)
    )


def off_group_percent(found: Compared) -> NDArray[np.float64]:
    """How far each run lies from the mean of its group, in percent of that mean, once everything fitted but the change
    is taken off. Where no change was fitted (a setting, several changes) all runs are one group. (n,)."""
    estimate = found.fit.gain @ found.level
    taken_off = np.array([name not in (CHANGE, LEVEL) for name in found.layout.names])
    fuel = np.exp(found.level - found.layout.columns[:, taken_off] @ estimate[taken_off])
    split = CHANGE in found.layout.names
    groups = [found.changed, ~found.changed] if split else [np.ones(len(fuel), dtype=bool)]
    off = np.zeros(len(fuel))
    for group in groups:
        off[group] = 100 * (fuel[group] / fuel[group].mean() - 1)
    return off


def _run(
    found: Compared,
    entry: Entry,
    number: int,
    place: int | None,
    odd: Sequence[bool],
    off_group: NDArray[np.float64],
    group: str,
) -> ComparedRun:
    asked = found.asked
    date = entry.run.date if entry.run is not None else None
    common: dict[str, Any] = {
        "number": number,
        "label": entry.label,
        "group": group,
        "fitted": entry.with_ if asked.factors else (),
        "order": entry.order,
        "date": date.isoformat() if date is not None else "",
        "block": entry.block,
        "setting": setting_words(entry, asked),
        "left_out_because": entry.left_out,
        "known_before_weighing": entry.known_before,
        "file": entry.file,
    }
    if place is None:
        driven = _left_out_figure(entry)
        return ComparedRun(
            **common, temperature_C=None, as_driven=driven, calm_day=None, level=None,
            correction_percent=None, residual_percent=None, used=False,
        )  # fmt: skip
    run = found.runs[place]
    driven = exact(1e6 * math.exp(found.as_driven[place]), "g/km") if run is None else run.as_driven.g_per_km
    levels = found.levels
    level = correction = None
    if levels is not None:
        own = math.sqrt(float(levels.shared[place, place]))
        level = grams(
            Figure(levels.level[place], own, levels.level[place] - 1.96 * own, levels.level[place] + 1.96 * own, "")
        )
        moved = levels.level[place] - levels.as_driven[place]
        measured = sum(levels.parts[name][place, place] for name in ("weighing", "fuel system", "distance"))
        doubt = math.sqrt(max(own**2 - float(measured), 0.0))
        correction = _percent_of_normal(float(moved), doubt)
    return ComparedRun(
        **common,
        temperature_C=found.temperatures_c[place],
        as_driven=driven,
        calm_day=run.calm_day.g_per_km if run is not None and run.calm_day is not None else None,
        level=level,
        correction_percent=correction,
        residual_percent=100 * math.expm1(float(found.fit.own[place])),
        off_group_percent=float(off_group[place]),
        odd=odd[place],
        used=True,
    )


def setting_words(entry: Entry, asked: Comparison) -> str:
    """The setting of a run with its unit, with as many decimals as any of them needs."""
    if entry.setting is None:
        return ""
    places = common_decimals(each.setting for each in asked.entries if each.setting is not None)
    return f"{entry.setting:.{places}f} {asked.setting_unit}"


def _percent_of_normal(log_value: float, sd: float) -> Figure:
    """A correction in the logarithm, normal there, in percent."""
    value = math.exp(log_value)
    return Figure(
        100 * (value - 1),
        100 * value * sd,
        100 * math.expm1(log_value - 1.96 * sd),
        100 * math.expm1(log_value + 1.96 * sd),
        "%",
    )


def _left_out_figure(entry: Entry) -> Figure:
    """As driven of a run that does not count, so that anybody can see what was left out."""
    if entry.run is None:
        return exact(1e3 * (entry.fuel_kg or math.nan) / ((entry.distance_m or math.nan) / 1e3), "g/km")
    reduced = reduce_weighed_run(entry.run, FEWEST_DRAWS)
    return from_draws(reduced.draws.as_driven_kgpm * 1e6, "g/km")


def run_stops(found: Compared) -> tuple[Flag, ...]:
    """What stops a single run stops the comparison: each told once, with the run's name."""
    told = []
    for entry, run in zip(found.entries, found.runs, strict=True):
        if run is None:
            continue
        for flag in flags_of_run(run):
            if flag.severity == "stop":
                saw = f"{entry.label}: {flag.saw}"
                told.append(
                    Flag(
                        code=flag.code, severity="stop", message=f"{saw} {flag.why} {flag.remedy}", saw=saw,
                        why=flag.why, remedy=flag.remedy,
                    )
                )  # fmt: skip
    return tuple(told)
