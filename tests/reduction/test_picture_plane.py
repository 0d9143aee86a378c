"""Marks to map: exact where the picture is an affine or projective image of the chart, and a plain fault where marks
cannot do it. The truth is a matrix written down here."""

from __future__ import annotations

import numpy as np
import pytest

from calmday.records.chart_picture import Mark
from calmday.reduction.picture_plane import PlaneError, solve_plane

LINEAR = {"speed": "linear", "torque": "linear", "power": "linear"}
SLANTED = np.array([[8.0, 0.7, 60.0], [-0.4, -4.0, 700.0], [0.0, 0.0, 1.0]])
TILTED = np.array([[8.0, 0.7, 60.0], [-0.4, -4.0, 700.0], [0.002, 0.0007, 1.0]])


def at(matrix: np.ndarray, speed: float, value: float) -> tuple[float, float]:
    """Pixel of a place of the chart."""
    x, y, w = matrix @ np.array([speed, value, 1.0])
    return float(x / w), float(y / w)


def on_axes(matrix: np.ndarray) -> list[Mark]:
    return [
        Mark(at=at(matrix, 10, 0), speed_rps=10.0),
        Mark(at=at(matrix, 80, 0), speed_rps=80.0),
        Mark(at=at(matrix, 10, 20), torque_nm=20.0),
        Mark(at=at(matrix, 10, 150), torque_nm=150.0),
    ]


def crossings(matrix: np.ndarray) -> list[Mark]:
    return [Mark(at=at(matrix, n, t), speed_rps=n, torque_nm=t) for n in (10.0, 80.0) for t in (20.0, 150.0)]


def read(marks: list[Mark], matrix: np.ndarray, scales: dict = LINEAR) -> np.ndarray:
    plane = solve_plane(marks, scales)
    places = np.array([at(matrix, n, t) for n, t in ((15.0, 130.0), (40.0, 90.0), (75.0, 33.0))])
    return plane.values("torque", plane.to_axes("torque", places))


def test_two_marks_on_each_axis_undo_a_slanted_scan():
    assert read(on_axes(SLANTED), SLANTED) == pytest.approx(np.array([[15, 130], [40, 90], [75, 33]]), rel=1e-9)


def test_four_crossings_undo_a_photograph():
    plane = solve_plane(crossings(TILTED), LINEAR)
    assert plane.kind == "projective"
    assert read(crossings(TILTED), TILTED) == pytest.approx(np.array([[15, 130], [40, 90], [75, 33]]), rel=1e-7)


def test_the_power_axis_rides_on_the_crossings_of_torque():
    """Power = 400 x the height of torque: two marks on the right are enough in a photograph too."""
    marks = crossings(TILTED) + [Mark(at=at(TILTED, 80, t), power_w=400 * t) for t in (20.0, 150.0)]
    plane = solve_plane(marks, LINEAR)
    found = plane.values("power", plane.to_axes("power", np.array([at(TILTED, 33.0, 77.0)])))
    assert found[0] == pytest.approx([33.0, 400 * 77.0], rel=1e-7)


def test_there_and_back():
    plane = solve_plane(crossings(TILTED), LINEAR)
    places = np.array([[120.0, 300.0], [400.0, 222.0]])
    assert plane.to_pixels("torque", plane.to_axes("torque", places)) == pytest.approx(places)


def test_logarithmic_axes():
    """u = ln n, v = ln T: a straight map of logarithms."""
    scales = {"speed": "logarithmic", "torque": "logarithmic", "power": "linear"}
    marks = [
        Mark(at=(100.0, 600.0), speed_rps=10.0),
        Mark(at=(500.0, 600.0), speed_rps=100.0),
        Mark(at=(100.0, 600.0), torque_nm=10.0),
        Mark(at=(100.0, 200.0), torque_nm=1000.0),
    ]
    plane = solve_plane(marks, scales)
    found = plane.values("torque", plane.to_axes("torque", np.array([[300.0, 400.0]])))
    assert found[0] == pytest.approx([10**1.5, 100.0])


def test_a_mark_that_contradicts_the_others_is_seen():
    marks = [*on_axes(SLANTED), Mark(at=(at(SLANTED, 45, 0)[0] + 25, at(SLANTED, 45, 0)[1]), speed_rps=45.0)]
    plane = solve_plane(marks, LINEAR)
    assert plane.spare >= 1
    assert plane.residual_px > 8
    assert solve_plane(on_axes(SLANTED), LINEAR).residual_px < 1e-6


@pytest.mark.parametrize(
    ("marks", "axis"),
    [
        ([], "speed"),
        (on_axes(SLANTED)[:2], "torque"),
        (on_axes(SLANTED)[2:], "speed"),
        (on_axes(SLANTED)[:3], "torque"),
        ([*on_axes(SLANTED)[:2], Mark(at=(10, 10), torque_nm=5.0), Mark(at=(12, 12), torque_nm=9.0)], "torque"),
        ([*on_axes(SLANTED)[2:], Mark(at=(10, 10), speed_rps=5.0), Mark(at=(400, 12), speed_rps=5.0)], "speed"),
        ([Mark(at=(x, 5), speed_rps=x, torque_nm=x) for x in (10.0, 200.0)], "torque"),
    ],
)
def test_marks_that_cannot_do_it(marks: list[Mark], axis: str):
    with pytest.raises(PlaneError) as caught:
        solve_plane(marks, LINEAR)
    assert caught.value.axis == axis
    assert caught.value.right


def test_zero_on_a_logarithmic_axis_is_refused():
    with pytest.raises(PlaneError, match="logarithmic"):
        solve_plane([Mark(at=(0, 0), speed_rps=0.0)], {**LINEAR, "speed": "logarithmic"})
