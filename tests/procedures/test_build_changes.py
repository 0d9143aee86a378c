"""What a change of the build sheet touches."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest

from calmday.model.evidence import SHARED
from calmday.procedures.build_changes import (
    TOUCHED_BY_KEY,
    TOUCHED_BY_WORD,
    UNTOLD,
    kept_of,
    ordered_states,
    state_of,
    untold,
)
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, Vehicle

BASE = Vehicle(name="Invented", final_drive=4.1, engine=Engine(fuel="diesel", displacement_m3=Declared(2.1e-3)))


def later(what: str = "", **new: object) -> Vehicle:
    return msgspec.structs.replace(BASE, since=dt.date(2026, 5, 1), changes=(what,) if what else (), **new)


def test_every_name_in_the_tables_is_a_shared_parameter():
    kept = [*TOUCHED_BY_KEY.values(), *(k for _, k in TOUCHED_BY_WORD), UNTOLD]
    assert {key for table in kept for key in table} <= set(SHARED)
    assert all(0 <= r < 1 for table in kept for r in table.values())


@pytest.mark.parametrize(
    ("change", "touched", "untouched"),
    [
        (later(final_drive=3.7), "gearing_scale", "drag_area"),
        (later("new tyres all round"), "rolling_resistance", "indicated_efficiency"),
        (later("injection timing two degrees later"), "indicated_efficiency", "rolling_resistance"),
        (later("cover on the bed"), "drag_area", "friction_mep"),
        (later(engine=Engine(fuel="petrol")), "indicated_efficiency", "drag_area"),
    ],
    ids=["axle", "tyres", "timing", "cover", "engine"],
)
def test_a_change_touches_what_it_is_about(change: Vehicle, touched: str, untouched: str):
    kept = kept_of(BASE, change)
    assert kept[touched] < 1
    assert untouched not in kept


def test_a_change_that_says_nothing_touches_everything_a_little():
    assert untold(BASE, later("tidied up"))
    assert not untold(BASE, later("new tyres"))
    assert kept_of(BASE, BASE) == {}


def test_states_stand_in_the_order_of_their_dates_and_only_once():
    after = later(final_drive=3.7)
    states = ordered_states([after, BASE, msgspec.structs.replace(BASE), after])
    assert states == [BASE, after]
    assert state_of(after, states) == 1
