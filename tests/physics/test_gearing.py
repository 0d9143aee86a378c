"""Tyre, gearbox and axle against published examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.physics.engine import power_w
from calmday.physics.gearing import (
    engine_speed_rps,
    mass_factor,
    overall_diameter_m,
    rolling_circumference_m,
    rotating_mass_kg,
    thrust_n,
)

diameter = overall_diameter_m(0.175, 0.70, 13 * 0.0254)
rolling_m = rolling_circumference_m(diameter)
THIRD = 1.46 * 3.944


def test_tyre_size() -> None:
    """CV-123: 175/70R13: 575.2 mm, 1754.4 mm, 917.3 turns a mile (size S; factor 3.05 M)."""
    assert diameter * 1000 == pytest.approx(575.2, abs=0.1)
    assert rolling_m * 1000 == pytest.approx(1754.4, abs=0.1)
    assert rolling_m * 917.3 == pytest.approx(1609.344, abs=0.1 * 1.7544)


def test_bias_ply_rolls_less_far() -> None:
    """2.99 D against 3.05 D (UN R30 Annex 2; M), both below pi D."""
    assert rolling_circumference_m(1.0, radial=False) == pytest.approx(2.99)
    assert rolling_circumference_m(1.0, radial=False) < rolling_circumference_m(1.0) < math.pi


@pytest.mark.parametrize(("ratio", "kmph"), [(3.78, 7.06), (1.46, 18.28), (0.84, 31.77)])
def test_speed_per_thousand(ratio: float, kmph: float) -> None:
    """CV-124 and section 7: 7.06, 18.28, 31.77 km/h per 1000 rpm (ratios S, output R)."""
    turns = engine_speed_rps(1.0, ratio * 3.944, rolling_m)
    assert 1000 / 60 / turns * 3.6 == pytest.approx(kmph, abs=5e-3)


def test_engine_speed_of_a_light_truck() -> None:
    """needs.md appendix B: fifth 0.76 x 3.23, radius 0.33, 25 m/s: 1776 rpm (C)."""
    assert 60 * engine_speed_rps(25.0, 0.76 * 3.23, 2 * math.pi * 0.33) == pytest.approx(1776, abs=0.5)


def test_thrust() -> None:
    """CV-125: 120 N m in third, 0.972 x 0.990, radius 0.27922 m: 2381.4 N (inputs S, output R)."""
    force = thrust_n(120, THIRD, 2 * math.pi * 0.27922, 0.972 * 0.990)
    assert force == pytest.approx(2381.4, abs=0.1)


@pytest.mark.parametrize(
    ("ratio", "gearbox", "kg", "tolerance"),
    [(3.78, 0.1469, 766.0, 0.5), (1.46, 0.0791, 162.6, 0.1), (0.84, 0.0339, 108.0, 0.5)],
)
def test_rotating_mass(ratio: float, gearbox: float, kg: float, tolerance: float) -> None:
    """CV-126 and section 7: engine 0.09, driveline 0.1356, wheels 4 x 1.24 kg m2, 1430 kg (inertias S, rest R)."""
    radius = rolling_m / (2 * math.pi)
    mass = rotating_mass_kg(0.09 + gearbox, 0.1356, 4 * 1.24, ratio * 3.944, 3.944, radius)
    assert mass == pytest.approx(kg, abs=tolerance)
    if ratio == 1.46:
        assert 1 + mass / 1430 == pytest.approx(1.1137, abs=1e-4)


def test_mass_factor_is_the_rotating_mass_of_the_same_parts() -> None:
    """Gillespie eq. 2-9b with nothing between engine and wheels, and no more than the wheels with the clutch open."""
    radius, ratio, mass = 0.279, 5.758, 1430.0
    turns = ratio / (2 * math.pi * radius)
    turning = rotating_mass_kg(0.25, 0.0, 0.0, ratio, 1.0, radius)
    assert mass_factor(turns, 0.25, 0.0, mass, 1.0) == pytest.approx(1 + turning / mass, rel=1e-12)
    assert mass_factor(0.0, 0.25, 0.04, mass, 0.9) == pytest.approx(1.04)


def test_the_assumed_inertia_is_below_the_text_books_rule() -> None:
    """1 + 0.04 + 0.0025 N^2 (Gillespie ch. 2; M) is heavier than the flywheel set of the trade."""
    radius, ratio, mass = 0.30, 4.0, 1400.0
    ours = mass_factor(ratio / (2 * math.pi * radius), 0.12 * 2.0, 0.04, mass, 1.0)
    assert 1.04 < ours < 1.04 + 0.0025 * ratio**2


def test_best_shift_of_a_straight_torque_line() -> None:
    """CV-127: T = 240 - 0.03 n, 2.12 to 1.46: at 4737.4 rpm both gears push alike (own derivation; D R)."""

    def push(rpm: float, ratio: float) -> float:
        return float(thrust_n(240 - 0.03 * rpm * ratio / 2.12, ratio, 1.8, 0.95))

    assert push(4737.4, 2.12) == pytest.approx(push(4737.4, 1.46), rel=1e-4)
    assert push(4637.4, 2.12) > push(4637.4, 1.46)
    assert push(4837.4, 2.12) < push(4837.4, 1.46)


def test_best_shift_of_a_parabola() -> None:
    """CV-128: T = 200 [1 - 0.25 (n/2000 - 1)^2]: shift at 4387.4 rpm, power peak at 3737.0 (own derivation; D R)."""

    def torque(rpm: float) -> float:
        return 200 * (1 - 0.25 * (rpm / 2000 - 1) ** 2)

    low = thrust_n(torque(4387.4), 2.12, 1.8, 0.95)
    high = thrust_n(torque(4387.4 * 1.46 / 2.12), 1.46, 1.8, 0.95)
    assert low == pytest.approx(high, rel=1e-4)
    peak = [float(power_w(torque(rpm), rpm / 60)) for rpm in (3727.0, 3737.0, 3747.0)]
    assert peak[1] == max(peak)


@given(st.floats(1, 60), st.floats(2, 20), st.floats(1.2, 3.2), st.floats(10, 300), st.floats(0.7, 1.0))
def test_power_goes_through(speed: float, ratio: float, circumference: float, torque: float, efficiency: float) -> None:
    """Force times road speed is efficiency times torque times engine speed."""
    turns = engine_speed_rps(speed, ratio, circumference)
    force = thrust_n(torque, ratio, circumference, efficiency)
    assert force * speed == pytest.approx(efficiency * float(power_w(torque, turns)), rel=1e-12)


@given(st.floats(0.05, 0.3), st.floats(0, 1), st.floats(1, 6), st.floats(1, 16), st.floats(1, 16))
def test_a_lower_gear_turns_more_mass(flywheel: float, shaft: float, wheels: float, one: float, other: float) -> None:
    masses = [rotating_mass_kg(flywheel, shaft, wheels, ratio, 4.0, 0.3) for ratio in sorted((one, other))]
    assert masses[0] <= masses[1]
    assert masses[0] >= wheels / 0.09
