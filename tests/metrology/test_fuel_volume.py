import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.fuel_volume import (
    BASE_15C_K,
    BASE_60F_K,
    api_from_relative_density,
    density_15c,
    density_15c_from_api,
    density_60f_from_15c,
    density_at,
    expansion_15c,
    expansion_60f,
    relative_density_from_api,
    volume_correction_15c,
    volume_correction_60f,
)

DENSITIES = st.floats(660.0, 1000.0)
TEMPERATURES = st.floats(248.15, 333.15)


@given(DENSITIES, TEMPERATURES)
def test_bringing_density_to_15c_undoes_bringing_it_away(density, temperature):
    there = density_at(density, temperature)
    # The classes leave steps of 1e-6/K at their edges: 0.03 kg/m^3 over 45 K at worst.
    assert density_15c(there, temperature) == pytest.approx(density, abs=0.05)


@given(st.floats(500.0, 1000.0), TEMPERATURES, st.floats(5e-4, 3e-3))
def test_round_trip_with_a_coefficient_of_its_own(density, temperature, coefficient):
    there = density_at(density, temperature, coefficient)
    assert density_15c(there, temperature, coefficient) == pytest.approx(density, rel=1e-9)


@given(DENSITIES)
def test_nothing_to_correct_at_the_base(density):
    assert volume_correction_15c(density, BASE_15C_K) == 1.0
    assert volume_correction_60f(density, BASE_60F_K) == 1.0
    assert density_15c(density, BASE_15C_K) == density


@given(DENSITIES, st.floats(255.0, 330.0))
def test_warm_fuel_is_larger(density, temperature):
    assert volume_correction_15c(density, temperature + 1.0) < volume_correction_15c(density, temperature)


@pytest.mark.parametrize("edge", [770.5, 787.5, 838.5])
def test_classes_meet_at_their_edges(edge):
    assert expansion_15c(edge - 1e-9) == pytest.approx(expansion_15c(edge), abs=2e-6)


@pytest.mark.parametrize("density", [680.0, 745.0, 760.0, 800.0, 832.0, 845.0, 884.0])
def test_metric_and_us_tables_tell_the_same_expansion(density):
    """Two sets of coefficients, two bases, one physics: 54B and 6B agree within 6e-5 over 20 K."""
    density_60f = density_60f_from_15c(density)
    for celsius in (-5.0, 5.0, 25.0, 35.0):
        t = celsius + 273.15
        by_us_table = density_60f * volume_correction_60f(density_60f, t)
        assert by_us_table == pytest.approx(density_at(density, t), rel=6e-5)


def test_expansion_is_as_steep_as_its_own_slope():
    """The coefficient is the logarithmic slope of volume at the base temperature."""
    for density in (700.0, 780.0, 832.0, 900.0):
        slope = (
            math.log(volume_correction_15c(density, BASE_15C_K - 0.01))
            - math.log(volume_correction_15c(density, BASE_15C_K + 0.01))
        ) / 0.02
        assert slope == pytest.approx(expansion_15c(density), rel=1e-6)


def test_rules_of_thumb():
    # Diesel 8.3 to 8.6e-4 per K, petrol 12.1 to 12.3e-4 per K: petroleum handbooks [R].
    assert 8.3e-4 < expansion_15c(835.0) < 8.6e-4
    assert 12.0e-4 < expansion_15c(745.0) < 12.4e-4
    assert expansion_60f(745.0) == pytest.approx(expansion_15c(745.0) / 1.8, rel=5e-3)


@given(st.floats(5.0, 80.0))
def test_api_gravity_both_ways(api):
    assert api_from_relative_density(relative_density_from_api(api)) == pytest.approx(api, abs=1e-9)


def test_water_is_ten_degrees_api():
    assert api_from_relative_density(1.0) == 10.0
    assert density_15c_from_api(35.0) > relative_density_from_api(35.0) * 999.016
