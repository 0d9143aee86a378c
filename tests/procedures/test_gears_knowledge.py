"""Coastdowns make what each gear holds surer, and move it towards the truth that they were invented from."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace

from calmday.operations.gears import conditions, study_gears
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, FullLoadCurve
from calmday.synthetic.coastdown_truth import invented_coastdown

CURVE = FullLoadCurve(tuple(n / 60 for n in (900, 1800, 2700, 4500)), (115.0, 150.0, 148.0, 118.0))


def test_a_day_of_coastdowns_narrows_resistance_and_holds_the_truth() -> None:
    truth, day = invented_coastdown(3, passes=2, wind_10m_mps=1.0)
    engine = Engine(displacement_m3=Declared(2.2e-3), fuel="diesel", governed_speed_rps=Declared(75.0), full_load=CURVE)
    blind = replace(day.vehicle, drag_coefficient=None, engine=engine)
    studies = [study_gears(blind, None, days, draws=200) for days in ((), (replace(day, vehicle=blind),))]
    before, after = (study.answer(conditions(head_wind_mps=6.0), changes=False).road_load for study in studies)
    at = int(np.argmin(np.abs(np.array(before.speed) - 90)))
    assert after.high[at] - after.low[at] < 0.85 * (before.high[at] - before.low[at])
    low, high = np.quantile(studies[1].drawn.values["drag_area"], (0.005, 0.995))
    assert low < truth.drag_area_m2 < high
