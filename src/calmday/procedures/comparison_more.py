"""What else a comparison is asked: other ways of counting, the smallest change it could have seen, odd runs."""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure
from calmday.metrology.noncentral_t import detectable_shift, power
from calmday.metrology.student import t_upper_tail
from calmday.metrology.two_samples import Difference, fieller_ratio, paired_t, pooled_t, reshuffled, welch_t
from calmday.procedures.comparison import (
    BELIEF_WORTH,
    Compared,
    effect_of,
    percent_of,
    usual_scatter,
)
from calmday.procedures.comparison_design import CHANGE, DRIFT, LEVEL, TEMPERATURE
from calmday.procedures.comparison_fit import NOTHING, Fit, ScatterBelief, fit_levels
from calmday.procedures.comparison_result import OtherMethod, Scatter, Story

FloatArray = NDArray[np.float64]

ODD_CHANCE = 0.01
"""A run is called odd where so far a residual would come by chance in one test of so many runs."""

MOST_RUNS = 200

AS_DRIVEN = "as driven"
"""Name of the story told by the raw figures."""


def stories_of(found: Compared) -> tuple[Story, ...]:
    """The change from the figures as driven with nothing taken off, on the calm day, and on the calm day over the same
    drive."""
    levels = found.levels
    told: list[Story] = []
    covariates = [name for name in (DRIFT, TEMPERATURE) if name in found.layout.names]
    if found.basis != "as driven" or covariates:
        told += _story(found, AS_DRIVEN, found.as_driven, raw=True)
    if levels is not None:
        told += _story(found, "calm day", levels.calm)
        if found.basis != "calm day":
            told += _story(found, "calm day, same drive", levels.level)
    name = {"calm day": "calm day, same drive"}.get(found.basis, found.basis)
    if found.basis == "as driven" and covariates:
        name = f"{' and '.join(covariates)} taken off"
    change = found.change()
    if change is not None:
        told.append(
            Story(name=name, change_percent=percent_of(change), probability_less_fuel=change.below(0.0), headline=True)
        )
    return tuple(told)


def _story(found: Compared, name: str, level: FloatArray, raw: bool = False) -> list[Story]:
    """The same columns fitted to other figures, by what the runs say alone where there are runs to spare.

    `raw`: without drift and temperature."""
    layout = found.layout
    if raw:
        kept = [i for i, column in enumerate(layout.names) if column not in (DRIFT, TEMPERATURE)]
        layout = msgspec.structs.replace(
            layout, names=tuple(layout.names[i] for i in kept), columns=layout.columns[:, kept]
        )
    n, p = layout.columns.shape
    alone = NOTHING if n > p else ScatterBelief(centre=usual_scatter("as driven", found.one_day), freedom=BELIEF_WORTH)
    fit = fit_levels(level, layout.columns, np.zeros((n, n)), alone)
    change = effect_of(fit, layout, CHANGE)
    if change is None:
        return []
    return [Story(name=name, change_percent=percent_of(change), probability_less_fuel=change.below(0.0))]


def other_methods(found: Compared) -> tuple[OtherMethod, ...]:
    """The headline's figures by text-book methods and by other beliefs about the scatter."""
    if found.change() is None:
        return ()
    n, p = found.layout.columns.shape
    told: list[OtherMethod] = []
    usual = usual_scatter(found.basis, found.one_day, found.levels)
    beliefs = (
        ("nothing believed of the scatter", "Only these runs say how much runs scatter.", NOTHING),
        (
            "usual scatter believed",
            f"{100 * usual:.2g} % is believed beforehand and counts like {BELIEF_WORTH:g} further runs.",
            ScatterBelief(centre=usual, freedom=BELIEF_WORTH),
        ),
        (
            "usual scatter taken as known",
            f"{100 * usual:.2g} %, as if known for sure.",
            ScatterBelief(centre=usual, freedom=math.inf),
        ),
    )
    for name, words, belief in beliefs:
        if belief == found.belief or (belief.freedom == 0 and n == p):
            continue
        change = effect_of(fit_levels(found.level, found.layout.columns, found.known, belief), found.layout, CHANGE)
        if change is not None:
            told.append(OtherMethod(name=name, words=words, change_percent=percent_of(change)))
    return (*told, *_text_book(found))


