"""Two groups compared: published examples, exact special cases, and an independent library as oracle."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats as st

from calmday.metrology.noncentral_t import detectable_shift, power
from calmday.metrology.normal_mixture import NormalMixture
from calmday.metrology.student import two_sided_t
from calmday.metrology.two_samples import (
    f_upper_tail,
    fieller_ratio,
    paired_t,
    pooled_from,
    pooled_t,
    reshuffled,
    welch_from,
    welch_t,
)


def test_nist_two_sample_example() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.3, mileage by country: t = -12.62059 with 326, Welch -12.946 with 136.87."""
    n, mean, sd = (249, 79), (20.14458, 30.48101), (6.41470, 6.10771)
    variance = [s * s for s in sd]
    pooled, welch = pooled_from(n, mean, variance), welch_from(n, mean, variance)
    assert -pooled.t == pytest.approx(-12.62059, abs=2e-5)
    assert pooled.freedom == 326
    assert -welch.t == pytest.approx(-12.946, abs=1e-3)
    assert welch.freedom == pytest.approx(136.87, abs=0.01)


def test_nist_mean_of_three_is_the_case_to_remember() -> None:
    """e-Handbook 7.2.2 as carried by a library's example: n 3, mean 37.8, s 0.964365: 95 % from 35.404 to 40.196."""
    half = two_sided_t(0.95, 2) * 0.964365 / math.sqrt(3)
    assert 37.8 - half == pytest.approx(35.404, abs=1e-3)
    assert 37.8 + half == pytest.approx(40.196, abs=1e-3)


def test_fieller_by_its_definition() -> None:
    """Means 7.60 and 7.35, s 0.10 and 0.12, four each: 0.967105, from 0.94267 to 0.99215; roots of the definition."""
    shape = np.array([-1.0, -1.0, 1.0, 1.0]) * math.sqrt(3 / 4)
    first, second = 7.60 + 0.10 * shape, 7.35 + 0.12 * shape
    ratio, low, high = fieller_ratio(first.tolist(), second.tolist())
    assert ratio == pytest.approx(0.967105, abs=1e-6)
    assert low == pytest.approx(0.942669, abs=1e-5)
    assert high == pytest.approx(0.992153, abs=1e-5)
    t, pooled = two_sided_t(0.95, 6), (0.10**2 + 0.12**2) / 2
    for bound in (low, high):
        gap = second.mean() - bound * first.mean()
        assert gap**2 == pytest.approx(t**2 * pooled / 4 * (1 + bound**2), rel=1e-9)


def test_fieller_has_no_bounds_where_the_first_mean_may_be_zero() -> None:
    assert math.isnan(fieller_ratio([1.0, -1.1, 0.2], [5.0, 6.0, 7.0])[1])


@pytest.mark.parametrize("seed", range(4))
def test_against_an_independent_library(seed: int) -> None:
    g = np.random.default_rng(seed)
    a, b = g.normal(10, 1, 4 + seed), g.normal(11, 2, 3 + seed)
    for mine, equal in ((pooled_t(a.tolist(), b.tolist()), True), (welch_t(a.tolist(), b.tolist()), False)):
        theirs = st.ttest_ind(b, a, equal_var=equal)
        assert mine.t == pytest.approx(theirs.statistic, rel=1e-10)
        assert mine.probability == pytest.approx(theirs.pvalue, rel=1e-8)
        interval = theirs.confidence_interval(0.95)
        assert (mine.low, mine.high) == pytest.approx((interval.low, interval.high), rel=1e-9)
    n = min(len(a), len(b))
    paired = st.ttest_rel(b[:n], a[:n])
    assert paired_t(a[:n].tolist(), b[:n].tolist()).t == pytest.approx(paired.statistic, rel=1e-10)


def test_reshuffling_every_deal() -> None:
    """Of 70 ways to deal four of eight, two are as far apart as the most extreme: 2/70."""
    values = [1.0, 2.0, 3.0, 4.0, 11.0, 12.0, 13.0, 14.0]
    changed = [False] * 4 + [True] * 4
    assert reshuffled(values, changed) == (pytest.approx(2 / 70), 70)
    chance, ways = reshuffled([1, 2, 1, 2, 1, 2], [False, True] * 3, ["a", "a", "b", "b", "c", "c"])
    assert (chance, ways) == (pytest.approx(2 / 8), 8)


def test_reshuffling_a_sample_of_very_many_deals() -> None:
    g = np.random.default_rng(3)
    values = g.normal(0, 1, 24)
    changed = [False, True] * 12
    chance, ways = reshuffled(values.tolist(), changed)
    assert ways > 2_000_000
    assert chance == pytest.approx(st.ttest_ind(values[::2], values[1::2]).pvalue, abs=0.05)


@pytest.mark.parametrize(("f", "a", "b"), [(4.1, 2, 6), (0.5, 3, 10), (19.0, 1, 2), (0.0, 2, 5)])
def test_f_tail(f: float, a: float, b: float) -> None:
    assert f_upper_tail(f, a, b) == pytest.approx(st.f.sf(f, a, b), rel=1e-10)


@pytest.mark.parametrize(("freedom", "shift"), [(1, 5.0), (2, 2.0), (6, 2.5), (30, 0.5), (198, 2.8284), (1e9, 2.8)])
def test_power_against_an_independent_library(freedom: float, shift: float) -> None:
    t = st.t.ppf(0.975, freedom)
    theirs = st.nct.sf(t, freedom, shift) + st.nct.cdf(-t, freedom, shift)
    assert power(shift, freedom) == pytest.approx(theirs, abs=1e-7)


@pytest.mark.parametrize(("each", "percent"), [(3, 3.07), (4, 2.38), (6, 1.80)])
def test_smallest_visible_difference_of_two_groups(each: int, percent: float) -> None:
    """At a scatter of 1 %, 80 % power, computed independently for the reference tables of the project."""
    assert detectable_shift(2 * each - 2) * math.sqrt(2 / each) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(("pairs", "times"), [(3, 4.6), (4, 3.0), (5, 2.4), (6, 2.0), (8, 1.6), (10, 1.4), (20, 0.9)])
def test_smallest_visible_difference_of_pairs(pairs: int, times: float) -> None:
    assert detectable_shift(pairs - 1) * math.sqrt(2 / pairs) == pytest.approx(times, abs=0.06)


def test_a_mixture_of_one_is_the_normal() -> None:
    one = NormalMixture(np.array([1.0]), np.array([3.0]), np.array([2.0]))
    figure = one.figure("%")
    assert figure.value == pytest.approx(3.0)
    assert (figure.low, figure.high) == pytest.approx((3 - 1.959964 * 2, 3 + 1.959964 * 2), abs=1e-5)
    assert one.below(3.0) == pytest.approx(0.5)


def test_a_mixture_without_spread_is_a_point() -> None:
    point = NormalMixture(np.array([0.5, 0.5]), np.array([3.0, 3.0]), np.zeros(2))
    assert point.quantile(0.2) == 3.0
    assert (point.below(2.9), point.below(3.1)) == (0.0, 1.0)
