import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from calmday.metrology.student import incomplete_beta, t_density, t_quantile, t_upper_tail, two_sided_t

FREEDOM = [0.5, 1.0, 1.5, 2.0, 3.0, 4.7, 10.0, 16.0, 50.0, 326.0, 999.0, 1000.0, 1e5, 1e9]
PROBABILITY = [0.5001, 0.6, 0.75, 0.9, 0.95, 0.975, 0.995, 0.9999, 0.9999999]


@pytest.mark.parametrize("freedom", FREEDOM)
def test_quantiles_against_scipy(freedom):
    found = [t_quantile(p, freedom) for p in PROBABILITY]
    np.testing.assert_allclose(found, stats.t.ppf(PROBABILITY, freedom), rtol=1e-11)
    lower = [t_quantile(1 - p, freedom) for p in (0.6, 0.975, 0.9999)]
    np.testing.assert_allclose(lower, stats.t.ppf([0.4, 0.025, 1e-4], freedom), rtol=1e-9)


@settings(max_examples=60)
@given(st.floats(0.3, 500.0), st.floats(-40.0, 40.0))
def test_tail_and_density_against_scipy(freedom, t):
    assert t_upper_tail(t, freedom) == pytest.approx(stats.t.sf(t, freedom), rel=1e-9, abs=1e-15)
    assert t_density(t, freedom) == pytest.approx(stats.t.pdf(t, freedom), rel=1e-9)


@settings(max_examples=60)
@given(st.floats(0.2, 200.0), st.floats(0.2, 200.0), st.floats(0.0, 1.0 - 1e-6))
def test_incomplete_beta_against_scipy(a, b, x):
    assert incomplete_beta(a, b, x) == pytest.approx(special.betainc(a, b, x), rel=1e-9, abs=1e-13)


def test_incomplete_beta_to_the_very_end():
    """I_x(1/2, 1/2) = 2/pi asin(sqrt(x)): next to 1 the library itself is 3e-9 off."""
    x = math.nextafter(1.0, 0.0)
    assert 1.0 - incomplete_beta(0.5, 0.5, x) == pytest.approx(2 / math.pi * math.sqrt(1.0 - x), rel=1e-6)
    assert (incomplete_beta(2.0, 3.0, 0.0), incomplete_beta(2.0, 3.0, 1.0)) == (0.0, 1.0)


def test_closed_forms():
    # One degree of freedom is Cauchy, two have t = a sqrt(2/(1 - a^2)) with a = 2p - 1.
    assert t_quantile(0.975, 1) == pytest.approx(math.tan(math.pi * 0.475), rel=1e-12)
    assert t_quantile(0.975, 2) == pytest.approx(0.95 * math.sqrt(2 / (1 - 0.95**2)), rel=1e-12)
    assert t_quantile(0.5, 7) == 0.0
    assert two_sided_t(0.95, math.inf) == pytest.approx(1.959963984540054, rel=1e-12)
    assert t_upper_tail(1.959963984540054, math.inf) == pytest.approx(0.025, rel=1e-12)


@pytest.mark.parametrize(("p", "nu"), [(0.0, 3), (1.0, 3), (0.9, 0), (0.9, -1), (math.nan, 3), (0.9, math.nan)])
def test_refuses_what_has_no_quantile(p, nu):
    with pytest.raises(ValueError, match="freedom"):
        t_quantile(p, nu)
