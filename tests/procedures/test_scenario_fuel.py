"""Fuel and engine speed of the project's worked scenarios from the same equations, by vehicles whose figures are known.

Source: the project's own worked scenarios (computed from P = T n / 9549.3, the road-load formulas and the fuel line
b (P_shaft + fmep V n / 1200); status C). Tolerances are half the last digit unless a reason stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec
import numpy as np
import pytest
from gears_samples import FLATBED, PLAINS_TRUCK, RPM, build_sheet, curve, day, exactly

from calmday.model.defaults import BODY_CLASSES
from calmday.physics.drag import axial_drag_n, levelled_growth, yaw_angle_rad
from calmday.procedures.gears_forces import Conditions, fuel_power_w, power_needed_w, resistance_n
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.records.vehicle import Vehicle

KMH = 3.6
HEATING = 42.8e6


def burning(
    vehicle: Vehicle, grams_per_kwh: float, fmep_bar: float, accessories: float, **values: float
) -> GearVehicle:
    """A vehicle with the fuel line of a scenario: b in g/kWh, friction at any engine speed."""
    values |= {"friction_mep": fmep_bar * 1e5, "friction_slope": 0.0}
    return exactly(vehicle, accessories=accessories, indicated_efficiency=3.6e9 / (grams_per_kwh * HEATING), **values)


def grams_per_km(vehicle: GearVehicle, on: Conditions, gear: int, kmh: float) -> float:
    """Fuel at a steady speed in a gear (from 0)."""
    speed = np.array([[kmh / KMH]])
    watt = float(fuel_power_w(vehicle, on, speed, speed * vehicle.turns_per_metre(gear))[0, 0])
    return watt / HEATING * 1000 / float(speed[0, 0]) * 1000


def with_load(on: Conditions, kg: float) -> Conditions:
    return msgspec.structs.replace(on, payload_kg=kg)


def rpm(vehicle: GearVehicle, gear: int, kmh: float) -> float:
    return kmh / KMH * float(vehicle.turns_per_metre(gear)[0]) / RPM


@pytest.mark.parametrize(("axle", "turns", "top"), [(4.70, 2168, 60.9), (3.60, 1661, 79.5)])
def test_the_roadster_on_either_axle(axle: float, turns: float, top: float) -> None:
    roadster = exactly(
        build_sheet(
            mass=760, drag_area=0.95, rolling=0.014, radius=0.345, efficiency=0.92, governed=2200, litres=2.1,
            cylinders=4, fuel="petrol", gears=(1.0,), axle=axle,
            full_load=curve(n800=105, n1000=112, n1200=115, n1500=113, n1800=106, n2000=99, n2200=90),
        )
    )  # fmt: skip
    assert rpm(roadster, 0, 60.0) == pytest.approx(turns, abs=1)
    assert roadster.governed_rps / float(roadster.turns_per_metre(0)[0]) * KMH == pytest.approx(top, abs=0.05)


def test_a_climb_of_the_flatbed() -> None:
    """620 m of 9 % in second at 31 km/h: 95 g loaded, 77 g empty, 18 g for 400 kg; loaded up and empty back weighed
    104 g (1036 g for ten). Loaded it runs at 92 % of full load, where the program burns more than the straight line of
    the scenario; with an engine of twice the power it is that line."""
    loaded = burning(FLATBED, 210, 2.0, 300.0, full_load_scale=2.0)
    climb = day(1.15, grade=0.09)
    grams = {mass: 0.62 * grams_per_km(loaded, with_load(climb, mass), 1, 31.0) for mass in (0.0, -400.0)}
    assert grams[0.0] == pytest.approx(95, abs=0.5)
    assert grams[-400.0] == pytest.approx(77, abs=0.5)
    knee = burning(FLATBED, 210, 2.0, 300.0)
    assert 0.62 * grams_per_km(knee, climb, 1, 31.0) == pytest.approx(1.02 * grams[0.0], rel=0.01)


def test_the_three_wheeler_at_60() -> None:
    """1,898 rpm, 2.25 kW, 15.8 g/km = 1.90 L/100 (149 imp, 124 US); a two-cylinder fires 31.6 times a second."""
    wren = burning(
        build_sheet(
            mass=430, drag_area=0.42, rolling=0.010, radius=0.26, efficiency=0.90, governed=3200, litres=0.72,
            cylinders=2, gears=(1.0,), axle=3.1,
            full_load=curve(n1200=38, n1600=41, n2000=42, n2400=41, n2800=39, n3200=36),
        ),
        215, 1.9, 150.0,
    )  # fmt: skip
    assert rpm(wren, 0, 60.0) == pytest.approx(1898, abs=1)
    assert rpm(wren, 0, 60.0) * 2 / 120 == pytest.approx(31.6, abs=0.05)
    assert float(power_needed_w(wren, day(1.22), np.array([[60 / KMH]]))[0, 0]) == pytest.approx(2250, abs=5)
    grams = grams_per_km(wren, day(1.22), 0, 60.0)
    assert grams == pytest.approx(15.8, abs=0.05)
    litres = grams / 0.832 / 10
    assert litres == pytest.approx(1.90, abs=0.005)
    assert (282.481 / litres, 235.215 / litres) == pytest.approx((149, 124), abs=0.6)


def test_the_truck_into_the_wind_and_with_it() -> None:
    """Fifth at 90 km/h: 52.7 g/km in still air, 77.5 into 10 m/s, 36.2 with it: 56.9 out and back, +7.8 %, and not
    52.7. At 90 % of full load the program burns more than that straight line; with twice the power it is that line."""
    truck = burning(PLAINS_TRUCK, 194, 1.7, 400.0, full_load_scale=2.0)
    calm, into, along = (grams_per_km(truck, day(1.2, head_wind_mps=w), 4, 90.0) for w in (0.0, 10.0, -10.0))
    assert (calm, into, along) == pytest.approx((52.7, 77.5, 36.2), abs=0.06)
    assert (into + along) / 2 == pytest.approx(56.9, abs=0.06)
    assert 100 * ((into + along) / 2 / calm - 1) == pytest.approx(7.8, abs=0.1)
    knee = burning(PLAINS_TRUCK, 194, 1.7, 400.0)
    assert grams_per_km(knee, day(1.2, head_wind_mps=10.0), 4, 90.0) == pytest.approx(1.024 * into, rel=0.005)


def square_in_a_wind(drag_in_yaw: Callable[[float], float]) -> float:
    """Fuel of the plains truck round a square at 90 km/h in 10 m/s, two sides along the wind and two across, over that
    of still air: the equations of the scenario written out. `drag_in_yaw` drag area over that from ahead, by the yaw in
    degrees; the force along the vehicle is 1/2 rho CdA V_a (v + w_head)."""
    v, rpm = 25.0, 25.0 / (2 * math.pi * 0.33) * 60 * 0.76 * 3.23

    def grams(head: float, cross: float) -> float:
        air, yaw = math.hypot(v + head, cross), math.degrees(math.atan2(abs(cross), v + head))
        force = 1680 * 9.80665 * 0.011 + 0.5 * 1.20 * 1.15 * drag_in_yaw(yaw) * air * (v + head)
        return 194 * (force * v / 1000 / 0.90 + 0.4 + 1.7 * 2.8 * rpm / 1200) / 90

    sides = [grams(10.0, 0.0), grams(-10.0, 0.0), grams(0.0, 10.0), grams(0.0, -10.0)]
    return sum(sides) / 4 / grams(0.0, 0.0)


def square_of_the_program(growth: float) -> float:
    """The same by the program's own drag and fuel line; `growth` of drag with the square of the yaw."""
    truck, speed = burning(PLAINS_TRUCK, 194, 1.7, 400.0, full_load_scale=2.0), np.array([[90 / KMH]])
    head, cross = np.array([10.0, -10.0, 0.0, 0.0]), np.array([0.0, 0.0, 10.0, -10.0])
    level = levelled_growth(yaw_angle_rad(speed[0], head, cross))
    extra = axial_drag_n(1.2, 1.15, growth * level, speed[0], head, cross) - axial_drag_n(1.2, 1.15, 0.0, speed[0])
    turns = speed * truck.turns_per_metre(4)
    calm, *sides = (float(fuel_power_w(truck, day(1.2), speed, turns, each)[0, 0]) for each in (0.0, *extra))
    return sum(sides) / 4 / calm


