"""Correction of full-load power against published values; S the source was seen, M from memory, R recomputed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.physics.engine import mean_pressure_pa, power_w
from calmday.physics.power_correction import (
    STANDARDS,
    altitude_rule,
    correction,
    diesel_atmospheric_factor,
    din_70020,
    dry_pressure_pa,
    engine_factor,
    spark_iso_1585,
    spark_sae_j1349,
    specific_injection,
)

PRESSURES = st.floats(80_000, 105_000)
TEMPERATURES = st.floats(258.0, 318.0)


def test_power_and_mean_pressure_of_a_torque():
    """CV-97 (R): 150 N m at 2000 rpm, 2.2 L."""
    watt = float(power_w(150.0, 2000 / 60))
    assert watt == pytest.approx(31_416, abs=0.5)
    assert watt / 745.6998715822702 == pytest.approx(42.13, abs=0.005)
    assert float(mean_pressure_pa(150.0, 2.2e-3)) == pytest.approx(8.568e5, abs=50)


def test_spark_ignition_sae_j1349():
    """CV-98, CV-99 (formula S, arithmetic R), tolerance 1e-5 as printed."""
    assert float(spark_sae_j1349(97_000.0, 303.0)) == pytest.approx(1.03439, abs=1e-5)
    assert float(spark_sae_j1349(101_300.0, 283.0)) == pytest.approx(0.94381, abs=1e-5)


def test_spark_ignition_iso_1585():
    """CV-100 (exponents M, arithmetic R)."""
    assert float(spark_iso_1585(97_000.0, 303.0)) == pytest.approx(1.03508, abs=1e-5)
    assert float(spark_iso_1585(101_300.0, 283.0)) == pytest.approx(0.94313, abs=1e-5)


def test_diesel_factor():
    """CV-101 (exponents M, arithmetic R)."""
    natural = float(diesel_atmospheric_factor(97_000.0, 303.0))
    assert natural == pytest.approx(1.03258, abs=1e-5)
    for engine, factor in ((0.2, 1.00643), (0.3, 1.00966), (1.2, 1.03922)):
        assert natural**engine == pytest.approx(factor, abs=1e-5)
    turbo = float(diesel_atmospheric_factor(97_000.0, 303.0, "turbocharged"))
    assert turbo == pytest.approx(1.04003, abs=1e-5)
    assert turbo**1.2 == pytest.approx(1.04822, abs=1e-5)
    assert float(diesel_atmospheric_factor(101_300.0, 283.0)) == pytest.approx(0.94259, abs=1e-5)


def test_engine_factor_at_its_ends():
    """CV-102 (formula S): 0.1992 at 37.2 by the line, held at 0.2; 1.2 at 65. ISO 1585 holds 0.3 below 40 (M)."""
    assert engine_factor(37.2, "SAE J1349") == pytest.approx(0.1992, abs=1e-6)
    assert engine_factor(30.0, "SAE J1349") == 0.2
    assert engine_factor(40.0) == pytest.approx(0.3, abs=1e-12)
    assert engine_factor(10.0) == 0.3
    assert engine_factor(65.0) == engine_factor(90.0) == 1.2


def test_specific_injection():
    """CV-103 (z S, arithmetic R): 2.2 L, 48 kW at 260 g/kWh, 4000 rpm."""
    fuel = 48 * 260 / 3600 / 1000
    assert specific_injection(fuel, 2.2e-3, 4000 / 60) == pytest.approx(47.27, abs=0.01)
    assert specific_injection(fuel, 2.2e-3, 4000 / 60, boost_ratio=1.5) == pytest.approx(47.27 / 1.5, abs=0.01)


def test_din_70020():
    """Reference 5.2 (M, arithmetic R)."""
    assert float(din_70020(97_000.0, 303.0)) == pytest.approx(1.0620, abs=1e-4)
    assert float(din_70020(101_300.0, 283.0)) == pytest.approx(0.98279, abs=1e-5)


def test_vapour_is_taken_off_the_barometer():
    """Saturation pressure at 25 degC is 3169 Pa (steam tables)."""
    assert dry_pressure_pa(100_000.0, 298.15, 0.5) == pytest.approx(100_000 - 0.5 * 3169, abs=3)


def test_at_the_reference_every_factor_is_one():
    for spark in (True, False):
        for standard in ("ISO 1585", "SAE J1349"):
            found = correction(
                standard, spark=spark, aspiration="natural", pressure_pa=99_000.0, temperature_k=298.0,
                relative_humidity=0.0,
            )  # fmt: skip
            assert found.factor == pytest.approx(1.0, abs=1e-12)
            assert found.within_limits
    assert float(din_70020(101_300.0, 293.0)) == 1.0


def test_a_mountain_is_outside_the_limits_of_the_standards_and_says_so():
    for spark, standard in ((True, "ISO 1585"), (True, "SAE J1349"), (False, "ISO 1585")):
        found = correction(
            standard, spark=spark, aspiration="natural", pressure_pa=70_000.0, temperature_k=290.0, q_c=60.0
        )
        assert not found.within_limits, (spark, standard)
        assert found.factor > 1.1


def test_every_standard_says_how_well_it_is_known():
    for standard in STANDARDS:
        found = correction(standard, spark=False, aspiration="natural", pressure_pa=98e3, temperature_k=290.0)
        assert "memory" in found.status


@given(PRESSURES, PRESSURES, TEMPERATURES, TEMPERATURES)
def test_thin_and_warm_air_is_corrected_upwards(p1: float, p2: float, t1: float, t2: float):
    thin, thick, cool, warm = min(p1, p2), max(p1, p2), min(t1, t2), max(t1, t2)
    for factor in (spark_sae_j1349, spark_iso_1585, diesel_atmospheric_factor, din_70020):
        assert float(factor(thin, warm)) >= float(factor(thick, cool)) - 1e-12


@given(PRESSURES, TEMPERATURES)
def test_a_diesel_with_little_fuel_minds_the_air_least(pressure: float, temperature: float):
    def away(q: float) -> float:
        return abs(
            correction(
                "ISO 1585", spark=False, aspiration="natural", pressure_pa=pressure, temperature_k=temperature, q_c=q
            ).factor
            - 1
        )

    assert away(30.0) <= away(50.0) + 1e-12 <= away(70.0) + 2e-12


def test_altitude_rule_of_the_trade():
    """needs 2.3: 3 % per 300 m, published; 0.855 at 1450 m."""
    assert float(altitude_rule(1450.0)) == pytest.approx(0.855, abs=1e-9)
