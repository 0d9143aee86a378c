"""The sizes of shortcuts that docs/method.md, section 21, gives as measured are the sizes found."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import calmday
from calmday.model import kernel
from calmday.model.basis import DECAY_STEPS, REFERENCE_DENSITY, coefficients, decay_weights
from calmday.physics.drag import axial_drag_n, levelled_growth, wind_in_vehicle_axes, yaw_angle_rad
from calmday.procedures.weighed_run import WeighedRun

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "fen-hauler" / "run.toml"
METHOD = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def reduction() -> calmday.Reduction:
    if not EXAMPLE.exists():
        pytest.skip("examples/fen-hauler is not here")
    return calmday.reduce_run(calmday.read_run(EXAMPLE), draws=2000, seed=1)


@pytest.fixture(scope="module")
def weighed(reduction: calmday.Reduction) -> WeighedRun:
    return reduction.weighed


@pytest.mark.parametrize("claim", ["below 2 % of the warm-up's fuel", "below 1e-9 of the energy", "within a quarter"])
def test_the_claims_stand_in_the_page(claim: str) -> None:
    assert claim in METHOD


@pytest.mark.parametrize("score", [-2.0, -1.0, 0.0, 1.0, 2.0])
@pytest.mark.parametrize("spread", [0.25, 0.30])
def test_interpolated_decay_keeps_the_warm_up(score: float, spread: float) -> None:
    tau, time = math.exp(spread * score), np.arange(0.0, 20.0, 0.01)
    weights = decay_weights(np.array([tau]), 1.0)
    sampled = sum(w[0] * np.exp(-time / node) for w, node in zip(weights, DECAY_STEPS, strict=True))
    exact = np.exp(-time / tau)
    assert abs(sampled.sum() / exact.sum() - 1) < 0.02


def test_settled_seconds_lose_nothing(weighed: WeighedRun, monkeypatch: pytest.MonkeyPatch) -> None:
    simulated, drive = weighed.simulated, weighed.path.drive
    assert simulated is not None
    assert drive is not None
    c = coefficients(simulated.model, simulated.basis, simulated.values)
    seconds = drive.step_s[:, None]
    settled = kernel.indicated_energy_j(simulated.basis, c, seconds)
    monkeypatch.setattr(kernel, "MARGIN", 1e12)  # no second is settled: each is worked out for each draw
    assert np.abs(settled / kernel.indicated_energy_j(simulated.basis, c, seconds) - 1).max() < 1e-9


def test_levelling_at_the_transferred_wind(weighed: WeighedRun) -> None:
    simulated, drive = weighed.simulated, weighed.path.drive
    assert simulated is not None
    assert drive is not None
    own, v = simulated.values, drive.speed_mps
    plain = wind_in_vehicle_axes(drive.wind_east_mps, drive.wind_north_mps, drive.heading_rad)
    differences, costs = [], []
    for row in range(0, 2000, 25):
        p = {key: values[row] for key, values in own.items()}
        cos, sin = np.cos(p["wind_direction"]), np.sin(p["wind_direction"])
        east = p["wind_factor"] * (cos * drive.wind_east_mps + sin * drive.wind_north_mps) + p["wind_offset_east"]
        north = p["wind_factor"] * (cos * drive.wind_north_mps - sin * drive.wind_east_mps) + p["wind_offset_north"]
        head, cross = wind_in_vehicle_axes(east, north, drive.heading_rad)
        still = 0.5 * REFERENCE_DENSITY * p["drag_area"] * float((v**3).sum())
        works = []
        for at in (plain, (head, cross)):
            growth = p["yaw_growth"] * levelled_growth(yaw_angle_rad(v, *at))
            force = axial_drag_n(drive.air_density_kgpm3, p["drag_area"], growth, v, head, cross)
            works.append(float((force * v).sum()))
        differences.append((works[0] - works[1]) / still)
        costs.append(works[1] / still - 1)
    assert np.mean(costs) > 0.03, "the example has a wind to speak of"
    assert np.sqrt(np.mean(np.square(differences))) < 0.005


def test_another_seed_hardly_moves_the_figure(reduction: calmday.Reduction, weighed: WeighedRun) -> None:
    first = reduction.result.calm_day
    assert first is not None
    values = [first.L_per_100km.value]
    for seed in (2, 3, 4):
        again = calmday.reduce_run(weighed.run, draws=2000, seed=seed).result.calm_day
        assert again is not None
        values.append(again.L_per_100km.value)
    assert np.std(values, ddof=1) < 0.1 * first.L_per_100km.standard_uncertainty


def test_the_budget_is_near_the_draws(reduction: calmday.Reduction) -> None:
    result = reduction.result
    assert result.calm_day is not None
    for lines, figure in (
        (result.budget, result.calm_day.L_per_100km),
        (result.budget_as_driven, result.as_driven.L_per_100km),
    ):
        root = math.hypot(*(line.contribution.value for line in lines))
        assert abs(root / figure.standard_uncertainty - 1) < 0.25
        assert math.isclose(sum(line.share for line in lines), 1.0, rel_tol=1e-9)


def test_penalties_add_up_in_every_draw(weighed: WeighedRun) -> None:
    simulated = weighed.simulated
    assert simulated is not None
    total = sum(simulated.penalties.values())
    np.testing.assert_allclose(total, 100 * (np.exp(-simulated.log_ratio) - 1), rtol=0, atol=1e-9)