def test_the_truck_round_a_square() -> None:
    """+11 % at 10 m/s "with side legs and yaw on a square": the scenario's equations give 11.1 with its drag in yaw,
    a tenth more for every 10 degrees and no more beyond 20 (its table A1); on the sides across the wind the yaw is 22
    degrees, the drag area a fifth larger. Without drag in yaw it is +5.8 %, the geometry alone, here as there.

    The program's drag grows with the square of the yaw and levels off at 25 degrees: with the same tenth at 10 degrees
    it is a third larger at 22, and the square costs 17 %; with the growth taken for a pickup 19 %. Against its own law
    in the equations written out it is held to 1.2 points: its force is a polynomial in the wind, true to the second
    order, and a wind of two fifths of the speed is where the fourth shows."""
    assert 100 * (square_in_a_wind(lambda yaw: 1 + min(yaw, 20.0) / 100) - 1) == pytest.approx(11, abs=0.2)
    assert 100 * (square_in_a_wind(lambda yaw: 1.0) - 1) == pytest.approx(5.8, abs=0.05)
    assert 100 * (square_of_the_program(0.0) - 1) == pytest.approx(5.8, abs=0.1)
    level = math.radians(25.0) ** 2
    for growth, percent in ((0.10 / math.radians(10.0) ** 2, 17), (BODY_CLASSES["pickup"].yaw_growth, 19)):

        def squared(yaw: float, k: float = growth) -> float:
            return 1 + k * level * math.tanh(math.radians(yaw) ** 2 / level)

        found = 100 * (square_of_the_program(growth) - 1)
        assert found == pytest.approx(100 * (square_in_a_wind(squared) - 1), abs=1.2)
        assert found == pytest.approx(percent, abs=0.5)


