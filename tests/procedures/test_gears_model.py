"""Gears agree with the forward model, and move the way physics says."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from gears_samples import BREAD_VAN, PLAINS_TRUCK, build_sheet, curve, exactly
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.metrology.figure import from_draws
from calmday.model.basis import AS_DRIVEN, build_basis, coefficients
from calmday.model.cruise import steady_drive
from calmday.model.gears import GearTrace
from calmday.model.kernel import indicated_energy_j
from calmday.physics.power_correction import STANDARDS
from calmday.procedures.gears_forces import (
    Conditions,
    conditions,
    engine_grid,
    fuel_power_w,
    full_load_factor,
    power_needed_w,
    resistance_n,
    sweep,
    thrust_n,
)
from calmday.procedures.gears_holding import crossing, held_speed, in_hand, last_not_negative, steepest_grade
from calmday.procedures.gears_vehicle import prior_of
from calmday.records.vehicle import Engine, Vehicle

VAN = prior_of(BREAD_VAN, 300, 7)
PETROL_VAN = prior_of(
    msgspec.structs.replace(
        BREAD_VAN, engine=msgspec.structs.replace(BREAD_VAN.engine, fuel="petrol", injection="carburettor")
    ),
    300,
    7,
)
GRID = engine_grid(VAN)
WINDS, GRADES, LOADS = st.floats(-5, 15), st.floats(-0.02, 0.08), st.floats(0, 800)


def fastest(vehicle, on):
    grid = engine_grid(vehicle)
    return np.max(
        [np.nan_to_num(held_speed(vehicle, on, sweep(vehicle, on, g, grid)).speed_mps) for g in vehicle.gears], 0
    )


@pytest.mark.parametrize("van", [VAN, PETROL_VAN], ids=["diesel", "petrol"])
@pytest.mark.parametrize(
    ("wind", "grade", "temperature", "pressure"),
    [(0.0, 0.0, 293.15, 100e3), (8.0, 0.03, 263.15, 102e3), (-4.0, 0.01, 308.15, 84e3)],
)
def test_road_load_and_fuel_are_those_of_the_forward_model(van, wind, grade, temperature, pressure):
    """Same draws, same speeds, same gear, same air: force and fuel power within 1e-9 of `model.basis` and
    `model.kernel`."""
    speeds = np.array([12.0, 18.0, 25.0])
    drive = msgspec.structs.replace(
        steady_drive(speeds, grade, wind), temperature_k=np.full(3, temperature), pressure_pa=np.full(3, pressure)
    )
    gear = 3
    turns = van.model.gearing.turns_per_metre[gear] * speeds
    trace = GearTrace(np.full(3, gear), turns)
    basis = build_basis(van.model, drive, (trace, trace))
    taken = coefficients(van.model, basis, van.values, AS_DRIVEN)
    on = Conditions(head_wind_mps=wind, grade=grade, temperature_k=temperature, pressure_pa=pressure)
    grid = np.broadcast_to(speeds, (van.draws, 3))
    ours = resistance_n(van, on, grid) * speeds
    assert ours == pytest.approx(taken.wheel @ basis.wheel, rel=1e-9)
    fuel = fuel_power_w(van, on, grid, grid * van.turns_per_metre(gear)[:, None])
    theirs = indicated_energy_j(basis, taken, np.eye(3)) / van.values["indicated_efficiency"][:, None]
    assert fuel == pytest.approx(theirs, rel=1e-9)


def test_thick_oil_takes_its_part_of_the_thrust():
    """20 N at rest and 20 degC, 0.4 % more for each kelvin less, at 20 m/s 1.8 times that, behind 90 % of driveline."""
    truck = exactly(PLAINS_TRUCK, driveline_drag=20.0, driveline_thickening=0.004)
    speed = np.array([[20.0]])
    engine = speed * truck.turns_per_metre(3)
    mild, frost = (thrust_n(truck, Conditions(temperature_k=k), speed, engine) for k in (293.15, 263.15))
    assert float((mild - frost)[0, 0]) == pytest.approx(0.90 * 20 * (np.exp(0.12) - 1) * 1.8, rel=1e-9)
    needed = [float(power_needed_w(truck, Conditions(temperature_k=k), speed)[0, 0]) for k in (293.15, 263.15)]
    assert needed[1] - needed[0] > 20 * (np.exp(0.12) - 1) * 1.8 * 20, "and stiffer tyres on top"


@given(WINDS, st.floats(0.2, 5), GRADES)
@settings(max_examples=25, deadline=None)
def test_more_wind_never_helps(wind, more, grade):
    calm, windy = (Conditions(head_wind_mps=w, grade=grade) for w in (wind, wind + more))
    assert np.all(fastest(VAN, windy) <= fastest(VAN, calm) + 1e-6)


@given(GRADES, st.floats(0.002, 0.05), LOADS)
@settings(max_examples=25, deadline=None)
def test_steeper_and_heavier_never_help(grade, more, load):
    easy, hard = Conditions(grade=grade), Conditions(grade=grade + more, payload_kg=load if grade > 0 else 0.0)
    assert np.all(fastest(VAN, hard) <= fastest(VAN, easy) + 1e-6)


def test_the_steepest_grade_is_just_held():
    truck = exactly(PLAINS_TRUCK, accessories=400.0)
    for gear in truck.gears:
        grade, at = steepest_grade(truck, Conditions(), sweep(truck, Conditions(), gear, engine_grid(truck)))
        there = in_hand(truck, Conditions(grade=float(grade[0])), gear, float(at[0]))
        assert float(there.reserve_n[0]) == pytest.approx(0, abs=1e-6)
        assert float(there.grade[0]) == pytest.approx(float(grade[0]), rel=1e-9)


def test_what_is_held_is_where_thrust_meets_resistance():
    for gear in (3, 4):
        held = held_speed(VAN, Conditions(), sweep(VAN, Conditions(), gear, GRID))
        for row in np.flatnonzero(~held.at_governor & np.isfinite(held.speed_mps))[:20]:
            there = in_hand(VAN, Conditions(), gear, float(held.speed_mps[row]))
            assert abs(there.reserve_n[row]) < 0.05, "newton"


def test_thin_air_takes_power_from_a_natural_engine_and_less_from_a_turbocharged_one():
    """The standard atmosphere has 1.007 kg/m3 at 2000 m (ISO 2533), the calm day 1.184: 0.850."""
    thin = conditions(altitude_m=2000.0)
    turbo = msgspec.structs.replace(
        BREAD_VAN, engine=msgspec.structs.replace(BREAD_VAN.engine, induction="turbocharged")
    )
    natural_left = full_load_factor(prior_of(BREAD_VAN, 400, 1), thin).mean()
    turbo_left = full_load_factor(prior_of(turbo, 400, 1), thin).mean()
    assert natural_left == pytest.approx(0.850, abs=0.005)
    assert 0.9 < turbo_left < 0.98


def test_a_chart_for_thinner_air_gives_more_in_the_air_of_the_calm_day():
    """ISO 1585 air is 1.157 kg/m3, DIN 70020 air 1.204, the calm day's 1.184."""
    factor = {s: float(full_load_factor(prior_of(BREAD_VAN, 400, 1, s), Conditions()).mean()) for s in STANDARDS}
    assert factor["ISO 1585"] == factor["SAE J1349"] == pytest.approx(1.184 / 1.157, abs=0.005)
    assert factor["DIN 70020"] == pytest.approx(1.184 / 1.204, abs=0.005)


