import math
from typing import get_args

import pytest

from calmday.metrology.fuel_volume import TABLE_54B_LOWEST_KGPM3
from calmday.metrology.fuels import FUELS, UNKNOWN, density_within_standard, fuel_properties
from calmday.records.vehicle import FuelKind


def test_every_kind_a_file_may_name_is_known():
    assert set(FUELS) == set(get_args(FuelKind))
    assert fuel_properties(None) is UNKNOWN


@pytest.mark.parametrize("fuel", [*FUELS.values(), UNKNOWN], ids=lambda fuel: fuel.kind)
def test_figures_are_physical_and_sourced(fuel):
    assert 0 < fuel.density_15_sd_kgpm3 < 0.06 * fuel.density_15_kgpm3
    assert 0 < fuel.net_heating_value_sd_jpkg < 0.03 * fuel.net_heating_value_jpkg
    assert 0 < fuel.co2_sd_kgpkg < 0.03 * fuel.co2_kgpkg
    assert len(fuel.density_source) > 10 and len(fuel.heating_value_source) > 5 and len(fuel.co2_source) > 5
    if fuel.density_limits_kgpm3:
        assert density_within_standard(fuel.kind, fuel.density_15_kgpm3)
        assert fuel.standard


@pytest.mark.parametrize("fuel", FUELS.values(), ids=lambda fuel: fuel.kind)
def test_carbon_dioxide_per_energy_is_that_of_its_family(fuel):
    """60 to 80 g/MJ for every liquid road fuel: IPCC 2006 defaults 63.1 LPG, 69.3 petrol, 74.1 diesel [M]."""
    assert 60.0 < 1e9 * fuel.co2_kgpkg / fuel.net_heating_value_jpkg < 80.0


@pytest.mark.parametrize("fuel", FUELS.values(), ids=lambda fuel: fuel.kind)
def test_fuels_outside_the_petroleum_tables_bring_their_own_expansion(fuel):
    if fuel.density_15_kgpm3 < TABLE_54B_LOWEST_KGPM3:
        assert fuel.expansion_per_k is not None


def test_e10_lies_between_petrol_and_ethanol_by_mass():
    share = 0.1 * 794.0 / (0.1 * 794.0 + 0.9 * 745.0)
    petrol, ethanol, blend = FUELS["petrol"], FUELS["ethanol"], FUELS["e10"]
    for name in ("net_heating_value_jpkg", "co2_kgpkg"):
        mixed = (1 - share) * getattr(petrol, name) + share * getattr(ethanol, name)
        assert getattr(blend, name) == pytest.approx(mixed, rel=2e-3)


def test_diesel_spread_is_the_standards_band():
    low, high = FUELS["diesel"].density_limits_kgpm3
    assert FUELS["diesel"].density_15_sd_kgpm3 == pytest.approx((high - low) / math.sqrt(12), abs=0.05)


def test_limits():
    assert density_within_standard("diesel", 820.0) and not density_within_standard("diesel", 819.9)
    assert density_within_standard("lpg", 540.0) is None
    with pytest.raises(KeyError):
        fuel_properties("paraffin")
