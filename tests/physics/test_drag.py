"""Air drag against published wind triangles, closed forms on loops, and what must hold at any wind."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.physics.drag import (
    LEVELLING_YAW_RAD,
    air_speed_mps,
    axial_drag_n,
    levelled_growth,
    wind_in_vehicle_axes,
    yaw_angle_rad,
)

MPH = 0.44704
SPEEDS = st.floats(0.1, 60.0)
WINDS = st.floats(-25.0, 25.0)
ANGLES = st.floats(-10.0, 10.0)


def around(ratio: float, count: int = 7200) -> tuple[np.ndarray, np.ndarray]:
    """Head and cross wind, in units of the road speed, of a drive that has every heading equally."""
    heading = 2 * math.pi * (np.arange(count) + 0.5) / count
    return wind_in_vehicle_axes(np.full(count, -ratio), np.zeros(count), heading)


def along_the_wind(head: np.ndarray | float, cross: np.ndarray | float) -> np.ndarray:
    """Axial drag over calm drag of a body whose coefficient is constant along the relative wind: V_r^2 cos(psi)."""
    one = np.ones_like(np.asarray(head))
    return air_speed_mps(one, head, cross) ** 2 * np.cos(yaw_angle_rad(one, head, cross))


def test_wind_triangle() -> None:
    """CV-76: 50 mph with a pure side wind of 10 mph, 51.0 mph at 11.3 degrees (a public calculation; status S R)."""
    speed = air_speed_mps(np.array(50 * MPH), np.array(0.0), np.array(10 * MPH))
    yaw = yaw_angle_rad(np.array(50 * MPH), np.array(0.0), np.array(10 * MPH))
    assert speed / MPH == pytest.approx(50.99, abs=0.01)
    assert math.degrees(yaw) == pytest.approx(11.31, abs=0.01)


@pytest.mark.parametrize(("ratio", "expected"), [(0.2, 1.029925), (0.3, 1.067117)])
def test_circle(ratio: float, expected: float) -> None:
    """CV-77: exact mean over all headings (own derivation; D R)."""
    assert np.mean(along_the_wind(*around(ratio))) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("ratio", [0.05, 0.1, 0.2, 0.3])
def test_circle_with_growth(ratio: float) -> None:
    """Without growth the polynomial is CV-77 to fourth order; with any k it is 1 + (3/4 + k/2) r^2."""
    head, cross = around(ratio)
    for growth in (0.0, 3.0):
        mean = np.mean(axial_drag_n(2.0, 1.0, growth, 1.0, head, cross))
        assert mean == pytest.approx(1 + (0.75 + growth / 2) * ratio**2, rel=1e-9)
    assert np.mean(axial_drag_n(2.0, 1.0, 0.0, 1.0, head, cross)) == pytest.approx(
        np.mean(along_the_wind(head, cross)), abs=0.06 * ratio**4
    )


def test_out_and_back() -> None:
    """CV-78: 1 + r^2 exactly (own derivation; D R), whatever the yaw growth."""
    both = axial_drag_n(2.0, 1.0, 4.0, 1.0, np.array([0.2, -0.2]))
    assert np.mean(both) == pytest.approx(1.04, rel=1e-14)


def test_square_loop() -> None:
    """CV-79: sides along and across a wind of one fifth of the speed (own derivation; D R)."""
    head, cross = np.array([0.2, -0.2, 0.0, 0.0]), np.array([0.0, 0.0, 0.2, -0.2])
    assert np.mean(along_the_wind(head, cross)) == pytest.approx(1.029902, abs=1e-6)


@pytest.mark.parametrize(("ratio", "degrees"), [(0.2, 8.144), (0.3, 12.296)])
def test_rms_yaw_on_a_circle(ratio: float, degrees: float) -> None:
    """CV-80 (own derivation; D R)."""
    head, cross = around(ratio)
    yaw = yaw_angle_rad(np.ones_like(head), head, cross)
    assert math.degrees(np.sqrt(np.mean(yaw**2))) == pytest.approx(degrees, abs=0.002)


def test_pure_cross_wind() -> None:
    """CV-81: 80 km/h, 5 m/s from the side, coefficient along the wind (own derivation; D R)."""
    v, head, cross = np.array(80 / 3.6), np.array(0.0), np.array(5.0)
    assert air_speed_mps(v, head, cross) == pytest.approx(22.778, abs=1e-3)
    assert math.degrees(yaw_angle_rad(v, head, cross)) == pytest.approx(12.68, abs=5e-3)
    assert along_the_wind(0.0, 5.0 / (80 / 3.6)) == pytest.approx(1.0250, abs=1e-4)


def test_truck_drag() -> None:
    """CV-83: Gillespie ch. 4 example 1 in the metric data of a course file; 3130.1 N, 93.75 kW (inputs S, output R)."""
    force = axial_drag_n(1.07, 0.65 * 10.0335, 0.0, 29.9517)
    assert force == pytest.approx(3130.1, abs=0.1)
    assert force * 29.9517 == pytest.approx(93.75e3, abs=10)
    assert force / 4.4482216152605 == pytest.approx(703.7, abs=0.1)


def test_drag_of_text_book_problem() -> None:
    """CV-82, second half: Moran and Shapiro 2.23; 12.62 lbf and 1.851 hp at 55 mph (inputs S, output R)."""
    density = 0.08 * 0.45359237 / 0.3048**3
    force = axial_drag_n(density, 0.25 * 6.24 * 0.3048**2, 0.0, 55 * MPH)
    assert force / 4.4482216152605 == pytest.approx(12.62, abs=0.01)
    assert force * 55 * MPH / 745.6998715822702 == pytest.approx(1.851, abs=0.001)


def test_air_part_of_the_worked_road_load() -> None:
    """CV-150: 335.06 N calm, 431.63 N with 3 m/s ahead (own golden case; D R)."""
    assert axial_drag_n(1.18, 1.15, 0.0, 80 / 3.6) == pytest.approx(335.06, abs=0.01)
    assert axial_drag_n(1.18, 1.15, 0.0, 80 / 3.6, 3.0) == pytest.approx(431.63, abs=0.01)


@pytest.mark.parametrize(
    ("to_east", "to_north", "heading", "head", "cross"),
    [
        (0.0, -5.0, 0.0, 5.0, 0.0),  # a north wind meets a northbound nose
        (0.0, -5.0, math.pi, -5.0, 0.0),
        (5.0, 0.0, 0.0, 0.0, 5.0),  # a west wind pushes a northbound car to its right
        (5.0, 0.0, math.pi / 2, -5.0, 0.0),
        (5.0, 0.0, math.pi, 0.0, -5.0),
        (0.0, -5.0, math.pi / 2, 0.0, 5.0),
    ],
)
def test_compass(to_east: float, to_north: float, heading: float, head: float, cross: float) -> None:
    got = wind_in_vehicle_axes(np.array(to_east), np.array(to_north), np.array(heading))
    assert got == (pytest.approx(head, abs=1e-12), pytest.approx(cross, abs=1e-12))


@given(WINDS, WINDS, ANGLES, ANGLES)
def test_turning_all_changes_nothing(east: float, north: float, heading: float, turn: float) -> None:
    """The vehicle feels the wind relative to itself: turning road and wind together changes nothing; speed is kept."""
    head, cross = wind_in_vehicle_axes(np.array(east), np.array(north), np.array(heading))
    cos, sin = math.cos(turn), math.sin(turn)  # clockwise, as headings go
    turned = np.array(east * cos + north * sin), np.array(north * cos - east * sin)
    again = wind_in_vehicle_axes(*turned, np.array(heading + turn))
    assert again == (pytest.approx(head, abs=1e-9), pytest.approx(cross, abs=1e-9))
    assert math.hypot(head, cross) == pytest.approx(math.hypot(east, north), abs=1e-9)


@given(SPEEDS, WINDS, WINDS, st.floats(0.0, 8.0))
def test_side_does_not_matter(speed: float, head: float, cross: float, growth: float) -> None:
    left = axial_drag_n(1.2, 0.8, growth, speed, head, cross)
    assert left == axial_drag_n(1.2, 0.8, growth, speed, head, -cross)
    assert levelled_growth(yaw_angle_rad(np.array(speed), np.array(head), np.array(cross))) == pytest.approx(
        levelled_growth(yaw_angle_rad(np.array(speed), np.array(head), np.array(-cross))), rel=1e-12
    )


@given(SPEEDS, WINDS, WINDS, st.floats(0.0, 8.0), st.floats(0.1, 3.0))
def test_dimensions(speed: float, head: float, cross: float, growth: float, scale: float) -> None:
    """Linear in density and area, square in all speeds together."""
    force = axial_drag_n(1.2, 0.8, growth, speed, head, cross)
    assert axial_drag_n(1.2 * scale, 0.8, growth, speed, head, cross) == pytest.approx(scale * force)
    assert axial_drag_n(1.2, 0.8 * scale, growth, speed, head, cross) == pytest.approx(scale * force)
    moved = axial_drag_n(1.2, 0.8, growth, speed * scale, head * scale, cross * scale)
    assert moved == pytest.approx(scale**2 * force, rel=1e-9, abs=1e-9)


@given(SPEEDS, WINDS, WINDS, st.floats(0.0, 8.0), st.floats(0.01, 5.0))
def test_more_wind_from_ahead_or_aside_is_never_less_drag(
    speed: float, head: float, cross: float, growth: float, more: float
) -> None:
    force = axial_drag_n(1.2, 0.8, growth, speed, head, cross)
    assert axial_drag_n(1.2, 0.8, growth, speed, head + more, cross) > force
    assert axial_drag_n(1.2, 0.8, growth, speed, head, abs(cross) + more) > force


@given(SPEEDS, st.floats(0.0, 8.0))
def test_no_wind(speed: float, growth: float) -> None:
    force = axial_drag_n(1.2, 0.8, growth, speed)
    assert force == pytest.approx(0.5 * 1.2 * 0.8 * speed**2, rel=1e-14)
    assert yaw_angle_rad(np.array(speed), np.array(0.0), np.array(0.0)) == 0


def test_a_gale_from_behind_pushes() -> None:
    assert axial_drag_n(1.2, 0.8, 3.0, 5.0, -12.0) == pytest.approx(-0.5 * 1.2 * 0.8 * 49)


@given(st.floats(-math.pi, math.pi))
def test_growth_levels_off(yaw: float) -> None:
    """What is left of the growth lies between 0 and (practically) 1 at any yaw, also with the wind overtaking."""
    left = float(levelled_growth(np.array(yaw)))
    assert 0 < left < 1.005
    assert left * math.sin(yaw) ** 2 <= LEVELLING_YAW_RAD**2 * 1.0001


def test_growth_is_full_at_small_yaw_and_level_at_large() -> None:
    small = np.radians([0.0, 0.001, 0.1, 1.0, 5.0])
    assert levelled_growth(small) == pytest.approx(1.0, abs=0.004)
    wide = levelled_growth(np.radians([60.0, 90.0])) * np.sin(np.radians([60.0, 90.0])) ** 2
    assert wide == pytest.approx(LEVELLING_YAW_RAD**2, rel=1e-3)


@given(st.floats(0.0, math.pi / 2))
def test_growth_from_ahead_and_from_behind_is_the_same(yaw: float) -> None:
    """Air that overtakes the vehicle meets it tail first under the same angle to its axis."""
    front, back = levelled_growth(np.array(yaw)), levelled_growth(np.array(math.pi - yaw))
    assert back == pytest.approx(front, rel=1e-6)
