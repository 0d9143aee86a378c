"""Where a vehicle stands: the figures of its runs put together, state by state.

Runs of one route in one state of the vehicle measure one thing. What a run draws for itself averages out; what all
share (the same drag area in the model, the same density) does not, and is kept whole. Runs that scatter more than they
say are believed less (Birge 1932, Phys. Rev. 40, 207).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence

import msgspec

from calmday.metrology.figure import Figure, from_normal

UNIT = "L/100km"


class RunFigure(msgspec.Struct, frozen=True, kw_only=True):
    """The calm-day figure of one run. `own_share` of its variance belongs to this run alone.

    `place` what was driven: runs of one place and state measure one thing. `state` index of the vehicle's state.
    """

    run_id: str
    state: int
    place: str
    figure: Figure
    own_share: float

    @property
    def value(self) -> float:
        """The figure itself."""
        return self.figure.value

    @property
    def standard_uncertainty(self) -> float:
        """Its standard uncertainty."""
        return self.figure.standard_uncertainty


class Combined(msgspec.Struct, frozen=True, kw_only=True):
    """The figure of one or several runs. `scatter` above 1: the runs differ by more than they say, and are widened."""

    figure: Figure
    run_ids: tuple[str, ...]
    scatter: float = 1.0


class StateFigure(msgspec.Struct, frozen=True, kw_only=True):
    """One state of the vehicle: from when, what changed, its best figure, and the change against the state before.

    `change_percent` takes the two as independent where they share no run; what they have in common makes the true
    doubt smaller, never larger.
    """

    since: dt.date | None
    what: tuple[str, ...]
    best: Combined | None
    runs: int
    change_percent: Figure | None = None


def combined(runs: Sequence[RunFigure]) -> Combined:
    """Runs of one place and state, at least one, put together."""
    if len(runs) == 1:
        return Combined(figure=runs[0].figure, run_ids=(runs[0].run_id,))
    own = [max(run.own_share, 1e-6) * run.standard_uncertainty**2 for run in runs]
    weights = [1 / variance for variance in own]
    total = math.fsum(weights)
    value = math.fsum(w * run.value for w, run in zip(weights, runs, strict=True)) / total
    chi = math.fsum((run.value - value) ** 2 / v for run, v in zip(runs, own, strict=True))
    scatter = max(1.0, math.sqrt(chi / (len(runs) - 1)))
    shared = math.fsum(
        w * run.standard_uncertainty * math.sqrt(max(0.0, 1 - run.own_share))
        for w, run in zip(weights, runs, strict=True)
    )
    spread = math.hypot(scatter / math.sqrt(total), shared / total)
    return Combined(figure=from_normal(value, spread, UNIT), run_ids=tuple(r.run_id for r in runs), scatter=scatter)


def best_of(runs: Sequence[RunFigure]) -> Combined | None:
    """The best known figure of runs of one state: of the place where it is known best."""
    places: dict[str, list[RunFigure]] = {}
    for run in runs:
        places.setdefault(run.place, []).append(run)
    found = [combined(group) for group in places.values()]
    return min(found, key=lambda c: c.figure.standard_uncertainty / abs(c.figure.value or math.inf), default=None)


def state_figures(
    states: Sequence[tuple[dt.date | None, tuple[str, ...]]], runs: Sequence[RunFigure]
) -> tuple[StateFigure, ...]:
    """The best figure of each state, and how it moved. `states` each with its date and what changed."""
    by_state: dict[int, list[RunFigure]] = {}
    for run in runs:
        by_state.setdefault(run.state, []).append(run)
    found: list[StateFigure] = []
    before: list[RunFigure] = []
    for index, (since, what) in enumerate(states):
        here = by_state.get(index, [])
        change = _change(before, here)
        found.append(StateFigure(since=since, what=what, best=best_of(here), runs=len(here), change_percent=change))
        before = here or before
    return tuple(found)


def _change(before: Sequence[RunFigure], after: Sequence[RunFigure]) -> Figure | None:
    """Per cent by which the figure moved, on the places driven in both states, known best; None where there is none."""
    one, other = _by_place(before), _by_place(after)
    found = []
    for place in one.keys() & other.keys():
        a, b = one[place].figure, other[place].figure
        spread = math.hypot(a.standard_uncertainty / a.value, b.standard_uncertainty / b.value)
        ratio = b.value / a.value
        found.append(from_normal(100 * (ratio - 1), 100 * ratio * spread, "%"))
    return min(found, key=lambda figure: figure.standard_uncertainty, default=None)


def _by_place(runs: Sequence[RunFigure]) -> Mapping[str, Combined]:
    places: dict[str, list[RunFigure]] = {}
    for run in runs:
        places.setdefault(run.place, []).append(run)
    return {place: combined(group) for place, group in places.items()}