def test_a_stated_chart_standard_narrows_the_answer():
    known, unknown = (full_load_factor(prior_of(BREAD_VAN, 400, 1, s), Conditions()).std() for s in ("ISO 1585", None))
    assert known < unknown


def test_without_a_curve_the_band_is_wide():
    bare = msgspec.structs.replace(BREAD_VAN, engine=msgspec.structs.replace(BREAD_VAN.engine, full_load=None))
    declared, guessed = (from_draws(fastest(prior_of(v, 400, 1), Conditions()), "m/s") for v in (BREAD_VAN, bare))
    assert guessed.half_width > 1.5 * declared.half_width
    assert guessed.low < declared.value < guessed.high


def test_nothing_but_a_name_still_gives_an_answer():
    nobody = prior_of(Vehicle(name="Nobody Knows", engine=Engine()), 300, 1)
    found = from_draws(fastest(nobody, Conditions()), "m/s")
    assert 20 < found.value < 60
    assert found.half_width > 4


def test_the_curve_is_drawn_on_by_its_last_slope_and_never_upwards():
    falling = build_sheet(
        mass=1500, drag_area=1.0, rolling=0.012, radius=0.3, efficiency=0.92, gears=(1.0,), axle=4.0,
        full_load=curve(n1000=100, n3000=120, n4000=100), governed=4400,
    )  # fmt: skip
    assert float(prior_of(falling, 100, 1).torque_nm(np.array([4400 / 60]))[0]) == pytest.approx(92.0)
    rising = msgspec.structs.replace(
        falling, engine=msgspec.structs.replace(falling.engine, full_load=curve(n1000=100, n4000=130))
    )
    assert float(prior_of(rising, 100, 1).torque_nm(np.array([4400 / 60]))[0]) == pytest.approx(130.0)


def test_what_a_run_taught_is_carried_over_but_not_what_has_changed():
    first = prior_of(BREAD_VAN, 300, 7)
    learnt = {key: value * 0 + 2 * value.mean() for key, value in first.values.items()}
    taller = msgspec.structs.replace(BREAD_VAN, final_drive=3.2, test_mass_kg=PLAINS_TRUCK.test_mass_kg)
    now = prior_of(taller, 300, 7, known=(first.model, learnt))
    assert now.values["drag_area"] == pytest.approx(learnt["drag_area"])
    assert now.values["test_mass"].mean() == pytest.approx(1680, rel=0.01)
    assert now.turns_per_metre(4).mean() < first.turns_per_metre(4).mean() * 2


@given(st.lists(st.floats(-10, 10), min_size=3, max_size=3))
def test_the_last_that_is_not_negative(row):
    found = int(last_not_negative(np.array([row]))[0])
    fine = [i for i, value in enumerate(row) if value >= 0]
    assert found == (fine[-1] if fine else -1)


@given(st.floats(0.1, 5), st.floats(0.5, 3))
def test_a_crossing_is_found_to_a_thousandth_of_a_per_cent(root, power):
    low, high = np.array([0.0]), np.array([6.0])

    def f(x):
        return root**power - x**power

    found = float(crossing(f, low, high, f(low), f(high), passes=40)[0])
    assert found == pytest.approx(root, rel=1e-5)