def _text_book(found: Compared) -> list[OtherMethod]:
    """Student's pooled t, Welch, pairs, Fieller on the levels alone, without drift and shared doubt; reshuffling."""
    before, after = found.level[~found.changed].tolist(), found.level[found.changed].tolist()
    told: list[OtherMethod] = []
    if found.layout.blocks:
        pairs = _pairs(found)
        if pairs is not None and len(pairs[0]) > 1:
            told.append(
                _as_method(
                    "pairs", "Each pair's own difference; what changes between pairs falls out.", paired_t(*pairs)
                )
            )
    elif len(before) + len(after) > 2:
        told.append(
            _as_method("Student's t, pooled", "Both groups scatter alike; no drift taken off.", pooled_t(before, after))
        )
        if min(len(before), len(after)) > 1:
            told.append(
                _as_method("Welch", "Each group has its own scatter; no drift taken off.", welch_t(before, after))
            )
        ratio, low, high = fieller_ratio(np.exp(before).tolist(), np.exp(after).tolist())
        if math.isfinite(low) and math.isfinite(high):
            spread = 100 * (high - low) / 4
            told.append(
                OtherMethod(
                    name="Fieller, ratio of the means",
                    words="The means themselves instead of their logarithms.",
                    change_percent=Figure(100 * (ratio - 1), spread, 100 * (low - 1), 100 * (high - 1), "%"),
                )
            )
    if min(len(before), len(after)) > 1:
        blocks = [entry.block for entry in found.entries] if found.layout.blocks else None
        chance, ways = reshuffled(_without_drift(found).tolist(), found.changed.tolist(), blocks)
        told.append(
            OtherMethod(
                name="reshuffling",
                words=f"Labels dealt anew in all {ways} ways: how often the groups differ at least as much.",
                probability=chance,
            )
        )
    return told


def _without_drift(found: Compared) -> FloatArray:
    """Levels with everything taken off but the change and the level."""
    estimate = found.fit.gain @ found.level
    kept = np.array([name in (CHANGE, LEVEL) or name.startswith("block ") for name in found.layout.names])
    return np.asarray(found.level - found.layout.columns[:, ~kept] @ estimate[~kept])


def _pairs(found: Compared) -> tuple[list[float], list[float]] | None:
    """Means of both groups in each block, in the order of the blocks."""
    before, after = [], []
    for block in dict.fromkeys(entry.block for entry in found.entries):
        inside = np.array([entry.block == block for entry in found.entries])
        before.append(float(found.level[inside & ~found.changed].mean()))
        after.append(float(found.level[inside & found.changed].mean()))
    return before, after


def _as_method(name: str, words: str, of: Difference) -> OtherMethod:
    figure = Figure(
        100 * math.expm1(of.estimate),
        100 * of.standard_error,
        100 * math.expm1(of.low),
        100 * math.expm1(of.high),
        "%",
    )
    return OtherMethod(name=name, words=words, change_percent=figure, probability=of.probability)


def standard_error(found: Compared) -> tuple[float, float]:
    """Standard error of ln(change) at the typical scatter, and its degrees of freedom (Welch and Satterthwaite: the
    known part has infinitely many)."""
    gain = found.fit.gain[found.layout.names.index(CHANGE)]
    scatter = found.fit.typical_scatter**2 * float(gain @ gain)
    total = scatter + float(gain @ found.known @ gain)
    worth = found.fit.freedom + found.belief.freedom
    freedom = worth * (total / scatter) ** 2 if scatter > 0 else math.inf
    return math.sqrt(total), freedom


def smallest_detectable(found: Compared) -> float | None:
    """True change in percent that such a test sees four times in five, at 5 % false alarms."""
    if found.change() is None:
        return None
    error, freedom = standard_error(found)
    return 100 * math.expm1(detectable_shift(freedom) * error)


