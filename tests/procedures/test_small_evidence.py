"""What cheap measurements say of a vehicle: parts of their predictions held against closed forms."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from calmday.model.evidence import SHARED
from calmday.operations.knowledge import knowledge_result
from calmday.procedures.knowledge import know
from calmday.procedures.small_evidence import piece_of_evidence
from calmday.records.declared import Declared
from calmday.records.evidence import SmallEvidence
from calmday.records.vehicle import Engine, FullLoadCurve, TyreSize, Vehicle

RPM = np.array([800, 1200, 2000, 3000, 4000, 4600])
CHART = FullLoadCurve(tuple(RPM / 60), (105.0, 121.0, 139.0, 134.0, 112.0, 90.0))
VAN = Vehicle(
    name="Fen Hauler", body="van", test_mass_kg=Declared(1480.0),
    rolling_resistance=Declared(0.0125),
    tyre=TyreSize("195/75 R16", 0.195, 0.75, 16 * 0.0254, True), gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
    final_drive=4.1, engine=Engine(displacement_m3=Declared(2.1e-3), fuel="diesel", injection="indirect",
                                   governed_speed_rps=Declared(4600 / 60), full_load=CHART),
)  # fmt: skip


def read_to(*half_widths: float) -> Vehicle:
    """The van with its chart traced so well at each engine speed, 95 %."""
    chart = msgspec.structs.replace(CHART, half_width=half_widths)
    return msgspec.structs.replace(VAN, engine=msgspec.structs.replace(VAN.engine, full_load=chart))


def held(vehicle: Vehicle) -> SmallEvidence:
    """Fourth held at 104 km/h: about 3330 rpm."""
    return SmallEvidence(kind="held speed", label="flat out", vehicle=vehicle, readings=(104 / 3.6,), gear=4)


def moved_by_chart(vehicle: Vehicle, key: str) -> float:
    """How far one score of the chart's reading moves the prediction, in spreads of the reading."""
    piece = piece_of_evidence(held(vehicle), 0)
    assert piece is not None
    shared = np.zeros((2, len(SHARED)))
    own = np.zeros((2, len(piece.own)))
    own[1, [parameter.key for parameter in piece.own].index(key)] = 1.0
    off = piece.residuals(shared, own)[:, 0]
    return float(off[1] - off[0])


def test_a_chart_read_evenly_has_no_doubt_of_its_own_at_any_speed() -> None:
    even = read_to(*[0.03] * 6)
    assert moved_by_chart(even, "chart_level") == 0.0
    assert moved_by_chart(even, "chart_tilt") == 0.0
    assert moved_by_chart(VAN, "chart_level") == 0.0


def test_a_chart_read_badly_where_a_speed_was_held_says_less_of_drag() -> None:
    """Read to 3 % below 3000 rpm and to 25 % above: full load at 104 km/h is known to a sixth at best."""
    bad = read_to(0.03, 0.03, 0.03, 0.25, 0.25, 0.25)
    level, tilt = moved_by_chart(bad, "chart_level"), moved_by_chart(bad, "chart_tilt")
    assert np.hypot(level, tilt) > 1.5, "one score moves the prediction further than the reading is good to"
    few = {"draws": 1000, "seed": 3}
    known_well = know(read_to(*[0.03] * 6), evidence=[held(read_to(*[0.03] * 6))], **few).values["drag_area"]
    known_badly = know(bad, evidence=[held(bad)], **few).values["drag_area"]
    assert np.std(np.log(known_badly)) > 1.1 * np.std(np.log(known_well))


def test_the_worst_reading_stands_for_the_place_it_was_made_at() -> None:
    """A chart read badly at its lowest speeds only: nothing is lost for a speed held at 3330 rpm."""
    low = read_to(0.25, 0.25, 0.03, 0.03, 0.03, 0.03)
    assert moved_by_chart(low, "chart_level") == pytest.approx(0.0, abs=1e-9)
    assert moved_by_chart(low, "chart_tilt") == pytest.approx(0.0, abs=1e-9)


def test_what_a_roll_down_is_said_to_be_worth_is_what_it_narrows() -> None:
    """The half width foretold for a roll-down from the draws before it, against pooling one that reads as expected."""
    before = knowledge_result(know(VAN, draws=1500))
    foretold = next(one for one in before.next_measurements if one.code == "roll-down")
    watch = SmallEvidence(kind="roll-down", label="watch", vehicle=VAN, readings=(17.7,), from_mps=80 / 3.6,
                          to_mps=60 / 3.6, both_ways=True)  # fmt: skip
    after = knowledge_result(know(VAN, evidence=[watch], draws=1500))
    narrowed = [one.half_width / one.value for one in (before.level_cruise_80, after.level_cruise_80)]
    assert foretold.half_width_then / foretold.half_width_now == pytest.approx(narrowed[1] / narrowed[0], abs=0.08)
