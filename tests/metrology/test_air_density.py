import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.air_density import compressibility, moist_air_density, saturation_vapour_pressure

TEMPERATURES = st.floats(248.15, 318.15)
PRESSURES = st.floats(60_000, 108_000)
HUMIDITIES = st.floats(0.0, 1.0)


def magnus_pa(temperature_k):
    """Vapour pressure by another formula: WMO-No. 8, Annex 4.B [M]."""
    c = temperature_k - 273.15
    return 611.2 * np.exp(17.62 * c / (243.12 + c))


@given(TEMPERATURES, PRESSURES, HUMIDITIES)
def test_agrees_with_ideal_moist_air(t, p, h):
    # Ideal gas, Dalton; leaves out Z (up to 0.12 %) and the enhancement factor.
    ideal = (p - 0.378 * h * magnus_pa(t)) / (287.05 * t)
    assert float(moist_air_density(t, p, h)) == pytest.approx(ideal, rel=2.5e-3)


@given(TEMPERATURES, PRESSURES, HUMIDITIES)
def test_moist_air_is_lighter_and_warm_air_is_lighter(t, p, h):
    assert moist_air_density(t, p, 1.0) < moist_air_density(t, p, 0.0)
    assert moist_air_density(t + 1.0, p, h) < moist_air_density(t, p, h)
    assert moist_air_density(t, p + 100.0, h) > moist_air_density(t, p, h)


def test_saturation_pressure_against_steam_tables():
    # IAPWS steam tables: 0.6571 kPa at 1 degC, 2.3393 at 20 degC, 7.3849 at 40 degC [M].
    found = saturation_vapour_pressure(np.array([274.15, 293.15, 313.15]))
    np.testing.assert_allclose(found, [657.1, 2339.3, 7384.9], rtol=6e-4)


def test_shapes_broadcast_and_match_scalars():
    t = np.linspace(270.0, 300.0, 7)
    together = moist_air_density(t, 100_000.0, 0.5)
    assert together.shape == (7,)
    alone = [float(moist_air_density(one, 100_000.0, 0.5)) for one in t]
    np.testing.assert_array_equal(together, alone)


def test_dry_thin_air_becomes_ideal():
    assert float(compressibility(293.15, 1.0, 0.0)) == pytest.approx(1.0, abs=1e-8)
