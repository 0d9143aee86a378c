"""Recorded speeds: how they were written, whether they can be believed."""

from __future__ import annotations

import numpy as np
import pytest
import track_simulator as sim

from calmday.reduction.doppler import Driven, usable_speeds, written_step
from calmday.reduction.track import reduce_track


@pytest.mark.parametrize("step", [1 / 3.6, 0.1 / 3.6, 0.1, 1852 / 3600, 0.44704, 1.0])
def test_the_step_speeds_were_written_in_is_found(step):
    speed = np.abs(np.random.default_rng(0).normal(15, 6, 500))
    assert written_step(np.round(speed / step) * step) == pytest.approx(step, rel=1e-6)


def test_finely_written_speeds_have_no_step():
    speed = np.abs(np.random.default_rng(0).normal(15, 6, 500))
    assert written_step(speed) == 0.0
    assert written_step(np.round(speed, 2)) == 0.0


def steady(n: int = 1200) -> Driven:
    generator = np.random.default_rng(1)
    return Driven(20 + 3 * np.sin(np.arange(n) / 40) + 0.02 * generator.normal(size=n), np.zeros(n), 1.0, 3.0)


def test_a_sound_receiver_keeps_its_scale():
    driven = steady()
    generator = np.random.default_rng(2)
    speeds = usable_speeds(driven.speed_mps + 0.1 * generator.normal(size=1200), driven, np.zeros(1200, bool))
    assert speeds is not None
    assert speeds.usable
    assert not speeds.trouble
    assert abs((speeds.speed_mps - driven.speed_mps).mean()) < 0.01


def test_speeds_cut_off_to_whole_kmh_get_their_half_back():
    driven = steady()
    cut = np.floor(driven.speed_mps * 3.6) / 3.6
    speeds = usable_speeds(cut, driven, np.zeros(1200, bool))
    assert speeds is not None
    assert abs((speeds.speed_mps - driven.speed_mps).mean()) < 0.02
    assert speeds.floor > (1 / 3.6) ** 2 / 12


@pytest.mark.parametrize(("factor", "usable"), [(0.97, True), (1.6, False)])
def test_a_speedometer_is_no_receiver(factor, usable):
    driven = steady()
    speeds = usable_speeds(factor * driven.speed_mps, driven, np.zeros(1200, bool))
    assert speeds is not None
    assert speeds.trouble
    assert speeds.usable is usable
    if usable:
        assert speeds.speed_mps.mean() == pytest.approx(driven.speed_mps.mean(), rel=1e-3)


def test_noughts_on_the_road_are_not_speeds():
    driven = steady()
    holed = driven.speed_mps.copy()
    holed[::3] = 0.0
    speeds = usable_speeds(holed, driven, np.zeros(1200, bool))
    assert speeds is not None
    assert speeds.fix.size == 800
    assert usable_speeds(np.zeros(1200), driven, np.zeros(1200, bool)) is None
    assert usable_speeds(np.full(1200, np.nan), driven, np.zeros(1200, bool)) is None


def test_odd_speeds_are_told_and_do_not_rule_the_distance():
    road = sim.loop_road((1800, 900, 1800, 900), 40, 2, 20.0)
    generator = np.random.default_rng(3)
    truth = sim.drive(road, generator)
    recorded = sim.record(truth, sim.Receiver(doppler_mps=0.1), generator)
    recorded.speed_mps[:] *= 0.95
    out = reduce_track(recorded)
    assert "odd speeds" in {finding.kind for finding in out.findings}
    assert out.total_distance_m == pytest.approx(truth.distance_m, rel=2e-3)


@pytest.mark.parametrize("part", [1.0, 0.5])
def test_a_receiver_that_writes_nought_for_no_speed_was_not_parked(part):
    """All speeds nought, or from half way on: the positions tell the way."""
    road = sim.loop_road((1800, 900, 1800, 900), 40, 2, 20.0)
    generator = np.random.default_rng(3)
    truth = sim.drive(road, generator)
    recorded = sim.record(truth, sim.Receiver(doppler_mps=0.1), generator)
    recorded.speed_mps[-int(part * len(recorded)) :] = 0.0
    out = reduce_track(recorded)
    assert out.total_distance_m == pytest.approx(truth.distance_m, rel=3e-3)


def test_a_few_wild_speeds_do_not_lengthen_the_way():
    road = sim.loop_road((1800, 900, 1800, 900), 40, 2, 20.0)
    generator = np.random.default_rng(3)
    truth = sim.drive(road, generator)
    recorded = sim.record(truth, sim.Receiver(doppler_mps=0.1), generator)
    recorded.speed_mps[::50] = 140.0
    out = reduce_track(recorded)
    assert out.total_distance_m == pytest.approx(truth.distance_m, rel=1e-3)
