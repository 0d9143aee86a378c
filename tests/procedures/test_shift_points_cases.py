"""Changes of gear against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from gears_samples import PLAINS_TRUCK, RPM, build_sheet, curve, day, exactly

from calmday.procedures.gears_forces import engine_grid, sweep
from calmday.procedures.gears_holding import held_speed
from calmday.procedures.shift_points import LOAD_SHARE, for_acceleration, for_least_fuel, fuel_saving
from calmday.records.vehicle import FullLoadCurve


def two_gears(full_load: FullLoadCurve, governed: float, **fields):
    sheet = build_sheet(
        mass=1000, drag_area=0.001, rolling=0.004, radius=0.3, efficiency=0.95, gears=(2.12, 1.46), axle=4.0,
        full_load=full_load, governed=governed,
    )  # fmt: skip
    return exactly(sheet, **fields)


def test_straight_torque():
    """CV-127 (own derivation, D R): T = 240 - 0.03 n, 2.12 to 1.46: 4737.4 rpm where both gears push alike."""
    line = FullLoadCurve((1000 * RPM, 7900 * RPM), (210.0, 3.0))
    found = for_acceleration(two_gears(line, 7900), day(1.2), 0)
    vehicle = two_gears(line, 7900)
    assert float(found.speed_mps[0] * vehicle.turns_per_metre(0)[0]) / RPM == pytest.approx(4737.4, abs=0.1)


def test_round_torque():
    """CV-128 (own derivation, D R): T = 200 [1 - 0.25 (n/2000 - 1)^2]: 4387.4 rpm."""
    rpm = np.linspace(600, 5900, 2000)
    round_curve = FullLoadCurve(tuple(rpm * RPM), tuple(200 * (1 - 0.25 * (rpm / 2000 - 1) ** 2)))
    vehicle = two_gears(round_curve, 5900)
    found = for_acceleration(vehicle, day(1.2), 0)
    assert float(found.speed_mps[0] * vehicle.turns_per_metre(0)[0]) / RPM == pytest.approx(4387.4, abs=0.1)


def test_inertia_of_the_engine_moves_the_change_earlier():
    """What the engine takes to spin up it takes more of in the lower gear, so the taller gear overtakes sooner."""
    line = FullLoadCurve((1000 * RPM, 7900 * RPM), (210.0, 3.0))
    light = two_gears(line, 7900)
    import msgspec  # noqa: PLC0415

    heavy = msgspec.structs.replace(light, engine_inertia_kgm2=np.array([0.4]))
    earlier, later = (float(for_acceleration(v, day(1.2), 0).speed_mps[0]) for v in (heavy, light))
    assert earlier < 0.99 * later


def test_flat_torque_never_crosses():
    vehicle = two_gears(curve(n1000=150, n4000=150), 4000)
    found = for_acceleration(vehicle, day(1.2), 0)
    assert found.at_governor[0]
    assert float(found.speed_mps[0]) == pytest.approx(vehicle.governed_rps / float(vehicle.turns_per_metre(0)[0]))


def test_a_gear_that_cannot_turn_yet_is_not_chosen():
    """The next gear pushes harder everywhere it can turn, but it can turn only from the chart's beginning on."""
    falling = curve(n1000=400, n4000=20)
    sheet = build_sheet(
        mass=1000, drag_area=0.001, rolling=0.004, radius=0.3, efficiency=0.95, gears=(4.0, 1.0), axle=4.0,
        full_load=falling, governed=4000,
    )  # fmt: skip
    vehicle = exactly(sheet)
    found = for_acceleration(vehicle, day(1.2), 0)
    after = float(found.speed_mps[0] * vehicle.turns_per_metre(1)[0]) / RPM
    assert after >= 999.9


def test_least_fuel_waits_for_smooth_running_or_for_a_reserve():
    truck = exactly(PLAINS_TRUCK, accessories=400.0, smooth=1300.0)
    easy = for_least_fuel(truck, day(1.2), 3)
    assert easy.at_smooth[0]
    assert float(easy.speed_mps[0] * truck.turns_per_metre(4)[0]) / RPM == pytest.approx(1300, abs=0.1)
    windy = day(1.2, head_wind_mps=11.0, grade=0.012)
    grid = engine_grid(truck)
    hard = for_least_fuel(truck, windy, 3)
    fifth = sweep(truck, windy, 4, grid)
    needs = fifth.resistance_n / fifth.thrust_n
    assert needs.min() > LOAD_SHARE
    assert np.isnan(hard.speed_mps[0]) or hard.at_governor[0]


def test_a_change_for_reserve_is_where_the_load_is_just_that():
    """Between the smooth limit and governed speed the next gear needs exactly the stated share of its full load."""
    rising = curve(n1000=60, n2000=160, n3000=170, n4000=150)
    sheet = build_sheet(
        mass=1600, drag_area=1.0, rolling=0.012, radius=0.31, efficiency=0.92, gears=(1.5, 1.0), axle=3.6,
        full_load=rising, governed=4000,
    )  # fmt: skip
    vehicle = exactly(sheet, accessories=300.0, smooth=1050.0)
    hill = day(1.2, grade=0.02)
    found = for_least_fuel(vehicle, hill, 0)
    assert not found.at_smooth[0]
    from calmday.procedures.gears_forces import load_at  # noqa: PLC0415

    speed = found.speed_mps[:, None]
    assert float(load_at(vehicle, hill, speed, speed * vehicle.turns_per_metre(1))[0, 0]) == pytest.approx(
        LOAD_SHARE, abs=0.02
    )


def test_the_taller_gear_saves_fuel():
    truck = exactly(PLAINS_TRUCK, accessories=400.0, smooth=1300.0)
    for gear in range(4):
        change = for_least_fuel(truck, day(1.2), gear)
        assert 0 < float(fuel_saving(truck, day(1.2), change)[0]) < 0.7


def test_no_gear_holds_a_wall():
    truck = exactly(PLAINS_TRUCK, accessories=400.0)
    wall = day(1.2, grade=0.39)
    grid = engine_grid(truck)
    assert all(
        np.isnan(held_speed(truck, wall, sweep(truck, wall, g, grid)).speed_mps[0]) for g in list(truck.gears)[1:]
    )
