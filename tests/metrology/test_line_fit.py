"""A straight line with its doubt, against the worked example of the guide."""

from __future__ import annotations

import math

import pytest

from calmday.metrology.line_fit import fit_line

T = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
B = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
"""Readings and corrections of a thermometer. JCGM 100:2008, Table H.6 (by reference.md, CV-09, CV-10)."""


def test_the_thermometer_of_the_guide() -> None:
    """y1 = -0.1712 (29), y2 = 0.00218 (67), r = -0.930, s = 0.0035; at 30 degC -0.1494 (41)."""
    fit = fit_line([t - 20 for t in T], B)
    assert fit is not None
    (a, b), (_, d) = fit.covariance
    assert fit.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert fit.slope == pytest.approx(0.00218, abs=5e-6)
    assert math.sqrt(a) == pytest.approx(0.0029, abs=5e-5)
    assert math.sqrt(d) == pytest.approx(0.00067, abs=5e-6)
    assert b / math.sqrt(a * d) == pytest.approx(-0.930, abs=5e-4)
    assert fit.scatter == pytest.approx(0.0035, abs=5e-5)
    assert fit.freedom == 9
    value, doubt = fit.at(10.0)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert doubt == pytest.approx(0.0041, abs=5e-5)


@pytest.mark.parametrize(("x", "y"), [((1.0, 2.0), (1.0, 2.0)), ((1.0, 1.0, 1.0), (1.0, 2.0, 3.0))])
def test_too_little_gives_no_line(x: tuple[float, ...], y: tuple[float, ...]) -> None:
    assert fit_line(x, y) is None
