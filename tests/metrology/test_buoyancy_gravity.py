from math import radians, sin, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from calmday.metrology.buoyancy import buoyancy_factor, conventional_mass
from calmday.metrology.gravity import normal_gravity, relative_reading_change


@given(st.floats(0.5, 1.5), st.floats(500.0, 7900.0))
def test_balance_of_forces(air, fuel):
    """A body and the weights that balance it: both lose the air they displace (Archimedes)."""
    weights = 3.0
    mass = weights * buoyancy_factor(air, fuel)
    assert mass - air * mass / fuel == pytest.approx(weights - air * weights / 8000.0, rel=1e-12)


def test_no_air_no_lift_and_steel_needs_none():
    assert buoyancy_factor(0.0, 840.0) == 1.0
    assert buoyancy_factor(1.2, 8000.0) == 1.0


def test_conventional_mass_balances_in_reference_air():
    # OIML D 28: the mass of 8000 kg/m^3 weights which balance the body in air of 1.2 kg/m^3.
    assert conventional_mass(1.0, 840.0) * buoyancy_factor(1.2, 840.0) == pytest.approx(1.0, rel=1e-14)


def test_gravity_series_against_somigliana():
    """Closed form of the same field: Somigliana's formula with GRS80 constants (Moritz 1980) [M]."""
    ellipsoid = Geod(ellps="GRS80")
    for latitude in (0.0, 12.5, 33.0, 45.0, 51.5, 70.0, 90.0):
        s2 = sin(radians(latitude)) ** 2
        k = 0.001931851353  # normal gravity formula constant, GRS80
        closed = 9.7803267715 * (1 + k * s2) / sqrt(1 - ellipsoid.es * s2)
        assert normal_gravity(latitude) == pytest.approx(closed, abs=2e-7)


def test_reading_changes_with_place():
    assert relative_reading_change(50.0, 50.0) == 0.0
    assert relative_reading_change(0.0, 90.0) == pytest.approx(0.0053, abs=5e-5)
    assert normal_gravity(45.0, 1000.0) == pytest.approx(normal_gravity(45.0) - 3.086e-3, abs=1e-12)
