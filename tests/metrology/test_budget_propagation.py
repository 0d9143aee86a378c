import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, umath
from uncertainties import covariance_matrix as oracle_covariance

from calmday.metrology.budget import covariance_shares, root_sum_of_squares, variance_shares
from calmday.metrology.propagation import (
    arcsine,
    correlation_of,
    covariance_matrix,
    digital_step,
    expanded_uncertainty,
    from_half_width_95,
    propagate,
    rectangular,
    triangular,
    type_b_freedom,
    welch_satterthwaite,
)

POSITIVE = st.lists(st.floats(1e-6, 1e6), min_size=1, max_size=8)


@given(POSITIVE)
def test_shares_sum_to_one_and_follow_squares(parts):
    shares = variance_shares(parts)
    assert math.fsum(shares) == pytest.approx(1.0, abs=1e-12)
    total = root_sum_of_squares(parts)
    for u, share in zip(parts, shares, strict=True):
        assert share == pytest.approx((u / total) ** 2, rel=1e-9)


def test_shares_of_tiny_and_of_no_doubt():
    assert variance_shares([1e-300, 1e-300]) == (0.5, 0.5)
    assert variance_shares([0.0, 0.0]) == (0.0, 0.0)
    assert variance_shares([]) == ()


def test_shares_of_draws():
    rng = np.random.default_rng(3)
    parts = rng.normal(size=(20_000, 3)) * [1.0, 2.0, 0.0]
    shares = covariance_shares(parts)
    assert shares.sum() == pytest.approx(1.0, abs=1e-12)
    np.testing.assert_allclose(shares, [0.2, 0.8, 0.0], atol=0.01)
    offsetting = np.column_stack([parts[:, 0], -0.5 * parts[:, 0]])
    np.testing.assert_allclose(covariance_shares(offsetting), [2.0, -1.0])
    np.testing.assert_array_equal(covariance_shares(np.ones((5, 2))), [0.0, 0.0])


@given(
    st.tuples(*[st.floats(0.5, 5.0)] * 3),
    st.tuples(*[st.floats(0.01, 0.05)] * 3),
    st.floats(-0.9, 0.9),
)
def test_propagation_against_automatic_differentiation(values, relative, r):
    """Oracle: the `uncertainties` package, exact derivatives with the full covariance matrix."""
    u = [v * s for v, s in zip(values, relative, strict=True)]
    correlation = np.eye(3)
    correlation[0, 1] = correlation[1, 0] = r
    covariance = covariance_matrix(u, correlation)
    a, b, c = correlated_values(values, covariance)
    expected = oracle_covariance([a * b / c, umath.exp(-a) + b**2])
    found, spread = propagate(lambda x: np.array([x[0] * x[1] / x[2], np.exp(-x[0]) + x[1] ** 2]), values, covariance)
    # Against the scale of both spreads: a covariance may be a small difference of large terms.
    u = np.sqrt(np.diag(expected))
    np.testing.assert_allclose(spread / np.outer(u, u), expected / np.outer(u, u), atol=1e-5)
    assert found[0] == pytest.approx(values[0] * values[1] / values[2])


def test_an_exact_input_adds_nothing():
    value, spread = propagate(lambda x: x[0] + 1e6 * x[1], [1.0, 2.0], covariance_matrix([0.1, 0.0]))
    assert value[0] == 1.0 + 2e6
    assert spread[0, 0] == pytest.approx(0.01, rel=1e-6)


def test_fully_correlated_terms_add_straight():
    _, spread = propagate(lambda x: x[0] + x[1], [1.0, 1.0], covariance_matrix([0.3, 0.4], np.ones((2, 2))))
    assert math.sqrt(spread[0, 0]) == pytest.approx(0.7)
    assert correlation_of(covariance_matrix([0.3, 0.4], np.ones((2, 2))))[0, 1] == pytest.approx(1.0)


def test_type_b_shapes_against_their_moments():
    """Standard deviations of the shapes by the quantile integral, not by their formulas."""
    p = (np.arange(200_000) + 0.5) / 200_000
    assert rectangular(1.0) == pytest.approx(np.std(2 * p - 1), rel=1e-4)
    lower = np.sqrt(2 * p[p < 0.5]) - 1
    assert triangular(1.0) == pytest.approx(np.std(np.concatenate([lower, -lower])), rel=1e-4)
    assert arcsine(1.0) == pytest.approx(np.std(np.sin(np.pi * (p - 0.5))), rel=1e-4)
    assert digital_step(1.0) == pytest.approx(np.std(p), rel=1e-4)
    assert from_half_width_95(1.959963984540054) == 1.0


def test_freedom_of_judged_figures():
    # JCGM 100:2008, G.4.2 example: a figure good to 25 % has 8 degrees of freedom [S].
    assert type_b_freedom(0.25) == 8.0
    assert type_b_freedom(0.0) == math.inf


@given(POSITIVE, st.floats(1.0, 100.0))
def test_effective_freedom_lies_between_smallest_and_sum(parts, freedom):
    nu = welch_satterthwaite(parts, [freedom] * len(parts))
    assert freedom * (1 - 1e-9) <= nu <= freedom * len(parts) * (1 + 1e-9)


def test_effective_freedom_without_doubt_or_limit():
    assert welch_satterthwaite([0.0], [3.0]) == math.inf
    assert welch_satterthwaite([1.0, 2.0], [math.inf, math.inf]) == math.inf
    # One that counts among exact ones: (1 + 4)^2 / (4^2/5)
    assert welch_satterthwaite([1.0, 2.0], [math.inf, 5.0]) == pytest.approx(25 / (16 / 5))


def test_expanded_truncates_downwards():
    assert expanded_uncertainty(1.0, 16.9) == expanded_uncertainty(1.0, 16.0) > expanded_uncertainty(1.0, 17.0)
    assert expanded_uncertainty(1.0, 0.4) == expanded_uncertainty(1.0, 1.0)
    assert expanded_uncertainty(2.0, math.inf) == pytest.approx(3.919927969)
