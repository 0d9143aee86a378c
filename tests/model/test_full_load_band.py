"""The band to which a chart was read goes on into thrust, and nowhere twice."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import msgspec
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "procedures"))

from gears_samples import BREAD_VAN

from calmday.model.full_load import CURVE_SD, common_sd, own_sd, trusted
from calmday.procedures.gears_vehicle import prior_of
from calmday.records.vehicle import FullLoadCurve, Vehicle


def with_band(*half_width: float) -> Vehicle:
    curve = BREAD_VAN.engine.full_load
    assert curve is not None
    spread = tuple(
        np.interp(curve.speed_rps, np.linspace(curve.speed_rps[0], curve.speed_rps[-1], len(half_width)), half_width)
    )
    engine = msgspec.structs.replace(BREAD_VAN.engine, full_load=msgspec.structs.replace(curve, half_width=spread))
    return msgspec.structs.replace(BREAD_VAN, engine=engine)


def relative_sd(vehicle: Vehicle) -> np.ndarray:
    drawn = prior_of(vehicle, 4000, 1)
    rps = drawn.curve_rps
    torque = drawn.drawn_torque_nm(rps) * drawn.values["full_load_scale"][:, None]
    return torque.std(axis=0) / torque.mean(axis=0)


def test_without_a_band_nothing_changes():
    assert relative_sd(BREAD_VAN) == pytest.approx(CURVE_SD, rel=0.03)
    assert common_sd(BREAD_VAN.engine.full_load) == CURVE_SD


def test_a_usual_band_is_what_was_assumed_without_one():
    assert relative_sd(with_band(0.0294)) == pytest.approx(CURVE_SD, rel=0.03)


def test_a_band_that_grows_along_the_curve_arrives_at_each_speed():
    """Engine against chart (4.8 %) and reading (half width over 1.96), added in squares."""
    found = relative_sd(with_band(0.01, 0.20))
    engine = math.sqrt(0.05**2 - 0.015**2)
    assert found[0] == pytest.approx(math.hypot(engine, 0.01 / 1.96), rel=0.04)
    assert found[-1] == pytest.approx(math.hypot(engine, 0.20 / 1.96), rel=0.04)


def test_a_chart_at_odds_with_itself_is_trusted_less_where_it_is():
    rps = (25.0, 50.0, 73.3)
    torque = (118.0, 136.0, 110.0)
    power = tuple(2 * math.pi * n * t * f for n, t, f in zip(rps, torque, (1.0, 1.0, 0.93), strict=True))
    found = trusted(FullLoadCurve(rps, torque, power))
    assert found is not None
    assert found.half_width is not None
    assert found.torque_nm[2] == pytest.approx(0.93 * 110)
    assert found.half_width[2] == pytest.approx(math.hypot(0.07, 0.0294), rel=0.01)
    assert own_sd(found, np.array(rps))[0] == 0
