"""Few runs exactly: Student's t where nothing is shared and nothing is believed, and honest intervals elsewhere."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calmday.metrology.student import two_sided_t
from calmday.metrology.two_samples import paired_t, pooled_t
from calmday.procedures.comparison_fit import NOTHING, Fit, ScatterBelief, fit_levels

CHANGE = np.array([0.0, 1.0])


def _design(before: int, after: int) -> np.ndarray:
    return np.column_stack([np.ones(before + after), [0.0] * before + [1.0] * after])


def _fit(y: list[float], design: np.ndarray, belief: ScatterBelief = NOTHING, shared: np.ndarray | None = None) -> Fit:
    return fit_levels(np.array(y), design, np.zeros((len(y), len(y))) if shared is None else shared, belief)


@pytest.mark.parametrize(
    ("before", "after"),
    [([0.01, 0.02], [0.03]), ([0.01, 0.02, 0.04], [0.03, 0.06]), ([0.1, 0.2, 0.15, 0.11], [0.3, 0.2, 0.25, 0.31])],
)
def test_student_to_rounding_from_three_runs_on(before: list[float], after: list[float]) -> None:
    figure = _fit([*before, *after], _design(len(before), len(after))).along(CHANGE).figure("")
    exact = pooled_t(before, after)
    assert (figure.value, figure.low, figure.high) == pytest.approx((exact.estimate, exact.low, exact.high), rel=1e-10)


def test_pairs_to_rounding() -> None:
    """A level for each pair and one change: the paired t."""
    before, after = [0.10, 0.21, 0.35], [0.13, 0.22, 0.41]
    y = [x for pair in zip(before, after, strict=True) for x in pair]
    design = np.column_stack([np.repeat(np.eye(3), 2, axis=0), [0.0, 1.0] * 3])
    figure = _fit(y, design).along(np.array([0, 0, 0, 1.0])).figure("")
    exact = paired_t(before, after)
    assert (figure.low, figure.high) == pytest.approx((exact.low, exact.high), rel=1e-10)


def test_a_known_scatter_gives_the_normal() -> None:
    """A-B-A with a scatter of 1.5 %: half width 1.96 x 1.5 x sqrt(1.5)."""
    known = ScatterBelief(centre=0.015, freedom=math.inf)
    figure = _fit([0.0, 0.01, -0.1], np.column_stack([np.ones(3), [0.0, 0.0, 1.0]]), known).along(CHANGE).figure("")
    assert figure.half_width == pytest.approx(1.959964 * 0.015 * math.sqrt(1.5), rel=1e-6)


def test_a_belief_counts_like_runs_to_spare() -> None:
    """A scaled inverse chi-squared of 3 on top of v = 4: Student's t with 7 and the pooled variance."""
    before, after = [0.010, 0.022, 0.015], [0.031, 0.020, 0.036]
    belief = ScatterBelief(centre=0.015, freedom=3.0)
    figure = _fit([*before, *after], _design(3, 3), belief).along(CHANGE).figure("")
    squares = sum((x - np.mean(group)) ** 2 for group in (before, after) for x in group)
    variance = (squares + 3 * 0.015**2) / 7
    assert figure.half_width == pytest.approx(two_sided_t(0.95, 7) * math.sqrt(variance * 2 / 3), rel=1e-8)


def test_what_all_runs_share_cancels() -> None:
    y = [0.01, 0.02, 0.015, 0.06, 0.05, 0.055]
    alone = _fit(y, _design(3, 3)).along(CHANGE).figure("")
    with_shared = _fit(y, _design(3, 3), shared=np.full((6, 6), 0.1**2)).along(CHANGE).figure("")
    assert with_shared.low == pytest.approx(alone.low, rel=1e-6)


def test_what_belongs_to_a_run_does_not_cancel() -> None:
    y = [0.01, 0.02, 0.015, 0.06, 0.05, 0.055]
    known = ScatterBelief(centre=0.005, freedom=math.inf)
    own = _fit(y, _design(3, 3), known, np.diag(np.full(6, 0.02**2))).along(CHANGE).figure("")
    assert own.standard_uncertainty == pytest.approx(math.hypot(0.02, 0.005) * math.sqrt(2 / 3), rel=1e-6)


def test_a_doubtful_run_counts_less() -> None:
    y = [0.0, 0.0, 0.0, 0.10]
    doubt = np.diag([1e-6, 1e-6, 1e-6, 0.05**2])
    design = np.column_stack([np.ones(4), [0.0, 0.0, 1.0, 1.0]])
    change = _fit(y, design, ScatterBelief(centre=0.01, freedom=math.inf), doubt).along(CHANGE).figure("")
    assert 0.0 < change.value < 0.01


def test_swapping_the_groups_turns_the_sign() -> None:
    belief = ScatterBelief(centre=0.015, freedom=3.0)
    one = _fit([0.1, 0.12, 0.2, 0.23], _design(2, 2), belief).along(CHANGE).figure("")
    other = _fit([0.2, 0.23, 0.1, 0.12], _design(2, 2), belief).along(CHANGE).figure("")
    assert (one.value, one.low, one.high) == pytest.approx((-other.value, -other.high, -other.low), rel=1e-9)


def test_nothing_to_spare_needs_a_belief() -> None:
    with pytest.raises(ValueError, match="no run to spare"):
        _fit([0.1, 0.2], _design(1, 1))
    figure = _fit([0.1, 0.2], _design(1, 1), ScatterBelief(centre=0.015, freedom=3.0)).along(CHANGE).figure("")
    assert figure.half_width == pytest.approx(two_sided_t(0.95, 3) * 0.015 * math.sqrt(2), rel=1e-8)


def test_columns_that_say_the_same_are_refused() -> None:
    with pytest.raises(ValueError, match="told apart"):
        _fit([0.1, 0.2, 0.3], np.column_stack([np.ones(3), [0, 0, 1.0], [0, 0, 2.0]]))


def test_intervals_cover_as_often_as_they_say() -> None:
    """Scatters drawn from what is believed, runs from the scatters: 95 in 100, also with one doubtful run."""
    g = np.random.default_rng(5)
    design, belief = _design(3, 3), ScatterBelief(centre=0.015, freedom=3.0)
    shared = np.diag([0.01**2, 0, 0, 0.03**2, 0, 0]) + 0.05**2
    root = np.linalg.cholesky(shared + 1e-14 * np.eye(6))
    inside = 0
    for _ in range(600):
        scatter = 0.015 * math.sqrt(3.0 / g.chisquare(3.0))
        y = design @ np.array([3.0, 0.04]) + root @ g.standard_normal(6) + scatter * g.standard_normal(6)
        figure = fit_levels(y, design, shared, belief).along(CHANGE).figure("")
        inside += figure.low <= 0.04 <= figure.high
    assert 0.925 < inside / 600 < 0.975
