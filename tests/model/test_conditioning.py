"""Posterior draws against closed forms and brute force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from model_samples import DIESEL_VAN, random_drive

from calmday.metrology.draws import standard_normal
from calmday.model.basis import AS_DRIVEN, CALM_DAY, Conditions, build_basis, coefficients
from calmday.model.conditioning import RUN_TO_RUN_SD, Conditioned, _systematic, condition, slope_at
from calmday.model.kernel import fuel_energy_factor
from calmday.model.vehicle_model import build

SLOPE = np.array([0.08, -0.05, 0.03, 0.0, 0.06])
LINEAR = 4


def weigh_in(model, size: int, weighed: float, weighed_sd: float, count: int = 20_000, seed: int = 3) -> Conditioned:
    scores = standard_normal(count, size + 2, seed)
    log_fuel = weighed + weighed_sd * scores[:, size + 1]
    return condition(model, scores[:, :size], scores[:, size], log_fuel, seed, LINEAR)


@pytest.mark.parametrize("weighed_sd", [1e-6, 0.004, 0.02])
@pytest.mark.parametrize("surprise", [0.0, 0.15, -0.6])
def test_linear_model_has_the_closed_form(surprise: float, weighed_sd: float) -> None:
    """z | w ~ N(K w, I - K J) and w itself as weighed: mean K (w - c), covariance I - K J + K K' s_w^2."""
    found = weigh_in(lambda z: 1.0 + z @ SLOPE, 5, 1.0 + surprise, weighed_sd)
    gain = SLOPE / (SLOPE @ SLOPE + RUN_TO_RUN_SD**2)
    covariance = np.eye(5) - np.outer(gain, SLOPE) + weighed_sd**2 * np.outer(gain, gain)
    assert found.scores.mean(axis=0) == pytest.approx(gain * surprise, abs=0.02)
    assert np.cov(found.scores.T) == pytest.approx(covariance, abs=0.03)
    assert found.gain == pytest.approx(gain)
    assert found.slope == pytest.approx(SLOPE)
    assert found.effective_draws == pytest.approx(20_000)
    assert found.expected == pytest.approx(1.0)
    assert found.expected_sd == pytest.approx(np.sqrt(SLOPE @ SLOPE + RUN_TO_RUN_SD**2))
    assert found.modelled == pytest.approx(1.0 + found.scores @ SLOPE)


def test_mode_is_the_most_probable() -> None:
    found = weigh_in(lambda z: 1.0 + z @ SLOPE, 5, 1.2, 0.01)
    assert found.mode == pytest.approx(SLOPE * 0.2 / (SLOPE @ SLOPE + RUN_TO_RUN_SD**2 + 0.01**2), rel=1e-3)


def bent(z: np.ndarray) -> np.ndarray:
    """Linear in the last score, bent in the others as products of log-normal parameters are."""
    return np.log(np.exp(0.10 * z[:, 0]) + 0.5 * np.exp(0.20 * z[:, 1] + 0.1 * z[:, 2]) + 0.02 * z[:, 3] ** 2) - (
        0.05 * z[:, 4]
    )


@pytest.mark.parametrize("surprise", [-0.15, 0.0, 0.2])
def test_bent_model_equals_brute_force(surprise: float) -> None:
    """A million prior draws weighted by how well they explain the weighing."""
    weighed = float(bent(np.zeros((1, 5)))[0]) + surprise
    found = weigh_in(bent, 5, weighed, 1e-5, count=30_000)
    assert found.sound
    g = np.random.default_rng(1)
    z = g.standard_normal((1_000_000, 5))
    weight = np.exp(-0.5 * ((weighed - bent(z)) / RUN_TO_RUN_SD) ** 2)
    weight /= weight.sum()
    assert 1 / np.sum(weight**2) > 20_000  # brute force is good enough to judge by
    mean = weight @ z
    assert found.scores.mean(axis=0) == pytest.approx(mean, abs=0.04)
    assert (found.scores**2).mean(axis=0) == pytest.approx(weight @ z**2, abs=0.12)
    for pair in ((0, 1), (1, 3), (0, 4), (2, 4)):
        both = (found.scores[:, pair[0]] * found.scores[:, pair[1]]).mean()
        assert both == pytest.approx(float(weight @ (z[:, pair[0]] * z[:, pair[1]])), abs=0.03)


def test_vehicle_equals_brute_force() -> None:
    """The same on a real vehicle: what the weighing says of its calm-day ratio and of its drag and efficiency."""
    drive = random_drive(11, 40, wind_mps=5.0)
    model = build(DIESEL_VAN, drive, start="warm")
    basis = build_basis(model, drive)

    def log_fuel(scores: np.ndarray, on: Conditions = AS_DRIVEN) -> np.ndarray:
        values = model.parameters.values(scores)
        energy = fuel_energy_factor(basis, coefficients(model, basis, values, on), drive.step_s)
        return np.log(energy / values["indicated_efficiency"])

    size, linear = len(model.parameters), model.parameters.column("indicated_efficiency")
    weighed = float(log_fuel(np.zeros((1, size)))[0]) + 0.08
    scores = standard_normal(16_000, size + 2, 5)
    found = condition(log_fuel, scores[:, :size], scores[:, size], weighed + 1e-4 * scores[:, -1], 5, linear)
    ratio = log_fuel(found.scores, CALM_DAY) - found.modelled
    assert found.modelled == pytest.approx(log_fuel(found.scores), abs=1e-9)

    z = np.random.default_rng(2).standard_normal((80_000, size))
    driven = log_fuel(z)
    weight = np.exp(-0.5 * ((weighed - driven) / RUN_TO_RUN_SD) ** 2)
    weight /= weight.sum()
    plain = log_fuel(z, CALM_DAY) - driven
    mean = float(weight @ plain)
    spread = float(np.sqrt(weight @ (plain - mean) ** 2))
    assert ratio.mean() == pytest.approx(mean, abs=0.08 * spread)
    assert ratio.std() == pytest.approx(spread, rel=0.12)
    for key in ("drag_area", "indicated_efficiency", "friction_mep", "wind_factor"):
        column = model.parameters.column(key)
        assert found.scores[:, column].mean() == pytest.approx(float(weight @ z[:, column]), abs=0.07)


