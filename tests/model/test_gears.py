"""Gears found on traces made by hand."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from model_samples import BARE, DIESEL_VAN, changed, random_drive

from calmday.model.gears import EARLY_SPEED_SHARE, HOLD_S, LATE_SPEED_SHARE, full_load_power_w, likely_gears
from calmday.model.vehicle_model import VehicleModel, build
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine

VAN = build(DIESEL_VAN, random_drive(1, 10))
"""195/75 R16 on 4.1: 1.923 turns per metre in direct; governed 4600 rpm, idle 800 rpm."""


def gears(
    kmph: np.ndarray | list[float], power_w: float = 3000.0, share: float = EARLY_SPEED_SHARE, step_s: float = 1.0
) -> np.ndarray:
    speed = np.asarray(kmph) / 3.6
    return likely_gears(VAN, speed, np.full(speed.size, step_s), np.full(speed.size, power_w), share).gear


def engine_rpm(kmph: float, gear: int) -> float:
    return kmph / 3.6 * VAN.gearing.turns_per_metre[gear] * 60


def changes_up_at(gear: int, share: float) -> float:
    """Road speed (km/h) from which a gear keeps the engine at `share` of governed speed, or a quarter above idling."""
    floor = max(share * 4600, 1.25 * 800)
    return floor / 60 / VAN.gearing.turns_per_metre[gear] * 3.6


@pytest.mark.parametrize("share", [EARLY_SPEED_SHARE, LATE_SPEED_SHARE])
@pytest.mark.parametrize("gear", [1, 2, 3, 4])
def test_steady_speeds(gear: int, share: float) -> None:
    """The tallest gear that keeps the habit's engine speed: just above that speed this one, below it the one before."""
    speed = changes_up_at(gear, share)
    assert np.all(gears(np.full(20, 1.02 * speed), 1000.0, share) == gear)
    assert np.all(gears(np.full(20, 0.98 * speed), 1000.0, share) == gear - 1)


def test_late_habit_keeps_lower_gears() -> None:
    speeds = np.linspace(12, 120, 200)
    early, late = gears(speeds), gears(speeds, share=LATE_SPEED_SHARE)
    assert np.all(late <= early)
    assert np.any(late < early)
    held = likely_gears(VAN, speeds / 3.6, np.ones(200), np.full(200, 3000.0), LATE_SPEED_SHARE)
    assert np.all(held.engine_rps[speeds > 25] >= LATE_SPEED_SHARE * VAN.governed_rps * 0.85)


def test_power_asked_drops_a_gear() -> None:
    """At 60 km/h fifth has about 22 kW at 1596 rpm: 10 kW stay in fifth, 30 kW ask for a lower gear."""
    easy, hard = gears(np.full(30, 60.0), 10e3)[0], gears(np.full(30, 60.0), 30e3)[0]
    assert easy == 4
    assert hard < 4
    for gear, asked in ((easy, 10e3), (hard, 30e3)):
        available = full_load_power_w(VAN, np.array([engine_rpm(60, gear) / 60]))[0]
        assert available >= 1.05 * asked
    next_up = full_load_power_w(VAN, np.array([engine_rpm(60, hard + 1) / 60]))[0]
    assert next_up < 1.05 * 30e3


def test_more_than_any_gear_can_give_takes_the_strongest() -> None:
    got = gears(np.full(30, 60.0), 500e3)[0]
    powers = [full_load_power_w(VAN, np.array([engine_rpm(60, g) / 60]))[0] for g in range(5)]
    allowed = [p if engine_rpm(60, g) <= 1.02 * 4600 else -1 for g, p in enumerate(powers)]
    assert got == int(np.argmax(allowed))


def test_no_gear_above_governed_speed() -> None:
    trace = likely_gears(VAN, np.full(20, 120 / 3.6), np.ones(20), np.full(20, 60e3), EARLY_SPEED_SHARE)
    assert np.all(trace.engine_rps <= 1.02 * VAN.governed_rps)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5000))
def test_no_flicker(seed: int) -> None:
    """Noise of speed about a change point does not make the gear chatter: every gear is held five seconds."""
    g = np.random.default_rng(seed)
    speed = 47 + np.cumsum(g.normal(0, 0.6, 200)) * 0.3 + g.normal(0, 0.8, 200)
    trace = gears(np.maximum(speed, 20.0))
    changes = np.flatnonzero(np.diff(trace)) + 1
    lengths = np.diff(np.concatenate([[0], changes, [trace.size]]))
    assert np.all(lengths[1:-1] >= HOLD_S)


@pytest.mark.parametrize("rate_hz", [0.2, 0.5, 1.0, 10.0])
def test_a_short_dip_is_bridged_and_a_long_one_is_not(rate_hz: float) -> None:
    """However often a receiver writes: what is held for five seconds counts, and what is held for less does not."""
    step = 1 / rate_hz
    top = changes_up_at(4, EARLY_SPEED_SHARE)
    enough = int(np.ceil(HOLD_S / step - 1e-9))
    for samples in (enough - 1, enough, 3 * enough):
        speed = np.full(20 * enough, 1.1 * top)
        dip = slice(8 * enough, 8 * enough + samples)
        speed[dip] = 0.95 * top
        expected = np.full(speed.size, 4)
        if samples >= enough:
            expected[dip] = 3
        assert np.array_equal(gears(speed, step_s=step), expected), (rate_hz, samples)


def test_standing_and_pulling_away() -> None:
    speed = np.array([0.0] * 6 + [4.0] * 6 + [10.0] * 6)
    trace = likely_gears(VAN, speed / 3.6, np.ones(18), np.full(18, 1000.0), EARLY_SPEED_SHARE)
    assert np.all(trace.gear[:6] == -1)
    assert np.all(trace.gear[6:] == 0)
    assert np.all(trace.engine_rps[:12] == VAN.idle_rps)  # the clutch slips below idling speed
    assert trace.engine_rps[12] == pytest.approx(max(VAN.idle_rps, 10 / 3.6 * VAN.gearing.turns_per_metre[0]))


def test_full_load_follows_the_curve() -> None:
    rps = np.array([20.0, 2000 / 60, 2500 / 60])
    assert full_load_power_w(VAN, rps) == pytest.approx(2 * np.pi * rps * np.array([121.0, 139.0, 136.5]))


def test_full_load_without_a_curve() -> None:
    """A flat class pressure: diesel 6.8 to 7 bar on 1.9 L give 103 to 106 N m; charged more."""
    bare = build(changed(BARE, engine=Engine(fuel="diesel", injection="direct")), random_drive(1, 10))
    torque = full_load_power_w(bare, np.array([40.0]))[0] / (2 * np.pi * 40)
    assert torque == pytest.approx(7.0e5 * 1.9e-3 / (4 * np.pi))
    blown: VehicleModel = build(
        changed(BARE, engine=Engine(fuel="diesel", injection="direct", induction="turbocharged")), random_drive(1, 10)
    )
    assert full_load_power_w(blown, np.array([40.0]))[0] > 1.3 * torque * 2 * np.pi * 40


def test_ratios_can_be_one() -> None:
    single = changed(DIESEL_VAN, gear_ratios=(1.0,), rolling_circumference_m=Declared(2.0))
    model = build(single, random_drive(1, 10))
    trace = likely_gears(model, np.linspace(0, 35, 50), np.ones(50), np.full(50, 2000.0), EARLY_SPEED_SHARE)
    assert set(trace.gear.tolist()) == {-1, 0}
    assert msgspec.structs.asdict(model)["gearing"].turns_per_metre == pytest.approx((4.1 / 2.0,))