def runs_needed(found: Compared, aim: float) -> int | None:
    """Further runs, both groups together, until a true change of `aim` (fraction) is seen four times in five: the doubt
    is taken to shrink with the root of the number of runs. None: more than MOST_RUNS."""
    if found.change() is None:
        return None
    error, freedom = standard_error(found)
    before, after = int((~found.changed).sum()), int(found.changed.sum())
    each = 2 / (1 / before + 1 / after)
    spare = found.fit.freedom + found.belief.freedom
    aimed = math.log1p(aim)
    for more in range(0, MOST_RUNS + 1, 2):
        larger = 2 / (1 / (before + more / 2) + 1 / (after + more / 2))
        grown = math.inf if math.isinf(freedom) else freedom * (spare + more) / spare
        if power(aimed / (error * math.sqrt(each / larger)), grown) >= 0.8:
            return more
    return None


def odd_runs(found: Compared) -> tuple[bool, ...]:
    """Runs far from where the others put them: studentised by the scatter found without them, at ODD_CHANCE over all.

    Deleted residual t_i = e_i sqrt((v - 1) / (v - e_i^2)), e_i the residual over its own standard error, v degrees of
    freedom. Cook and Weisberg, Residuals and Influence in Regression (1982; from memory).
    """
    n, p = found.layout.columns.shape
    spare = n - p
    if spare < 2:
        return tuple(False for _ in found.entries)
    covariance = found.known + found.fit.typical_scatter**2 * np.eye(n)
    left = np.eye(n) - found.layout.columns @ found.fit.gain
    own = np.sqrt(np.maximum(np.diag(left @ covariance @ left.T), 1e-300))
    standard = [float(value) for value in np.abs(found.fit.residual) / own]
    return tuple(_chance_of_residual(value, spare, found.belief) * n < ODD_CHANCE for value in standard)


def _chance_of_residual(standard: float, spare: int, belief: ScatterBelief) -> float:
    """Chance of a standardised residual at least so large; deleted first where only the runs say how they scatter."""
    if belief.freedom:
        return 2 * t_upper_tail(standard, spare + belief.freedom)
    inside = (spare - standard * standard) / (spare - 1)
    return 2 * t_upper_tail(standard / math.sqrt(inside), spare - 1) if inside > 0 else 0.0


def scatter_of(found: Compared) -> Scatter:
    """The run-to-run scatter, and whether what was believed of it matters."""
    fit = found.fit
    figure = Figure(
        100 * fit.scatter_quantile(0.5),
        100 * (fit.scatter_quantile(0.84) - fit.scatter_quantile(0.16)) / 2,
        100 * fit.scatter_quantile(0.025),
        100 * fit.scatter_quantile(0.975),
        "%",
    )
    belief = found.belief
    return Scatter(
        found=figure,
        assumed=100 * belief.centre if belief.freedom else None,
        worth=None if math.isinf(belief.freedom) else belief.freedom,
        own_freedom=fit.freedom,
        matters=_belief_matters(found, fit),
        words=_scatter_words(belief, fit.freedom),
    )


def _belief_matters(found: Compared, fit: Fit) -> bool:
    """Whether without the belief the verdict is another or the interval wider by more than a third."""
    change = found.change()
    if found.belief.freedom == 0 or change is None:
        return False
    if fit.freedom < 1:
        return True
    alone = effect_of(fit_levels(found.level, found.layout.columns, found.known, NOTHING), found.layout, CHANGE)
    if alone is None:
        return True
    with_it, without = percent_of(change), percent_of(alone)
    seen = [figure.low > 0 or figure.high < 0 for figure in (with_it, without)]
    return seen[0] != seen[1] or without.half_width > 4 / 3 * with_it.half_width


def _scatter_words(belief: ScatterBelief, freedom: int) -> str:
    if belief.freedom == 0:
        return (
            f"Found from these runs alone, {freedom} more than it takes to fit them; nothing was believed beforehand."
        )
    if math.isinf(belief.freedom):
        return f"Taken as known: {100 * belief.centre:g} %, as declared."
    spare = (
        f"these runs are {freedom} more than it takes to fit them"
        if freedom
        else "these runs are no more than it takes to fit them"
    )
    believed = f"{100 * belief.centre:.2g} % is believed beforehand"
    return f"{believed} and counts like {belief.freedom:g} further runs; {spare}."
