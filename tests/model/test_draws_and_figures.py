"""Draws spread evenly, and figures read off them."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import exact, from_draws, from_normal, middle_of
from calmday.model.scores import draw_matrix


@given(st.integers(2, 3000), st.integers(0, 100))
@settings(max_examples=25, deadline=None)
def test_every_column_is_the_normal_distribution(count: int, seed: int) -> None:
    """Mean 0 and variance 1 exactly; the sorted draws are the normal quantiles of even strata."""
    draws = standard_normal(count, 2, seed)
    assert draws.mean(axis=0) == pytest.approx([0, 0], abs=1e-12)
    assert (draws**2).mean(axis=0) == pytest.approx([1, 1], rel=1e-12)
    quantiles = np.array([NormalDist().inv_cdf((i + 0.5) / count) for i in range(count)])
    assert np.sort(draws[:, 0]) == pytest.approx(quantiles / np.sqrt(np.mean(quantiles**2)), abs=1e-9)
    assert np.array_equal(np.sort(draws[:, 0]), np.sort(draws[:, 1]))


def test_columns_do_not_know_of_each_other() -> None:
    """Mean correlation over pairs and seeds is 0, and each lies within what chance gives, 1 / sqrt(count)."""
    found = []
    for seed in range(20):
        matrix = np.corrcoef(standard_normal(500, 12, seed).T)
        found.append(matrix[np.triu_indices(12, 1)])
    all_of_them = np.concatenate(found)
    assert abs(all_of_them.mean()) < 4 / math.sqrt(500 * all_of_them.size)
    assert all_of_them.std() == pytest.approx(1 / math.sqrt(500), rel=0.1)


def test_same_seed_same_draws() -> None:
    assert np.array_equal(standard_normal(300, 4, 7), standard_normal(300, 4, 7))
    assert not np.array_equal(standard_normal(300, 4, 7), standard_normal(300, 4, 8))


def test_sums_converge_faster_than_by_chance() -> None:
    """Mean of exp(0.3 z): with even strata the error over seeds is nil but for the scaling of the tails."""
    truth = math.exp(0.045)
    assert np.exp(0.3 * standard_normal(2000, 1, 1)).mean() == pytest.approx(truth, abs=2e-4)


def test_matrix_hands_out_separate_columns() -> None:
    matrix = draw_matrix(400, 5, 3)
    columns = [*matrix.parameters.T, *(getattr(matrix, n) for n in matrix.__struct_fields__[1:])]
    assert len(columns) == 11
    correlation = np.corrcoef(np.array(columns)) - np.eye(11)
    assert np.abs(correlation).max() < 0.25
    assert matrix.parameters.shape == (400, 5)


def test_figure_of_draws() -> None:
    """JCGM 101: mean, standard deviation with n - 1, probabilistically symmetric 95 % interval."""
    draws = np.arange(1.0, 1001.0)
    figure = from_draws(draws, "kg")
    assert figure.value == 500.5
    assert figure.standard_uncertainty == pytest.approx(math.sqrt(1000 * 1001 / 12))
    assert (figure.low, figure.high) == (pytest.approx(25.975), pytest.approx(975.025))
    assert figure.half_width == pytest.approx((975.025 - 25.975) / 2)


def test_normal_figure_and_draws_agree() -> None:
    drawn = from_draws(7.0 + 0.2 * standard_normal(4000, 1, 1)[:, 0], "L")
    plain = from_normal(7.0, 0.2, "L")
    for name in ("value", "standard_uncertainty", "low", "high"):
        assert getattr(drawn, name) == pytest.approx(getattr(plain, name), abs=2e-3)
    assert plain.high - plain.value == pytest.approx(1.959964 * 0.2, abs=1e-6)  # JCGM 100 G.1.3


@pytest.mark.parametrize("bad", [np.array([]), np.array([1.0, math.nan]), np.array([1.0, math.inf])])
def test_what_is_not_finite_is_not_hidden(bad: np.ndarray) -> None:
    figure = from_draws(bad, "L")
    assert all(math.isnan(x) for x in (figure.value, figure.standard_uncertainty, figure.low, figure.high))


def test_one_draw_and_exact() -> None:
    assert from_draws(np.array([3.0]), "h").standard_uncertainty == 0
    figure = exact(5, "km")
    assert (figure.value, figure.low, figure.high, figure.standard_uncertainty) == (5.0, 5.0, 5.0, 0.0)


@given(st.floats(-1e3, 1e3), st.floats(0, 100), st.floats(-50, 50))
def test_scaling(value: float, spread: float, factor: float) -> None:
    """Another unit keeps the interval ordered and around the value."""
    figure = from_normal(value, spread, "a").scaled(factor, "b")
    assert figure.unit == "b"
    assert figure.value == value * factor
    assert figure.low <= figure.value + 1e-9
    assert figure.high >= figure.value - 1e-9
    assert figure.standard_uncertainty == pytest.approx(abs(factor) * spread)


def test_the_middle_of_skewed_draws_is_not_drawn_up_by_a_few() -> None:
    """Of a log-normal the middle is exp(mean of the logarithms), whatever its spread; the interval is the same."""
    draws = 8.0 * np.exp(0.3 * standard_normal(4000, 1, 1)[:, 0])
    middle, mean = middle_of(draws, "L"), from_draws(draws, "L")
    assert middle.value == pytest.approx(8.0, rel=0.002)
    assert mean.value == pytest.approx(8.0 * np.exp(0.045), rel=0.005)
    assert (middle.low, middle.high, middle.standard_uncertainty) == (mean.low, mean.high, mean.standard_uncertainty)
    assert np.isnan(middle_of(np.array([1.0, np.nan]), "L").value)
