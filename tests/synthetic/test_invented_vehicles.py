"""Invented vehicles stand in the ranges that text books give."""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np
import pytest

from calmday.synthetic import random_scenario
from calmday.synthetic.air_truth import moist_density, vapour_pressure
from calmday.synthetic.kernel_physics import fuel_rate, full_load, own_torque, rolling_force
from calmday.synthetic.simulate import chosen_vehicle
from calmday.synthetic.vehicle_truth import VehicleFacts, random_vehicle, tyre_diameter

BEST_BSFC = {  # g/kWh, reference sheet 5.4 (M); one engine may leave its class by 15 %, the median may not
    ("direct", "natural"): (205, 240),
    ("direct", "turbocharged"): (195, 215),
    ("indirect", "natural"): (245, 275),
    ("indirect", "turbocharged"): (240, 260),
    ("carburettor", "natural"): (270, 310),
    ("port", "natural"): (240, 265),
}


@pytest.fixture(scope="module")
def vehicles() -> list[VehicleFacts]:
    return [random_vehicle(seed, chosen_vehicle(random_scenario(seed)), 1.0, 0.0) for seed in range(120)]


def specific(facts: VehicleFacts, torque: float, omega: float) -> float:
    """Brake specific consumption [g/kWh], all warm."""
    veh = facts.truth
    own, load = own_torque(veh, torque, omega, 90.0)
    flow = fuel_rate(veh, torque + own, load, omega, veh.thermostat_c)
    return flow * 1e3 * 3600 / (torque * omega / 1e3)


def test_best_specific_consumption(vehicles: list[VehicleFacts]) -> None:
    found: dict[tuple[str, str], list[float]] = defaultdict(list)
    for facts in vehicles:
        veh = facts.truth
        speeds = np.linspace(0.35, 0.7, 6) * veh.governed_speed
        best = min(specific(facts, x * full_load(veh, w), w) for w in speeds for x in (0.6, 0.75, 0.9))
        found[facts.chosen.injection, facts.chosen.induction].append(best)
    assert found.keys() == BEST_BSFC.keys()
    for kind, values in found.items():
        low, high = BEST_BSFC[kind]
        assert low / 1.15 < min(values), kind
        assert max(values) < high * 1.15, kind
        assert low - 3 < np.median(values) < high + 3, kind


def test_idle_flow(vehicles: list[VehicleFacts]) -> None:
    """About 0.3 L/h per litre of displacement (energy.gov Fact 861, S: 0.64 L/h for a 2.0 L diesel)."""
    per_litre = []
    for facts in vehicles:
        veh = facts.truth
        own, load = own_torque(veh, 0.0, veh.idle_speed, 90.0)
        flow = fuel_rate(veh, own, load, veh.idle_speed, veh.thermostat_c)
        per_litre.append(flow * 3600 / facts.density_15 * 1e3 / facts.chosen.litres)
    assert 0.2 < np.median(per_litre) < 0.5
    assert min(per_litre) > 0.12
    assert max(per_litre) < 0.9


def test_cold_tyres_roll_harder_and_soft_ones_too(vehicles: list[VehicleFacts]) -> None:
    veh = vehicles[0].truth
    warm = rolling_force(veh, 80 / 3.6, 0.0, veh.tyre_warm_c)
    assert warm == pytest.approx(veh.mass_kg * 9.80665 * veh.rolling, rel=1e-12)
    assert 1.1 < rolling_force(veh, 80 / 3.6, 0.0, veh.tyre_warm_c - 25) / warm < 1.4
    soft = rolling_force(veh._replace(pressure_ratio=30 / 35), 80 / 3.6, 0.0, veh.tyre_warm_c)
    assert 1.055 < soft / warm < 1.085  # 30 for 35 psi: +6 to 8 % (reference sheet 4.2, M/R)


def test_every_vehicle_can_be_driven(vehicles: list[VehicleFacts]) -> None:
    for facts in vehicles:
        assert 3 <= len(facts.gear_ratios) <= 6
        assert list(facts.gear_ratios) == sorted(facts.gear_ratios, reverse=True)
        assert 0.7 <= facts.chosen.litres <= 3.5
        assert 600 <= facts.truth.mass_kg <= 3500
        assert facts.top_speed_mps > 70 / 3.6, facts.chosen


def test_tyre_diameter() -> None:
    """175/70R13: 575.2 mm (reference sheet 7, R)."""
    assert tyre_diameter("175/70 R13") == pytest.approx(0.5752, abs=1e-6)


def test_air() -> None:
    """CIPM-2007 at 20 degC, 101 325 Pa, 50 %: 1.19931 kg/m^3, p_sv 2339 Pa (S, R); the plain gas law is
    0.05 % off.
    """
    assert moist_density(20.0, 101_325.0, 0.5) == pytest.approx(1.19931, rel=7e-4)
    assert vapour_pressure(20.0) == pytest.approx(2339.16, rel=2e-3)
    assert moist_density(20.0, 100_000.0, 0.5) > moist_density(20.0, 100_000.0, 0.9)


def test_changing_one_choice_leaves_the_rest() -> None:
    plain, windy = random_scenario(8), random_scenario(8, wind_speed_10m_mps=10.5)
    differing = {k for k in plain.__struct_fields__ if getattr(plain, k) != getattr(windy, k)}
    assert differing == {"wind_speed_10m_mps"}
    with pytest.raises(TypeError, match="wind_force"):
        random_scenario(8, wind_force=3)


def test_the_spread_of_scenarios() -> None:
    """Kinds asked for do occur, and lengths and winds fill their ranges."""
    drawn = [random_scenario(seed) for seed in range(400)]
    assert {s.route_kind for s in drawn} == {"smooth loop", "polygon loop", "out and back"}
    assert {s.track_format for s in drawn} == {"gpx 1.1", "gpx 1.0", "nmea", "csv"}
    winds = np.array([s.wind_speed_10m_mps for s in drawn])
    assert winds.min() < 0.3
    assert winds.max() > 10.5
    assert all(1 <= s.laps <= 6 for s in drawn)
    minutes = np.array([s.laps * s.lap_length_m / s.cruise_mps / 60 for s in drawn])
    assert np.quantile(minutes, 0.02) > 15
    assert np.quantile(minutes, 0.98) < 62
    assert math.isclose(np.mean([s.engine_start == "cold" for s in drawn]), 0.45, abs_tol=0.08)
