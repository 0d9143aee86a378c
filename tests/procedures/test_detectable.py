"""The smallest change a comparison shows, against planning tables, an independent library, and orders by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import nct

from calmday.metrology.noncentral_t import power as chance_to_see
from calmday.metrology.student import two_sided_t
from calmday.procedures.detectable import (
    changes_in,
    degrees_of_freedom,
    leaning,
    order_of,
    runs_for,
    smallest_change,
)

# Planning table of the project, computed for paired runs (95 %, four in five), to the digit printed there
PAIRED = {3: (3.5, 4.6), 4: (2.3, 3.0), 5: (1.8, 2.4), 6: (1.5, 2.0), 8: (1.2, 1.6), 10: (1.0, 1.4)}

# Two-sample comparison at 1 % scatter, power 0.8, exact noncentral t: reference collection, case CV-120, recomputed
TWO_SAMPLE = {3: 3.071, 4: 2.381, 6: 1.796}


@pytest.mark.parametrize("pairs", PAIRED)
def test_paired_runs_agree_with_the_planning_table(pairs: int) -> None:
    half, seen = PAIRED[pairs]
    # the table rounds 1.97 to 2.0 and the like: half a unit of its last digit, and a little for 2.25 printed as 2.3
    assert two_sided_t(0.95, pairs - 1) * math.sqrt(2 / pairs) == pytest.approx(half, abs=0.0501)
    assert smallest_change(1.0, pairs, pairs - 1) == pytest.approx(seen, abs=0.0501)


def test_twenty_pairs_show_nine_tenths_of_the_scatter() -> None:
    assert smallest_change(1.0, 20, 19) == pytest.approx(0.9, abs=0.05)


@pytest.mark.parametrize("runs", TWO_SAMPLE)
def test_two_samples_agree_with_the_reference(runs: int) -> None:
    assert smallest_change(1.0, runs, 2 * runs - 2) == pytest.approx(TWO_SAMPLE[runs], abs=0.002)


def test_power_of_a_published_example() -> None:
    # n 100 a side, difference 1, scatter 2.5, 5 % two-sided: 0.8036466 (reference collection, 6.3)
    assert chance_to_see(1 / 2.5 * math.sqrt(50), 198) == pytest.approx(0.8036466, abs=1e-6)


@pytest.mark.parametrize("freedom", [1, 2, 5.5, 13, 60, 400])
@pytest.mark.parametrize("shift", [0.5, 1.0, 2.8, 5.0])
def test_power_agrees_with_an_independent_library(freedom: float, shift: float) -> None:
    limit = two_sided_t(0.95, freedom)
    there = nct.sf(limit, freedom, shift) + nct.cdf(-limit, freedom, shift)
    assert chance_to_see(shift, freedom) == pytest.approx(there, abs=1e-9)


def test_without_a_change_one_test_in_twenty_sees_one() -> None:
    assert chance_to_see(0.0, 7) == pytest.approx(0.05, abs=1e-9)


@pytest.mark.parametrize("per_side", [2, 4, 6, 8, 12])
def test_a_straight_drift_cancels(per_side: int) -> None:
    order = order_of(per_side)
    assert order.count("A") == order.count("B") == per_side
    assert leaning(order, 1) == pytest.approx(0.0, abs=1e-12)


def test_orders_are_those_of_the_trade() -> None:
    assert order_of(1) == "AB"
    assert order_of(2) == "ABBA"
    assert changes_in("ABBA") == 2
    assert leaning(order_of(4), 2) == pytest.approx(0.0, abs=1e-12)
    assert [leaning(order_of(8), power) for power in (1, 2, 3)] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_abba_kills_the_drift_of_the_worked_example_and_ab_does_not() -> None:
    # drift +0.05 a run, true A 10.0 and B 9.7: AB gives -0.25, ABBA exactly -0.30 (reference collection, 6.4)
    for order, expected in (("AB", -0.25), ("ABBA", -0.30)):
        read = [(10.0 if arm == "A" else 9.7) + 0.05 * k for k, arm in enumerate(order)]
        sides = {arm: np.mean([r for r, a in zip(read, order, strict=True) if a == arm]) for arm in "AB"}
        assert sides["B"] - sides["A"] == pytest.approx(expected, abs=1e-12)


def test_the_promise_holds_in_simulated_comparisons() -> None:
    """Runs with a drift, compared by least squares with change and drift: four in five see the smallest change."""
    per_side, scatter = 4, 1.3
    order = order_of(per_side)
    freedom = degrees_of_freedom(per_side)
    change = smallest_change(scatter, per_side, freedom)
    design = np.stack([np.ones(8), np.array([arm == "B" for arm in order], dtype=float), np.arange(8) - 3.5], axis=1)
    inverse = np.linalg.inv(design.T @ design)
    g = np.random.default_rng(20260412)
    read = 0.7 * design[:, 2] + change * design[:, 1] + scatter * g.standard_normal((20_000, 8))
    found = read @ design @ inverse
    left = read - found @ design.T
    spread = np.sqrt((left**2).sum(axis=1) / freedom * inverse[1, 1])
    seen = np.abs(found[:, 1]) > two_sided_t(0.95, freedom) * spread
    # 20 000 comparisons: the share is known to 0.003
    assert seen.mean() == pytest.approx(0.8, abs=0.01)


def test_runs_needed_grow_with_the_scatter_and_end() -> None:
    assert runs_for(5.0, 1.3, 5.0) < runs_for(2.0, 1.3, 5.0)
    assert runs_for(0.1, 1.3, 5.0) == 0
    assert math.isinf(smallest_change(1.0, 1, degrees_of_freedom(1)))