def test_effective_draws_fall_when_the_model_cannot_explain() -> None:
    def stiff(z: np.ndarray) -> np.ndarray:
        """Bends so hard that nothing much above 0.1 can be reached except through the last score."""
        return 0.1 * np.tanh(2 * z[:, 0] + z[:, 1]) + 0.01 * z[:, 4]

    left = [weigh_in(stiff, 5, away, 0.002, 4000).effective_draws for away in (0.0, 0.12, 0.35)]
    assert left[0] > left[1] > left[2]
    assert not weigh_in(stiff, 5, 0.35, 0.002, 4000).sound
    assert weigh_in(lambda z: z @ SLOPE, 5, 0.1, 0.002, 4000).sound


def test_soundness_needs_a_number_and_a_share() -> None:
    found = weigh_in(lambda z: z @ SLOPE, 5, 0.0, 0.002, 1000)
    for effective, sound in ((199.0, False), (200.0, True)):
        made = Conditioned(
            **{n: getattr(found, n) for n in found.__struct_fields__ if n != "effective_draws"},
            effective_draws=effective,
        )
        assert made.sound is sound
    many = weigh_in(lambda z: z @ SLOPE, 5, 0.0, 0.002, 5000)
    fields = {n: getattr(many, n) for n in many.__struct_fields__ if n != "effective_draws"}
    assert not Conditioned(**fields, effective_draws=999.0).sound
    assert Conditioned(**fields, effective_draws=1000.0).sound


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(0.0, 1.0), min_size=2, max_size=40).filter(lambda w: sum(w) > 0.1),
    st.integers(1, 100),
    st.integers(0, 1000),
)
def test_resampling_is_even_handed(raw: list[float], count: int, seed: int) -> None:
    """Each draw appears floor or ceil of its expected number of times (systematic resampling)."""
    weight = np.array(raw) / sum(raw)
    counts = np.bincount(_systematic(weight, count, seed), minlength=weight.size)
    expected = weight * count
    assert counts.sum() == count
    assert np.all(counts >= np.floor(expected - 1e-9))
    assert np.all(counts <= np.ceil(expected + 1e-9))


def test_resampling_is_unbiased_over_seeds() -> None:
    weight = np.array([0.05, 0.4, 0.13, 0.02, 0.4])
    for count in (3, 5):
        counts = np.mean([np.bincount(_systematic(weight, count, s), minlength=5) for s in range(4000)], axis=0)
        assert counts == pytest.approx(count * weight, abs=0.03)


def test_choosing_fewer_among_more() -> None:
    """Four times as many candidates as are kept: the same posterior, and no more effective draws than are kept."""
    scores = standard_normal(40_000, 7, 3)
    log_fuel = 1.1 + 0.002 * scores[:, 6]
    found = condition(lambda z: 1.0 + z @ SLOPE, scores[:, :5], scores[:, 5], log_fuel, 3, LINEAR, keep=10_000)
    assert found.scores.shape == (10_000, 5)
    assert found.picked.max() > 30_000
    assert found.effective_draws == 10_000
    gain = SLOPE / (SLOPE @ SLOPE + RUN_TO_RUN_SD**2)
    assert found.scores.mean(axis=0) == pytest.approx(0.1 * gain, abs=0.03)


def test_slope() -> None:
    """Central differences are exact for a parabola; several outputs at once."""
    point = np.array([0.3, -1.0, 2.0])

    def model(z: np.ndarray) -> np.ndarray:
        return np.stack([z[:, 0] ** 2 + z[:, 1] * z[:, 2], 3 * z[:, 2]], axis=1)

    value, slope = slope_at(model, point)
    assert value == pytest.approx([0.09 - 2.0, 6.0])
    assert slope == pytest.approx(np.array([[0.6, 0.0], [2.0, 0.0], [-1.0, 3.0]]))
    single, gradient = slope_at(lambda z: model(z)[:, 0], point)
    assert single == pytest.approx([-1.91])
    assert gradient[:, 0] == pytest.approx(slope[:, 0])


def test_same_seed_same_draws() -> None:
    one, other = (weigh_in(bent, 5, 0.5, 0.01, 500, seed=9) for _ in range(2))
    assert np.array_equal(one.scores, other.scores)
    assert np.array_equal(one.picked, other.picked)
    assert not np.array_equal(one.scores, weigh_in(bent, 5, 0.5, 0.01, 500, seed=10).scores)
