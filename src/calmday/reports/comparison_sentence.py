"""A comparison in one sentence: what can be said out loud, and no more."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width, listed
from calmday.procedures.comparison_names import AFTER
from calmday.reports.words import clean, is_known, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.comparison_result import ComparisonResult, Effect, Sweep, SweepPoint

PROVEN, LIKELY = 0.05, 0.15
NO_BEST_YET = "A best setting needs"
"""How a note begins that says what a setting still wants."""
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def places(figure: Figure) -> int:
    """Decimal places a change deserves: at most one, none where it is known to whole per cents only."""
    half = figure.half_width
    return max(0, min(1, decimals_for_half_width(half))) if half > 0 else 1


def span(figure: Figure) -> str:
    """The two ends of a change in plain words: `from 2.7 to 5.5 % less`, `from 3.4 % less to 1.9 % more`."""
    at = places(figure)
    low, high = number(abs(figure.low), at), number(abs(figure.high), at)
    if figure.high <= 0:
        return f"from {high} to {low} % less"
    if figure.low >= 0:
        return f"from {low} to {high} % more"
    return f"from {low} % less to {high} % more"


def way(value: float) -> str:
    """`less fuel` or `more fuel`."""
    return "less fuel" if value < 0 else "more fuel"


def count_word(count: int) -> str:
    """A small number spelt out."""
    return _COUNTS[count] if count < len(_COUNTS) else str(count)


def same_to_us(sweep: Sweep, point: SweepPoint) -> str:
    """Whether a setting lies in the band that is the same to us, or at least cannot be told from the best."""
    if sweep.equal_from <= point.setting <= sweep.equal_to:
        return "yes"
    return "cannot tell" if point.equal else "no"


def runs_words(result: ComparisonResult) -> str:
    """How many runs, in which order: `Eight runs, alternating.`"""
    design = result.design
    total = design.baseline_runs + design.changed_runs
    said = f"{count_word(total).capitalize()} run{'s' if total != 1 else ''}"
    if design.pairs > 1:
        said += f" in {count_word(design.pairs)} pairs"
    elif design.interleaved:
        said += ", alternating"
    elif design.interleaved is False:
        said += ", not alternating"
    if design.days is not None and design.days > 1:
        said += f", on {count_word(design.days)} days"
    return f"{said}."


def comparison_headline(result: ComparisonResult) -> str:
    """The sentence of a comparison.

    >>> comparison_headline(result)  # doctest: +SKIP
    '4.1 % less fuel with 2.8 bar, somewhere from 2.7 to 5.5 % less. Eight runs, alternating.'
    """
    if any(flag.severity == "stop" for flag in result.flags):
        return "This comparison must not be used: see what stops it."
    if result.sweep is not None:
        return f"{_sweep(result.sweep)} {runs_words(result)}"
    if result.effects:
        return f"{_effects(result.effects)} {runs_words(result)}"
    if result.change_percent is None:
        missing = next((note for note in result.notes if note.startswith(NO_BEST_YET)), "")
        return f"Nothing can be compared yet. {missing}".strip()
    return f"{result.verdict_words} {runs_words(result)}"


def is_named(result: ComparisonResult) -> bool:
    """Whether there is more to call the runs after the change than just that."""
    return result.changed not in ("", AFTER)


def with_change(result: ComparisonResult) -> str:
    """`with 2.8 bar`, or `after the change` where it has no name."""
    return f"with {clean(result.changed)}" if is_named(result) else "after the change"


def verdict_words(result: ComparisonResult) -> str:
    """The verdict as a sentence."""
    change = result.change_percent
    if change is None or not is_known(change):
        return ""
    what = with_change(result)
    at = places(change)
    larger = number(max(abs(change.low), abs(change.high)), at)
    if result.verdict == "too small to matter":
        return f"If there is a difference {what}, it is smaller than {larger} %: too small to matter to you."
    if change.high < 0 or change.low > 0:
        return f"{number(abs(change.value), at)} % {way(change.value)} {what}, somewhere {span(change)}."
    if result.verdict == "cannot tell":
        return f"This test cannot tell: the fuel {what} could be anywhere {span(change)}."
    return (
        f"We could not see a difference {what}. If there is one it is smaller than about {larger} % ({span(change)})."
    )


def _sweep(sweep: Sweep) -> str:
    best = sweep.best
    if sweep.probability >= LIKELY:
        most = max((point.above_best_percent for point in sweep.points), key=lambda above: above.high)
        return (
            f"We could not see that the setting matters between {sweep.points[0].setting:g} and "
            f"{sweep.points[-1].setting:g} {clean(sweep.unit)}. If it does, it is worth less than about "
            f"{number(most.high, places(most))} %."
        )
    if best is None:
        return sweep.best_words
    at = max(decimals_for_half_width(best.half_width), 0) if best.half_width > 0 else 2
    band = f"{number(sweep.equal_from, at)} to {number(sweep.equal_to, at)} {clean(sweep.unit)}"
    proven = sweep.probability < PROVEN
    matters = "The setting matters" if proven else "The setting probably matters, but that is not proven"
    return f"Anything from {band} is the same to us; the lowest is near {number(best.value, at)}. {matters}."


def _effects(effects: tuple[Effect, ...]) -> str:
    told = []
    for effect in effects:
        change = effect.change_percent
        name = clean(effect.name)
        if change is None or effect.tied_to:
            told.append(f"{name}: cannot be told from {listed([clean(other) for other in effect.tied_to])}")
        elif change.high < 0 or change.low > 0:
            told.append(f"{name}: {number(abs(change.value), places(change))} % {way(change.value)} ({span(change)})")
        else:
            told.append(f"{name}: no difference seen ({span(change)})")
    return f"{'; '.join(told)}."
