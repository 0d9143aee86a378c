"""Rolling resistance against text books and regulations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.physics.rolling import (
    cold_gauge_pressure_pa,
    pressure_factor,
    rolling_force_n,
    speed_factor,
    temperature_factor,
)

POUND_KG, POUND_FORCE_N, MPH, HP = 0.45359237, 4.4482216152605, 0.44704, 745.6998715822702


def test_rolling_of_text_book_problem() -> None:
    """CV-82, first half: Moran and Shapiro 2.23; 60.80 lbf and 8.917 hp (inputs S, output R)."""
    force = rolling_force_n(3040 * POUND_KG, 0.02)
    assert force / POUND_FORCE_N == pytest.approx(60.80, abs=0.01)
    assert force * 55 * MPH / HP == pytest.approx(8.917, abs=0.001)


def test_truck_rolling() -> None:
    """CV-84: f_r = 0.0041 + 0.000041 V(mph) at 67 mph, 72 500 lb; 496.4 lbf, 66.14 kW (Gillespie ch. 4; inputs S)."""
    coefficient = 0.0041 + 0.000041 * 67
    assert coefficient == pytest.approx(0.006847, abs=1e-6)
    force = rolling_force_n(72_500 * POUND_KG, coefficient)
    assert force / POUND_FORCE_N == pytest.approx(496.4, abs=0.1)
    assert force * 29.9517 == pytest.approx(66.14e3, abs=100)


def test_rolling_part_of_the_worked_road_load() -> None:
    """CV-150: 1900 kg, 0.012: 223.59 N (own golden case; D R)."""
    assert rolling_force_n(1900, 0.012) == pytest.approx(223.59, abs=0.01)


def test_temperature() -> None:
    """CV-93: K0 8.6e-3: 1.129 at 5 degC, 0.871 at 35 degC (UN GTR 15 Annex 4; M R)."""
    assert temperature_factor(278.15, 8.6e-3) == pytest.approx(1.129, rel=1e-12)
    assert temperature_factor(308.15, 8.6e-3) == pytest.approx(0.871, rel=1e-12)
    assert temperature_factor(293.15, 8.6e-3) == 1


def test_gauge_pressure_of_a_cold_tyre() -> None:
    """CV-94: 35 psi at 20 degC is 32.46 psi at 5 degC (gas law; R)."""
    psi = 6894.757293168361
    assert cold_gauge_pressure_pa(35 * psi, 293.15, 278.15) / psi == pytest.approx(32.46, abs=0.01)


def test_pressure_in_the_published_range() -> None:
    """30 against 35 psi: 6 to 8 % more (SAE J2452 exponents 0.4 to 0.5; M R)."""
    assert pressure_factor(30.0, 35.0, 0.4) == pytest.approx(1.0636, abs=1e-4)
    assert pressure_factor(30.0, 35.0, 0.5) == pytest.approx(1.0801, abs=1e-4)


@given(st.floats(-0.3, 0.3), st.floats(100, 5000))
def test_slope_carries_part_of_the_weight(grade: float, mass: float) -> None:
    """Rolling and slope force are the two legs of one weight."""
    normal = rolling_force_n(mass, 1.0, grade)
    along = normal * grade
    assert math.hypot(normal, along) == pytest.approx(mass * 9.80665, rel=1e-12)
    assert rolling_force_n(mass, 0.02, grade) == pytest.approx(0.02 * float(normal))


@given(st.floats(50e3, 500e3), st.floats(50e3, 500e3), st.floats(0.1, 0.9))
def test_pressure_there_and_back(one: float, other: float, exponent: float) -> None:
    assert pressure_factor(one, other, exponent) * pressure_factor(other, one, exponent) == pytest.approx(1)
    if abs(one - other) > 1:
        assert (pressure_factor(one, other, exponent) < 1) == (one > other)


@given(st.floats(150e3, 400e3), st.floats(250, 320), st.floats(250, 320))
def test_gas_law_there_and_back(gauge: float, warm: float, cold: float) -> None:
    there = cold_gauge_pressure_pa(gauge, warm, cold)
    assert cold_gauge_pressure_pa(there, cold, warm) == pytest.approx(gauge)
    if abs(cold - warm) > 1e-3:
        assert (there < gauge) == (cold < warm)


def test_speed_growth() -> None:
    v = np.array([0.0, 50.0, 100.0, 200.0]) / 3.6
    assert speed_factor(v, 0.2) == pytest.approx([1.0, 1.05, 1.2, 1.8])
    assert np.all(speed_factor(v, 0.0) == 1)
