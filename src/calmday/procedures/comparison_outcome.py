"""From a comparison worked out to the result that is printed."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact
from calmday.procedures.comparison import Compared, effect_of, percent_of
from calmday.procedures.comparison_design import (
    CHANGE,
    DRIFT,
    LEVEL,
    TEMPERATURE,
    has_blocks,
    interleaved,
    order_in_letters,
    order_of_settings,
    two_groups,
)
from calmday.procedures.comparison_facts import change_facts, facts_of
from calmday.procedures.comparison_fit import fit_levels
from calmday.procedures.comparison_more import (
    AS_DRIVEN,
    odd_runs,
    other_methods,
    runs_needed,
    scatter_of,
    smallest_detectable,
    stories_of,
)
from calmday.procedures.comparison_names import names_of
from calmday.procedures.comparison_result import (
    Chance,
    ComparisonResult,
    Correction,
    Design,
    Effect,
    Story,
    Sweep,
    Verdict,
)
from calmday.procedures.comparison_runs import compared_runs, grams, run_stops
from calmday.procedures.comparison_sweep import FEWEST_RUNS, fit_sweep
from calmday.procedures.guard_claims import claim_flags
from calmday.procedures.guard_rules import flags_of
from calmday.procedures.weighed_run_result import BudgetLine, Provenance
from calmday.records.comparison import Comparison

FloatArray = NDArray[np.float64]

STEPS_PERCENT = (1.0, 2.0, 3.0, 5.0)
USUAL_AIM = 0.03
HOPELESS_PERCENT = 10.0
"""A change that could still be so large either way has not been tested."""

_GROUPS = {
    "wind": ("wind at the vehicle", "gusts", "drag in side wind"),
    "air_density": ("air density",),
    "cold_engine": ("cold engine",),
    "cold_tyres": ("cold tyres",),
}
_WORDS = {
    "wind": "wind",
    "air_density": "air density",
    "cold_engine": "cold engine",
    "cold_tyres": "cold tyres",
}


def result_of_comparison(found: Compared, made_by: Provenance) -> ComparisonResult:
    """Every figure of a comparison; the sentence is left to the words layer."""
    asked = found.asked
    change = found.change() if not asked.setting_unit else None
    figure = percent_of(change) if change is not None else None
    stories = stories_of(found) if change is not None else ()
    sweep, notes = _sweep(found)
    detectable = smallest_detectable(found) if change is not None else None
    aim = asked.smallest_change or USUAL_AIM
    odd = odd_runs(found)
    scatter = scatter_of(found)
    corrections = _corrections(found) if change is not None else ()
    moved = _moved(stories)
    design = _design(found)
    names = names_of(asked, found.entries)
    facts = facts_of(
        found,
        **change_facts(figure),
        **change_facts(
            next((s.change_percent for s in stories if s.name == AS_DRIVEN and not s.headline), None), "raw_"
        ),
        detectable=detectable,
        correction=moved,
        driving=_driving(found),
        odd=tuple(e.label for e, is_odd in zip(found.entries, odd, strict=True) if is_odd),
        odd_baseline_decides=_odd_baseline_decides(found, odd, figure),
        scatter_matters=scatter.matters,
        scatter_worth_words=scatter.words,
        seal_fits=design.digest_fits,
    )
    flags = (*flags_of(facts), *run_stops(found), *(f for claim in asked.claims for f in claim_flags(claim.text)))
    verdict = _verdict(figure, asked.smallest_change, any(f.severity == "stop" for f in flags))
    groups = _group_levels(found) if change is not None else (None, None)
    litres = tuple(_per_100km(found, group) for group in groups)
    return ComparisonResult(
        label=asked.label,
        question=asked.question,
        baseline=names[0],
        changed=names[1],
        vehicle=next((run.run.vehicle.name for run in found.runs if run is not None), ""),
        sentence="",
        verdict=verdict,
        verdict_words="",
        basis=found.basis,
        change_percent=figure,
        mpg_change_percent=_turned(figure),
        probability_less_fuel=change.below(0.0) if change is not None else None,
        chances=tuple(
            Chance(
                percent=step,
                less=change.below(math.log1p(-step / 100)),
                more=1 - change.below(math.log1p(step / 100)),
            )
            for step in _steps(asked)
        )
        if change is not None
        else (),
        smallest_detectable_percent=detectable,
        runs_needed=runs_needed(found, aim) if change is not None else None,
        aim_percent=100 * aim if change is not None else None,
        baseline_g_per_km=groups[0],
        changed_g_per_km=groups[1],
        baseline_L_per_100km=litres[0],
        changed_L_per_100km=litres[1],
        stories=stories,
        other_methods=other_methods(found) if change is not None else (),
        scatter=None if asked.setting_unit else scatter,
        drift_percent_per_run=_covariate(found, DRIFT),
        temperature_percent_per_K=_covariate(found, TEMPERATURE),
        corrections=corrections,
        budget=_budget(found) if change is not None else (),
        effects=_effects(found),
        sweep=sweep,
        design=design,
        runs=compared_runs(found, odd, names),
        flags=flags,
        notes=(*notes, *_why_as_driven(found)),
        provenance=made_by,
    )


def _why_as_driven(found: Compared) -> tuple[str, ...]:
    """Why the weather was not taken off, where somebody might expect it to be."""
    if found.basis != "as driven":
        return ()
    if not found.asked.correct_for_weather:
        return ("Compared as driven, as asked.",)
    without = [
        entry.label
        for entry, run in zip(found.entries, found.runs, strict=True)
        if run is None or run.simulated is None
    ]
    return (f"Compared as driven: no drive can be modelled for {', '.join(without)} (track, or distance and time).",)


def _steps(asked: Comparison) -> tuple[float, ...]:
    own = () if asked.smallest_change is None else (100 * asked.smallest_change,)
    return tuple(sorted({*STEPS_PERCENT, *own}))


def _turned(figure: Figure | None) -> Figure | None:
    """Fuel per distance as distance per fuel: -17.4 % is +21.1 %."""
    if figure is None:
        return None

    def turn(percent: float) -> float:
        return 100 * (100 / (100 + percent) - 1)

    slope = 100 * 100 / (100 + figure.value) ** 2
    return Figure(
        turn(figure.value), slope * figure.standard_uncertainty, turn(figure.high), turn(figure.low), figure.unit
    )


def _verdict(figure: Figure | None, matters: float | None, stopped: bool) -> Verdict:
    if figure is None or stopped:
        return "cannot tell"
    if matters is not None and max(abs(figure.low), abs(figure.high)) < 100 * matters:
        return "too small to matter"
    if figure.high < 0:
        return "less fuel"
    if figure.low > 0:
        return "more fuel"
    return "cannot tell" if max(abs(figure.low), abs(figure.high)) > HOPELESS_PERCENT else "no difference seen"


def _moved(stories: Sequence[Story]) -> float | None:
    """How far the corrections moved the difference, in percent."""
    raw = next((s.change_percent.value for s in stories if s.name == AS_DRIVEN and not s.headline), None)
    head = next((s.change_percent.value for s in stories if s.headline), None)
    return None if raw is None or head is None else head - raw


def _driving(found: Compared) -> float | None:
    if found.levels is None:
        return None
    by = found.levels.driving_percent
    return float(by[found.changed].mean() - by[~found.changed].mean()) if found.changed.any() else None


def _covariate(found: Compared, name: str) -> Figure | None:
    effect = effect_of(found.fit, found.layout, name)
    return None if effect is None else percent_of(effect)


def _effects(found: Compared) -> tuple[Effect, ...]:
    if not found.asked.factors:
        return ()
    told = []
    for factor in found.asked.factors:
        effect = effect_of(found.fit, found.layout, factor)
        tied = found.layout.tied.get(factor, ())
        tied = tied or tuple(name for name, others in found.layout.tied.items() if factor in others)
        told.append(
            Effect(
                name=factor,
                change_percent=percent_of(effect) if effect is not None else None,
                probability_less_fuel=effect.below(0.0) if effect is not None else None,
                tied_to=tied,
            )
        )
    return tuple(told)


def _sweep(found: Compared) -> tuple[Sweep | None, tuple[str, ...]]:
    if not found.asked.setting_unit:
        return None, ()
    settings = [entry.setting for entry in found.entries]
    if any(setting is None for setting in settings) or len(settings) < FEWEST_RUNS:
        return None, (f"A best setting needs at least {FEWEST_RUNS} runs, each with its setting.",)
    kept = [i for i, name in enumerate(found.layout.names) if name in (DRIFT, TEMPERATURE)]
    beside = found.layout.columns[:, kept]
    try:
        return fit_sweep([s or 0.0 for s in settings], found.level, beside, found.asked.setting_unit), ()
    except ValueError:
        return None, ("A best setting needs at least three settings and a run to spare.",)


def _group_levels(found: Compared) -> tuple[Figure | None, Figure | None]:
    """Both groups in g/km, at the middle of what was taken off."""
    names = found.layout.names
    if found.basis == "over the control vehicle":
        return None, None
    start = np.zeros(len(names))
    start[names.index(LEVEL)] = 1.0
    blocks = [i for i, name in enumerate(names) if name.startswith("block ")]
    start[blocks] = 1 / (len(blocks) + 1)
    end = start + found.layout.direction(CHANGE)
    return tuple(grams(found.fit.along(direction).figure("")) for direction in (start, end))  # type: ignore[return-value]


def _per_100km(found: Compared, group: Figure | None) -> Figure | None:
    """Litres at 15 degC per 100 km by the mean density of the runs; None without run files."""
    densities = [run.fuel.density_15_kgpm3 for run in found.runs if run is not None]
    if group is None or len(densities) < len(found.runs):
        return None
    return group.scaled(100 / float(np.mean(densities)), "L/100km")


def _corrections(found: Compared) -> tuple[Correction, ...]:
    levels = found.levels
    if levels is None:
        return ()
    changed = found.changed
    weights = np.where(changed, 1 / changed.sum(), -1 / (~changed).sum())
    told = []
    for name, groups in _GROUPS.items():
        per_run = np.array(
            [float(np.mean(run.simulated.penalties[name])) for run in found.runs if run and run.simulated]
        )
        part = sum(levels.parts.get(group, np.zeros((len(weights), len(weights)))) for group in groups)
        told.append(_correction(_WORDS[name], per_run, changed, weights, np.asarray(part)))
    told.append(_correction("way of driving", levels.driving_percent, changed, weights, levels.parts["way of driving"]))
    return tuple(told)


def _correction(
    name: str, per_run: FloatArray, changed: NDArray[np.bool_], weights: FloatArray, part: FloatArray
) -> Correction:
    sd = 100 * math.sqrt(max(float(weights @ part @ weights), 0.0))
    value = float(weights @ per_run)
    return Correction(
        of=name,
        baseline_percent=float(per_run[~changed].mean()),
        changed_percent=float(per_run[changed].mean()),
        difference_percent=Figure(value, sd, value - 1.96 * sd, value + 1.96 * sd, "%"),
    )


def _budget(found: Compared) -> tuple[BudgetLine, ...]:
    """Where the doubt of the change comes from, at the typical scatter."""
    gain = found.fit.gain[found.layout.names.index(CHANGE)]
    parts = {"run-to-run scatter": found.fit.typical_scatter**2 * float(gain @ gain)}
    if found.basis == "calm day" and found.levels is not None:
        parts |= {name: float(gain @ part @ gain) for name, part in found.levels.parts.items()}
    total = sum(parts.values())
    lines = [
        BudgetLine(source=name, contribution=exact(100 * math.sqrt(max(v, 0.0)), "%"), share=max(v, 0.0) / total)
        for name, v in parts.items()
        if total > 0
    ]
    return tuple(sorted(lines, key=lambda line: -line.share))


def _odd_baseline_decides(found: Compared, odd: Sequence[bool], figure: Figure | None) -> bool:
    """Whether an odd baseline run alone makes the difference: without it the change is not seen."""
    if figure is None or not (figure.low > 0 or figure.high < 0):
        return False
    which = [i for i, entry in enumerate(found.entries) if odd[i] and not entry.changed]
    if not which or len(which) >= int((~found.changed).sum()):
        return False
    keep = [i for i in range(len(found.entries)) if i not in which]
    columns = found.layout.columns[keep]
    try:
        fit = fit_levels(found.level[keep], columns, found.known[np.ix_(keep, keep)], found.belief)
    except ValueError:
        return True
    without = percent_of(fit.along(found.layout.direction(CHANGE)))
    return not (without.low > 0 or without.high < 0)


def _design(found: Compared) -> Design:
    asked = found.asked
    grouped = two_groups(asked)
    letters = order_in_letters(found.entries) if grouped else order_of_settings(found.entries, asked.setting_unit)
    seal = hashlib.sha256(asked.seal.encode()).hexdigest() if asked.seal else ""
    return Design(
        baseline_runs=int((~found.changed).sum()),
        changed_runs=int(found.changed.sum()),
        left_out=sum(bool(entry.left_out) for entry in asked.entries),
        planned=asked.planned_runs,
        days=len({day for day in found.days if day is not None}) or None,
        order=letters,
        interleaved=interleaved(found.entries) if grouped else None,
        pairs=len({entry.block for entry in found.entries}) if has_blocks(found.entries) else 0,
        blind=asked.blind,
        digest=asked.sealed_order,
        digest_fits=seal == asked.sealed_order.lower() if asked.sealed_order and seal else None,
        gadgets_tried=asked.of_several,
        smallest_change_percent=None if asked.smallest_change is None else 100 * asked.smallest_change,
    )
