"""Power against torque x speed.

Units: 1 kW = 1.35962 PS = 1.34102 hp, 1 lbf ft = 1.35582 N m (NIST SP 811, appendix B; BIPM SI brochure for kgf).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from calmday.physics.power_torque import agreement, lower_of_both

RPM = np.array([1500, 2000, 2500, 3000, 3500, 4000, 4400.0])
TORQUE = np.array([118.0, 132.0, 138.0, 136.0, 130.0, 122.0, 110.0])
KILOWATT = np.array([18.5, 27.6, 36.1, 42.7, 47.6, 52.0, 54.0])


def test_the_chart_that_disagrees_with_itself():
    """Scenario: the first five agree within 0.3 %, 4,000 is +1.8 %, 4,400 is +6.5 % (torque gives 50.7 kW)."""
    found = agreement(RPM / 60, TORQUE, 1000 * KILOWATT)
    assert found.verdict == "part"
    assert found.off.tolist() == [False] * 5 + [True, True]
    assert np.abs(found.ratio[:5] - 1).max() < 0.003
    assert found.ratio[5] == pytest.approx(1.018, abs=0.001)
    assert found.ratio[6] == pytest.approx(1.065, abs=0.001)
    assert 2 * math.pi * RPM[6] / 60 * TORQUE[6] == pytest.approx(50.7e3, abs=50)
    torque, band = lower_of_both(RPM / 60, TORQUE, 1000 * KILOWATT, found)
    assert torque.tolist() == TORQUE.tolist(), "torque is the lower of the two here"
    assert band[6] == pytest.approx(0.065, abs=0.001)
    assert not band[:5].any()


def test_the_lower_of_both_is_taken_where_power_is_lower():
    power = 2 * math.pi * RPM / 60 * TORQUE * np.array([1, 1, 1, 1, 1, 0.97, 0.9])
    torque, band = lower_of_both(RPM / 60, TORQUE, power, agreement(RPM / 60, TORQUE, power))
    assert torque[6] == pytest.approx(0.9 * TORQUE[6])
    assert band[6] == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("factor", "word"),
    [(1.35962, "(PS)"), (1.34102, "horsepower"), (1 / 1.34102, "kW"), (9.80665, "kgf m"), (0.737562, "N m"),
     (1.35582, "lb ft"), (7.23301, "kgf m"), (0.138255, "lb ft"), (0.101972, "N m")],
)  # fmt: skip
def test_a_unit_is_guessed_from_one_factor(factor: float, word: str):
    true = 2 * math.pi * RPM / 60 * TORQUE
    found = agreement(RPM / 60, TORQUE, factor * true)
    assert found.verdict == "unit"
    assert any(word in words for words in found.units)


def test_metric_horsepower_and_pound_feet_cannot_be_told_apart_and_both_are_named():
    found = agreement(RPM / 60, TORQUE, 1.359 * 2 * math.pi * RPM / 60 * TORQUE)
    assert len(found.units) == 2


def test_a_factor_that_is_no_unit_is_not_called_one():
    assert agreement(RPM / 60, TORQUE, 1.12 * 2 * math.pi * RPM / 60 * TORQUE).verdict == "part"


def test_an_engine_speed_axis_read_off_by_two_hundred():
    power = 2 * math.pi * RPM / 60 * TORQUE
    found = agreement((RPM + 200) / 60, TORQUE, power)
    assert found.verdict == "speed axis"
    assert 60 * found.shift_rps == pytest.approx(-200, abs=1)


def test_no_torque_at_the_end_of_a_droop_is_no_disagreement():
    assert agreement(np.array([50.0, 53.0]), np.array([59.0, 0.0]), np.array([18535.0, 0.0])).verdict == "agree"
