"""Engine formulas against text books and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.physics.engine import (
    friction_barnes_moss_pa,
    friction_mean_pressure_pa,
    friction_millington_hartles_pa,
    mean_pressure_pa,
    power_w,
    specific_consumption_gpkwh,
    swept_rate_m3ps,
    willans_fuel_rate_kgps,
)


def test_torque_to_power_and_mean_pressure() -> None:
    """CV-97: 150 N m at 2000 rpm, 2.2 L: 31.416 kW, 42.13 hp, 8.568 bar (R)."""
    power = power_w(150, 2000 / 60)
    assert power == pytest.approx(31.416e3, abs=0.5)
    assert power / 745.6998715822702 == pytest.approx(42.13, abs=5e-3)
    assert mean_pressure_pa(150, 2.2e-3) == pytest.approx(8.568e5, abs=50)


def test_rpm_constant() -> None:
    """CV-48: P[kW] = T n / 9549.2966 (60000 / 2 pi; R)."""
    assert power_w(1.0, 9549.2966 / 60) == pytest.approx(1000, rel=1e-8)


def test_efficiency_chain() -> None:
    """CV-104: 120 kW at the shaft, mechanical 0.8, indicated 0.4, 43 MJ/kg (FOSSEE 443 ex. 17.22; inputs S)."""
    friction = 120e3 / 0.8 - 120e3
    rate = willans_fuel_rate_kgps(120e3, friction, 0.4, 43e6)
    assert friction + 120e3 == pytest.approx(150e3)
    assert 60 * rate == pytest.approx(0.5233, abs=1e-4)
    assert rate * 3.6e9 / 120e3 == pytest.approx(261.63, abs=0.01)


def test_fuel_per_stroke() -> None:
    """CV-106: 100 kW, six cylinders, 0.3 kg/kWh, 1500 rpm: 111.11 mg (ex. 9.6; inputs S): six cubic metres swept in
    working strokes of one cubic metre count the strokes."""
    strokes = swept_rate_m3ps(6.0, 1500 / 60)
    assert strokes == 75
    assert 100 * 0.3 / 3600 / strokes * 1e6 == pytest.approx(111.11, abs=0.01)


@pytest.mark.parametrize(("bmep", "expected"), [(2e5, 421.5), (4e5, 316.2), (6e5, 281.0)])
def test_willans_line(bmep: float, expected: float) -> None:
    """CV-107: indicated 0.40, friction 2.0 bar, 42.7 MJ/kg (own derivation; D R), two ways."""
    assert specific_consumption_gpkwh(bmep, 2e5, 0.40, 42.7e6) == pytest.approx(expected, abs=0.1)
    swept = swept_rate_m3ps(2e-3, 30.0)
    rate = willans_fuel_rate_kgps(bmep * swept, 2e5 * swept, 0.40, 42.7e6)
    assert rate / (bmep * swept) * 3.6e9 == pytest.approx(expected, abs=0.1)


def test_idle() -> None:
    """CV-108: 2.2 L at 800 rpm, 1.6 bar, 0.38: 0.5206 kg/h (own derivation; D R)."""
    friction = 1.6e5 * swept_rate_m3ps(2.2e-3, 800 / 60)
    assert 3600 * willans_fuel_rate_kgps(0.0, friction, 0.38, 42.7e6) == pytest.approx(0.5206, abs=1e-3)


def test_idle_measured() -> None:
    """CV-109: a 2.0 L diesel car idles on 0.17 US gal/h = 0.6435 L/h (energy.gov Fact 861; S), within 30 %."""
    friction = 1.6e5 * swept_rate_m3ps(2.0e-3, 800 / 60)
    litres = 3600 * willans_fuel_rate_kgps(350.0, friction, 0.38, 42.7e6) / 0.835
    assert litres == pytest.approx(0.6435, rel=0.30)


def test_friction_correlations() -> None:
    """CV-110: 1.47 and 1.87 bar; 219.1 kPa at 5.733 m/s (Heywood; Millington and Hartles; M R)."""
    assert friction_barnes_moss_pa(2000 / 60) == pytest.approx(1.47e5, abs=1e3)
    assert friction_barnes_moss_pa(3000 / 60) == pytest.approx(1.87e5, abs=1e3)
    stroke = 5.733 / (2 * 2000 / 60)
    assert friction_millington_hartles_pa(2000 / 60, stroke, direct_injection=False) == pytest.approx(219.1e3, abs=100)
    assert friction_millington_hartles_pa(2000 / 60, stroke, direct_injection=True) == pytest.approx(184.1e3, abs=100)


def test_brake_efficiency() -> None:
    """CV-111: 260 g/kWh at 42.7 MJ/kg is 32.43 % (R)."""
    assert specific_consumption_gpkwh(5e5, 0.0, 0.3243, 42.7e6) == pytest.approx(260, abs=0.05)


def test_worked_road_load_fuel() -> None:
    """CV-151: 18.077 kW at 260 g/kWh, 80 km/h, 838 kg/m3: 7.0108 L/100 km (own golden case; D R)."""
    slope = 3.6e9 / 260 / 42.7e6
    rate = willans_fuel_rate_kgps(16.631e3 / 0.92, 0.0, slope, 42.7e6)
    assert rate / (80 / 3.6) / 838 * 1e8 == pytest.approx(7.0108, abs=1e-3)


@given(st.floats(10, 400), st.floats(5, 100), st.floats(0.3e-3, 8e-3), st.sampled_from([2, 4]))
def test_mean_pressure_times_swept_rate_is_power(torque: float, speed: float, litres: float, strokes: int) -> None:
    pressure = mean_pressure_pa(torque, litres, strokes)
    assert pressure * swept_rate_m3ps(litres, speed, strokes) == pytest.approx(float(power_w(torque, speed)))


@given(st.floats(5, 100), st.floats(0, 1.5), st.floats(20, 60))
def test_friction_line(speed: float, slope: float, reference: float) -> None:
    """At the reference speed the reference pressure; its relative slope there is the slope."""
    assert friction_mean_pressure_pa(np.array(reference), 1.8e5, slope, reference) == pytest.approx(1.8e5)
    rise = friction_mean_pressure_pa(np.array([speed, speed + 1]), 1.8e5, slope, reference)
    assert rise[1] - rise[0] == pytest.approx(1.8e5 * slope / reference, abs=1e-6)


@given(st.floats(-2e5, 2e5), st.floats(0, 3e4), st.floats(0.2, 0.5))
def test_fuel_is_never_made(shaft: float, friction: float, efficiency: float) -> None:
    rate = float(willans_fuel_rate_kgps(shaft, friction, efficiency, 42.7e6))
    assert rate >= 0
    assert rate * efficiency * 42.7e6 == pytest.approx(max(shaft + friction, 0.0), abs=1e-6)
    if shaft + friction > 1:
        assert willans_fuel_rate_kgps(shaft + 1000, friction, efficiency, 42.7e6) > rate


def test_two_strokes_work_twice_as_often() -> None:
    assert swept_rate_m3ps(1.0, 10.0, 2) == 2 * swept_rate_m3ps(1.0, 10.0, 4) == 10.0
    assert mean_pressure_pa(100, 1e-3, 2) == pytest.approx(2 * math.pi * 100 / 1e-3)
