"""What a comparison gives: the result as `calmday compare --json` prints it. Names are a contract.

Every change is in percent of the baseline's fuel per distance: below zero means less fuel.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import BudgetLine, Flag, Provenance

SCHEMA = "calmday/comparison/1"

Basis = Literal["calm day", "as driven", "over the control vehicle"]
Verdict = Literal["less fuel", "more fuel", "no difference seen", "too small to matter", "cannot tell"]


class Chance(msgspec.Struct, frozen=True, kw_only=True):
    """Probability that the change saves at least `percent` of the fuel, and that it costs at least so much more."""

    percent: float
    less: float
    more: float


class Story(msgspec.Struct, frozen=True, kw_only=True):
    """The same question answered from other figures: as driven, on the calm day, on the calm day over the same drive.

    `name` what the figures are; `headline` true for the one the sentence rests on.
    """

    name: str
    change_percent: Figure
    probability_less_fuel: float
    headline: bool = False


class OtherMethod(msgspec.Struct, frozen=True, kw_only=True):
    """The headline's figures by another way of counting; `change_percent` None where it gives a probability only.

    `name` of the method, `words` what it assumes.
    """

    name: str
    words: str
    change_percent: Figure | None = None
    probability: float | None = None
    """Chance of a difference at least so large if there were none (two-sided)."""


class Scatter(msgspec.Struct, frozen=True, kw_only=True):
    """Run-to-run scatter, one standard deviation in percent, and what was believed of it before.

    `assumed` the centre believed beforehand (None: nothing was), `worth` how many runs to spare it counts for (None:
    taken as known);
    `matters` whether the verdict or a third of the width of the interval hangs on it.
    """

    found: Figure
    assumed: float | None
    worth: float | None
    own_freedom: int
    matters: bool
    words: str


class ComparedRun(msgspec.Struct, frozen=True, kw_only=True):
    """One run of the comparison. Consumptions in g/km; corrections in percent.

    `group` name of its group, empty where a setting or several changes were tried; `fitted` which of several changes
    this run had; `order` place in the order driven, None where it is not known; `level` the calm-day figure brought to
    the one drive all runs are compared on; `correction_percent` how far that is from the figure as driven;
    `off_group_percent` how far the run lies from the mean of its group (of all runs, where a setting or several changes
    were tried) once drift, temperature, pairs, setting and changes are taken off: zero on average over the group;
    `residual_percent` the part of that which is put down to the run itself, and not to the known doubt of its day. A
    run left out has `used` false and says why, and whether that was known before its fuel was weighed.
    """

    number: int
    label: str
    group: str
    order: int | None
    date: str
    block: str
    setting: str
    temperature_C: float | None
    as_driven: Figure
    calm_day: Figure | None
    level: Figure | None
    correction_percent: Figure | None
    residual_percent: float | None
    off_group_percent: float | None = None
    odd: bool = False
    used: bool = True
    left_out_because: str = ""
    known_before_weighing: bool | None = None
    fitted: tuple[str, ...] = ()
    file: str = ""


class Correction(msgspec.Struct, frozen=True, kw_only=True):
    """What one condition cost, mean over each group, in percent of the calm-day figure, and the difference between the
    groups: that much of the answer comes from this correction."""

    of: str
    baseline_percent: float
    changed_percent: float
    difference_percent: Figure


class Effect(msgspec.Struct, frozen=True, kw_only=True):
    """One of several changes made at once. `tied_to`: changes it cannot be told from; its figure is then None."""

    name: str
    change_percent: Figure | None
    probability_less_fuel: float | None
    tied_to: tuple[str, ...] = ()


class SweepPoint(msgspec.Struct, frozen=True, kw_only=True):
    """The fitted curve at one setting, in percent more than at the best. `equal`: cannot be told from the best."""

    setting: float
    above_best_percent: Figure
    runs: int
    equal: bool


class Sweep(msgspec.Struct, frozen=True, kw_only=True):
    """A setting varied over several runs: fuel as a quadratic in the setting.

    `best` is None where the curve has no lowest point within reach; `equal_from`, `equal_to` bound the settings that
    are the same to us; `probability` chance of a curve at least so marked if the setting did not matter (F-test);
    `curve` for drawing.
    """

    unit: str
    best: Figure | None
    best_words: str
    equal_from: float
    equal_to: float
    f_statistic: float
    probability: float
    scatter_percent: float
    points: tuple[SweepPoint, ...]
    curve: tuple[SweepPoint, ...]


class Design(msgspec.Struct, frozen=True, kw_only=True):
    """How the test was laid out. `planned` number of runs declared beforehand; `order` in words (A before, B after the
    change; the settings, where one was tried); `blind` whether the
    driver knew; `digest` of the sealed order, `digest_fits` whether the order opened has that digest."""

    baseline_runs: int
    changed_runs: int
    left_out: int
    planned: int | None
    days: int | None
    order: str
    interleaved: bool | None
    pairs: int
    blind: bool | None = None
    digest: str = ""
    digest_fits: bool | None = None
    gadgets_tried: int | None = None
    smallest_change_percent: float | None = None


class ComparisonResult(msgspec.Struct, frozen=True, kw_only=True):
    """The result of a comparison. Figures are None where the input does not allow them; a flag says why.

    `change_percent` of fuel per distance; `mpg_change_percent` the same change as distance per fuel: another number;
    `smallest_detectable_percent` true change this test would have seen four times in five; `runs_needed` further runs,
    both groups together, until `aim_percent` would be seen so often: 0 enough already, None out of reach;
    `drift_percent_per_run`, `temperature_percent_per_K` what was taken off.
    """

    schema: str = SCHEMA
    label: str
    question: str
    baseline: str
    changed: str
    vehicle: str
    sentence: str
    verdict: Verdict
    verdict_words: str
    basis: Basis
    change_percent: Figure | None
    mpg_change_percent: Figure | None
    probability_less_fuel: float | None
    chances: tuple[Chance, ...]
    smallest_detectable_percent: float | None
    runs_needed: int | None
    aim_percent: float | None
    baseline_g_per_km: Figure | None
    changed_g_per_km: Figure | None
    baseline_L_per_100km: Figure | None
    changed_L_per_100km: Figure | None
    stories: tuple[Story, ...] = ()
    other_methods: tuple[OtherMethod, ...] = ()
    scatter: Scatter | None = None
    drift_percent_per_run: Figure | None = None
    temperature_percent_per_K: Figure | None = None
    corrections: tuple[Correction, ...] = ()
    budget: tuple[BudgetLine, ...] = ()
    effects: tuple[Effect, ...] = ()
    sweep: Sweep | None = None
    design: Design
    runs: tuple[ComparedRun, ...]
    flags: tuple[Flag, ...] = ()
    notes: tuple[str, ...] = ()
    provenance: Provenance
