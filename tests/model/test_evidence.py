"""Pooling of tests: against the closed form of linear tests, and what a lying test does."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calmday.model.evidence import EXACT, SHARED, Piece, informed, pool, state_maps
from calmday.model.parameters import Parameter, ParameterSet
from calmday.model.posterior import drawn, peak

OWN = Parameter(
    key="own", centre=1.0, spread=0.1, shape="log", unit="1", group="x", origin="assumed", source="invented"
)


def linear_piece(weights: dict[str, float], read: float, sd: float, label: str = "test", state: int = 0) -> Piece:
    """A reading that is a weighted sum of shared scores plus one of its own."""
    row = np.array([weights.get(key, 0.0) for key in SHARED])

    def residuals(shared: np.ndarray, own: np.ndarray) -> np.ndarray:
        return (read - shared @ row - 0.5 * own[:, 0])[:, None] / sd

    return Piece(label=label, kind="run", own=(OWN,), residuals=residuals, state=state)


def test_linear_tests_give_the_closed_form_of_normal_theory():
    pieces = [linear_piece({"drag_area": 1.0, EXACT: 0.7}, 1.2, 0.3), linear_piece({"drag_area": 0.4}, -0.2, 0.5)]
    found = pool(pieces, (), 4000, 1)
    design = np.zeros((2, 2))
    design[0] = 1.0, 0.7
    design[1] = 0.4, 0.0
    noise = np.diag([0.3**2 + 0.25, 0.5**2 + 0.25])
    gain = design.T @ np.linalg.inv(design @ design.T + noise)
    mean = gain @ np.array([1.2, -0.2])
    covariance = np.eye(2) - gain @ design
    drag, exact = found.shared(0)[:, SHARED.index("drag_area")], found.shared(0)[:, SHARED.index(EXACT)]
    assert drag.mean() == pytest.approx(mean[0], abs=0.02)
    assert exact.mean() == pytest.approx(mean[1], abs=0.02)
    assert np.cov(drag, exact) == pytest.approx(covariance, abs=0.03)
    assert found.posterior.effective_draws > 3900
    last = SHARED.index("drag_area")
    assert found.ladder_mean[-1, last] == pytest.approx(mean[0], abs=1e-6)
    assert found.ladder_sd[-1, last] == pytest.approx(math.sqrt(covariance[0, 0]), abs=1e-6)


def test_without_tests_the_prior_comes_back():
    found = pool((), (), 2000, 3)
    assert found.shared(0).std(axis=0) == pytest.approx(1.0, abs=0.02)
    assert not found.judged


def test_moves_bring_a_bent_target_to_the_right_place():
    """A reading of 0.2 z0^2 + z0 + z1: a bend that a normal cannot follow; the moves must."""

    def residuals(z: np.ndarray) -> np.ndarray:
        return ((1.0 - 0.2 * z[:, 0] ** 2 - z[:, 0] - z[:, 1]) / 0.1)[:, None]

    found = drawn(residuals, peak(residuals, 2), 8000, 5)
    grid = np.linspace(-4.5, 4.5, 901)
    x, y = np.meshgrid(grid, grid, indexing="ij")
    density = np.exp(-0.5 * (x**2 + y**2 + ((1 - 0.2 * x**2 - x - y) / 0.1) ** 2))
    density /= density.sum()
    assert found.moves > 0
    assert found.scores[:, 1].mean() == pytest.approx(float((density * y).sum()), abs=0.12)
    assert (found.scores[:, 0] ** 2).mean() == pytest.approx(float((density * x**2).sum()), abs=0.12)


def test_one_lying_test_is_named_and_does_not_drag_the_rest():
    honest = [linear_piece({"drag_area": 1.0}, 0.3, 0.1, f"honest {i}") for i in range(3)]
    liar = linear_piece({"drag_area": 1.0}, 4.0, 0.1, "liar")
    alone, together = pool(honest, (), 2000, 1), pool([*honest, liar], (), 2000, 1)
    odd = {one.label for one in together.judged if one.widened > 1}
    assert odd == {"liar"}
    column = SHARED.index("drag_area")
    moved = together.shared(0)[:, column].mean() - alone.shared(0)[:, column].mean()
    assert abs(moved) < 0.15


def test_a_change_widens_what_it_touches_and_nothing_else():
    maps = state_maps([{"drag_area": 0.6}])
    touched, untouched = SHARED.index("drag_area"), SHARED.index("rolling_resistance")
    both = maps[0] @ maps[1].T
    assert both[touched, touched] == pytest.approx(0.6)
    assert both[untouched, untouched] == pytest.approx(1.0)
    assert np.diag(maps[1] @ maps[1].T) == pytest.approx(1.0)
    piece = linear_piece({"drag_area": 1.0, "rolling_resistance": 1.0}, 0.5, 0.1)
    found = pool([piece], [{"drag_area": 0.0}], 2000, 2)
    assert found.shared(1)[:, touched].std() == pytest.approx(1.0, abs=0.05)
    assert found.shared(1)[:, untouched] == pytest.approx(found.shared(0)[:, untouched])


def test_an_informed_set_carries_mean_and_correlation_and_keeps_the_exact_column_apart():
    rng = np.random.default_rng(4)
    shared = rng.standard_normal((5000, len(SHARED)))
    drag, exact = SHARED.index("drag_area"), SHARED.index(EXACT)
    shared[:, drag] = 0.8 + 0.3 * shared[:, drag] - 0.2 * shared[:, exact]
    make = [
        Parameter(
            key=key, centre=2.0, spread=0.1, shape="log", unit="1", group="x", origin="assumed", source="invented"
        )
        for key in ("own", *SHARED)
    ]
    known = informed(ParameterSet(tuple(make)), shared)
    u = rng.standard_normal((20000, len(make)))
    scores = np.log(known.values(u)["drag_area"] / 2.0) / 0.1
    assert scores.mean() == pytest.approx(0.8, abs=0.02)
    assert scores.std() == pytest.approx(math.hypot(0.3, 0.2), abs=0.02)
    moved = u.copy()
    moved[:, known.column(EXACT)] += 1.0
    a, b = known.values(u), known.values(moved)
    assert all(np.allclose(a[key], b[key]) for key in a if key != EXACT)