def test_tyre_pressure_of_the_island_car_agrees_with_what_was_weighed() -> None:
    """c = 0.005 + (0.01 + 0.0095 (v/100)^2) / p: 0.01233 at 2.0 bar, 0.01023 at 2.8; road load -7 %, fuel -4.1 %, as
    the eight runs say."""
    found = []
    for bar, expected in ((2.0, 0.01233), (2.8, 0.01023)):
        rolling = 0.005 + (0.01 + 0.0095 * 0.70**2) / bar
        assert rolling == pytest.approx(expected, abs=6e-6)
        car = burning(
            build_sheet(
                mass=900, drag_area=0.68, rolling=rolling, radius=0.28, efficiency=0.90, governed=3600, litres=1.0,
                cylinders=3, gears=(0.85,), axle=4.1,
                full_load=curve(n1400=52, n1800=57, n2200=58, n2600=56, n3000=53, n3400=49, n3600=46),
            ),
            212, 2.0, 250.0,
        )  # fmt: skip
        load = float(resistance_n(car, day(1.22), np.array([[70 / KMH]]))[0, 0])
        found.append((load, grams_per_km(car, day(1.22), 0, 70.0)))
    (hard, much), (easy, less) = found
    assert 100 * (easy / hard - 1) == pytest.approx(-7, abs=0.5)
    assert 100 * (less / much - 1) == pytest.approx(-4.1, abs=0.06)
