"""The median against numpy's, and figures of draws against numpy's quantiles."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.figure import from_draws
from calmday.metrology.middle import median, quantiles

VALUES = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60).map(np.array)


@given(VALUES)
def test_the_median_is_that_of_numpy(values: np.ndarray) -> None:
    assert median(values) == np.median(values)


@given(VALUES, st.lists(st.floats(0, 1), max_size=5))
def test_quantiles_are_those_of_numpy(values: np.ndarray, probabilities: list[float]) -> None:
    assert quantiles(values, probabilities) == [np.quantile(values, p) for p in probabilities]


@given(VALUES, st.data())
def test_what_is_no_number_is_not_hidden(values: np.ndarray, data: st.DataObject) -> None:
    values[data.draw(st.integers(0, values.size - 1))] = math.nan
    assert math.isnan(median(values))
    assert all(map(math.isnan, quantiles(values, [0.0, 0.5, 1.0])))


def test_the_median_of_nothing_is_no_number() -> None:
    assert math.isnan(median([]))
    assert all(map(math.isnan, quantiles([], [0.1, 0.9])))


def test_the_median_takes_any_shape_and_leaves_it_alone() -> None:
    values = np.array([[9, 1], [5, 7]])
    assert median(values) == 6
    assert values.tolist() == [[9, 1], [5, 7]]


@given(VALUES)
def test_intervals_are_the_quantiles_of_numpy(draws: np.ndarray) -> None:
    figure = from_draws(draws, "1")
    tails = [(1 - 0.95) / 2, (1 + 0.95) / 2]
    assert [figure.low, figure.high] == np.quantile(draws, tails).tolist()
    assert figure.value == draws.mean()
    assert figure.standard_uncertainty == (draws.std(ddof=1) if draws.size > 1 else 0)
