"""Cyclic reduction against dense linear algebra (numpy's LAPACK)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.reduction.block_tridiagonal import solve


def system(n: int, m: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A positive definite block-tridiagonal matrix as the square of a lower bidiagonal one."""
    generator = np.random.default_rng(seed)
    below = 0.2 * generator.normal(size=(n, m, m))
    on = 0.3 * generator.normal(size=(n, m, m)) + 2 * np.eye(m)
    diagonal = on @ on.transpose(0, 2, 1)
    diagonal[1:] += below[1:] @ below[1:].transpose(0, 2, 1)
    upper = on[:-1] @ below[1:].transpose(0, 2, 1)
    return diagonal, upper, generator.normal(size=(n, m, 2))


def dense(diagonal: np.ndarray, upper: np.ndarray) -> np.ndarray:
    n, m, _ = diagonal.shape
    full = np.zeros((n, m, n, m))
    for i in range(n):
        full[i, :, i, :] = diagonal[i]
    for i in range(n - 1):
        full[i, :, i + 1, :] = upper[i]
        full[i + 1, :, i, :] = upper[i].T
    return full.reshape(n * m, n * m)


@settings(max_examples=25, deadline=None)
@given(n=st.integers(1, 60), m=st.sampled_from([1, 3, 8]), seed=st.integers(0, 2**32 - 1))
def test_solution_and_band_of_the_inverse_are_those_of_dense_algebra(n, m, seed):
    diagonal, upper, rhs = system(n, m, seed)
    solution = solve(diagonal, upper, rhs)
    full = dense(diagonal, upper)
    inverse = np.linalg.inv(full).reshape(n, m, n, m)
    size = np.abs(inverse).max()
    expected = np.linalg.solve(full, rhs.reshape(n * m, 2))
    np.testing.assert_allclose(solution.x.reshape(n * m, 2), expected, rtol=1e-6, atol=1e-9)
    index = np.arange(n)
    np.testing.assert_allclose(solution.diagonal, inverse[index, :, index, :], atol=1e-8 * size)
    np.testing.assert_allclose(solution.upper, inverse[index[:-1], :, index[1:], :], atol=1e-8 * size)


@pytest.mark.parametrize("n", [1, 2, 25, 64])
def test_without_covariance_the_solution_is_the_same(n):
    diagonal, upper, rhs = system(n, 3, n)
    np.testing.assert_array_equal(solve(diagonal, upper, rhs).x, solve(diagonal, upper, rhs, covariance=False).x)
