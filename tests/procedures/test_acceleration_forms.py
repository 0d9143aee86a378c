"""Runs from rest against closed forms, and the order of things."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from gears_samples import BREAD_VAN

from calmday.physics.motion import constant_power_acceleration
from calmday.procedures.acceleration import QUARTER_MILE_M, integrate, sprint
from calmday.procedures.gears_forces import Conditions
from calmday.procedures.gears_vehicle import prior_of
from calmday.records.declared import Declared


def test_constant_force():
    """v = a t, s = v^2 / 2 a."""
    speeds = np.linspace(0, 40, 101)
    run = integrate(speeds, np.full((1, 101), 2.5), np.zeros((1, 101)))
    assert float(run.time_to(30.0)[0]) == pytest.approx(12.0, rel=1e-9)
    time, speed = run.over(100.0)
    assert float(speed[0]) == pytest.approx(np.sqrt(2 * 2.5 * 100), rel=2e-4)
    assert float(time[0]) == pytest.approx(float(speed[0]) / 2.5, rel=5e-4)


def test_constant_power():
    """t = m v^2 / 2 P and s = m v^3 / 3 P (physics.motion): within 0.1 % on a grid of 0.4 m/s."""
    speeds = np.arange(0, 40.2, 0.4)
    power, mass = 50_000.0, 1500.0
    force = power / np.maximum(speeds, 0.02) / mass
    run = integrate(speeds, force[None, :], np.zeros((1, speeds.size)))
    time, distance = constant_power_acceleration(power, mass, 30.0)
    assert float(run.time_to(30.0)[0]) == pytest.approx(time, rel=1e-3)
    at = np.interp(30.0, speeds, run.distance_m[0])
    assert at == pytest.approx(distance, rel=1e-3)


def test_a_change_of_gear_costs_its_time_and_its_way():
    speeds = np.linspace(0, 40, 101)
    lost = np.zeros((1, 101))
    lost[0, 50] = 0.7
    with_change = integrate(speeds, np.full((1, 101), 2.0), lost)
    without = integrate(speeds, np.full((1, 101), 2.0), np.zeros((1, 101)))
    assert float(with_change.time_to(30.0)[0] - without.time_to(30.0)[0]) == pytest.approx(0.7)
    gained = np.interp(30.0, speeds, with_change.distance_m[0]) - np.interp(30.0, speeds, without.distance_m[0])
    assert gained == pytest.approx(0.7 * speeds[50], rel=1e-6)


def test_what_is_out_of_reach_is_infinite_and_a_quarter_mile_is_driven_at_top_speed():
    speeds = np.linspace(0, 40, 101)
    slow = np.where(speeds < 15.0, 1.0, -0.1)[None, :]
    run = integrate(speeds, slow, np.zeros((1, 101)))
    assert np.isinf(run.time_to(20.0)[0])
    time, speed = run.over(QUARTER_MILE_M)
    assert float(speed[0]) == pytest.approx(15.0, abs=0.5)
    assert float(time[0]) == pytest.approx(15.0 + (QUARTER_MILE_M - 112.5) / 15.0, rel=0.03)


def test_a_light_vehicle_beats_a_heavy_one_and_a_hill_slows_both():
    heavy, light = (
        prior_of(msgspec.structs.replace(BREAD_VAN, test_mass_kg=Declared(mass)), 100, 3) for mass in (2400.0, 1400.0)
    )
    level, hill = Conditions(), Conditions(grade=0.02)
    times = [float(np.median(sprint(v, on, 3).time_to(15.0))) for v in (light, heavy) for on in (level, hill)]
    assert times[0] < times[1]
    assert times[0] < times[2] < times[3]


def test_nobody_starts_faster_than_the_tyres_grip():
    """0 to 30 km/h: not sooner than at the grip of half the weight at 0.85 (a = 4.3 m/s2) allows."""
    strong = msgspec.structs.replace(BREAD_VAN, test_mass_kg=Declared(500.0))
    run = sprint(prior_of(strong, 200, 3), Conditions(), 3)
    assert float(np.median(run.time_to(30 / 3.6))) > 30 / 3.6 / (0.85 * 0.52 * 9.80665)
