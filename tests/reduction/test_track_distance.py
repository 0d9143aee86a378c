"""Distance, speed and standstill of reduced tracks against invented drives with known truth."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import track_simulator as sim

from calmday.reduction.distance import excess_speed
from calmday.reduction.track import reduce_track

SEEDS = range(4)
KMH = 1 / 3.6


def outcome(road: sim.Road, receiver: sim.Receiver, stops: tuple[float, ...] = ()) -> np.ndarray:
    """Relative distance error, error over its sd, speed rms, acceleration rms, laps; a row per seed."""
    rows = []
    for seed in SEEDS:
        generator = np.random.default_rng(seed)
        truth = sim.drive(road, generator, stops_m=stops)
        reduced = reduce_track(sim.record(truth, receiver, generator))
        off = reduced.total_distance_m - truth.distance_m
        at = reduced.time_s - 1.76e9
        driven = np.interp(at, truth.time_s, truth.speed_mps) > 0
        off_v = (reduced.speed_mps - np.interp(at, truth.time_s, truth.speed_mps))[driven]
        off_a = (reduced.acceleration_mps2 - np.interp(at, truth.time_s, truth.acceleration_mps2))[driven]
        ratio = off / reduced.total_distance_sd_m
        rows.append([off / truth.distance_m, ratio, off_v.std(), off_a.std(), len(reduced.laps)])
    return np.array(rows)


@pytest.mark.parametrize(
    ("receiver", "distance", "speed", "acceleration"),
    [
        (sim.Receiver(), 0.0006, 0.35, 0.35),
        (sim.Receiver(white_m=3.0, wander_m=4.0, outlier_share=0.005), 0.0010, 0.60, 0.40),
        (sim.Receiver(white_m=3.0, wander_m=4.0, doppler_mps=0.1), 0.0004, 0.15, 0.25),
        (sim.Receiver(doppler_mps=0.05, doppler_quantum_mps=KMH, course=False), 0.0004, 0.15, 0.25),
        (sim.Receiver(doppler_mps=0.05, doppler_quantum_mps=KMH, doppler_offset_mps=-KMH / 2), 0.0004, 0.16, 0.25),
    ],
    ids=["usual", "noisy phone", "noisy phone with speed", "whole km/h", "whole km/h cut off"],
)
def test_laps_of_a_loop(receiver, distance, speed, acceleration):
    road = sim.loop_road((2600, 1400, 2600, 1400), 30, 3, 22.0)
    out = outcome(road, receiver, stops=(3100.0,))
    assert np.sqrt(np.mean(out[:, 0] ** 2)) < distance
    assert np.abs(out[:, 1]).max() < 3.5
    assert out[:, 2].max() < speed
    assert out[:, 3].max() < acceleration
    assert (out[:, 4] == 3).all()


def test_out_and_back():
    road = sim.out_and_back_road(8000, 1, 22.0)
    out = outcome(road, sim.Receiver(white_m=0.5, wander_m=3.0))
    assert np.sqrt(np.mean(out[:, 0] ** 2)) < 0.001
    assert (out[:, 4] == 1).all()


def test_mean_excess_of_a_noisy_step_is_the_rice_mean():
    # CV-136: 25 m steps, 3 m per axis and end, so 3 sqrt 2 m across: +0.3627 m, not the +0.7099 m of the rms. R
    per_step = excess_speed(np.array([25.0]), np.array([2 * 3.0**2]))
    assert per_step[0] == pytest.approx(0.3627, abs=0.005)  # the leading term: 0.360 m


def test_no_chord_loss_in_a_bend():
    # CV-137: 30 m radius, 10 m/s, a fix a second: summed chords give 0.99538 of the arc. R
    around = np.arange(0.0, 120.0) * 10.0 / 30.0
    chords = 30 * np.hypot(np.diff(np.sin(around)), np.diff(np.cos(around))).sum()
    assert chords / 1190 == pytest.approx(0.99538, abs=1e-5)
    way = np.full(round(1200 / sim.STEP_M), 1 / 30.0)
    road = sim.road_from_curvature(way, np.zeros(way.size), 10.0)
    road = dataclasses.replace(road, limit_mps=np.full(road.limit_mps.size, 10.0))
    generator = np.random.default_rng(1)
    truth = sim.drive(road, generator, unsteady=0.0, parked_s=0.0)
    exact = sim.Receiver(white_m=0.02, wander_m=1e-6, outlier_share=0.0, dropouts=0)
    reduced = reduce_track(sim.record(truth, exact, generator))
    assert reduced.total_distance_m == pytest.approx(truth.distance_m, rel=1e-3)


def test_a_parked_receiver_drives_nowhere():
    for seed in SEEDS:
        generator = np.random.default_rng(seed)
        n = 900
        truth = sim.Drive(np.arange(0, n, 0.1), *(np.zeros(n * 10) for _ in range(7)))
        track = sim.record(truth, sim.Receiver(white_m=1.0, wander_m=4.0, outlier_share=0.0), generator)
        raw = np.hypot(np.diff(track.latitude_deg), 0.66 * np.diff(track.longitude_deg)).sum() * 111_200
        reduced = reduce_track(track)
        assert raw > 500.0
        assert reduced.total_distance_m < 6.0
        assert (reduced.speed_mps[~reduced.moving] == 0.0).all()
        assert reduced.moving.mean() < 0.05


def test_speed_is_nought_while_parked_and_stops_are_found():
    road = sim.loop_road((1500, 900, 1500, 900), 30, 1, 20.0)
    for receiver in (sim.Receiver(), sim.Receiver(doppler_mps=0.1)):
        generator = np.random.default_rng(3)
        truth = sim.drive(road, generator, stops_m=(1200.0, 3000.0), dwell_s=25.0)
        reduced = reduce_track(sim.record(truth, receiver, generator))
        at = reduced.time_s - 1.76e9
        stood = np.interp(at, truth.time_s, truth.speed_mps) == 0
        core = stood & np.roll(stood, 3) & np.roll(stood, -3)
        assert (reduced.speed_mps[core] == 0.0).mean() > 0.95
        assert len(reduced.stops) == 4  # before, two on the way, after
        for stop in reduced.stops[1:3]:
            assert stop.stop - stop.start == pytest.approx(25, abs=4)
        assert reduced.moving_time_s == pytest.approx((~stood).sum(), rel=0.02)


def test_faster_recording_gives_the_same_drive():
    road = sim.loop_road((900, 500, 900, 500), 30, 2, 18.0)
    generator = np.random.default_rng(5)
    truth = sim.drive(road, generator)
    at_10hz = reduce_track(sim.record(truth, sim.Receiver(interval_s=0.1, doppler_mps=0.1), generator))
    assert at_10hz.step_s == 1.0
    assert at_10hz.total_distance_m == pytest.approx(truth.distance_m, rel=1e-3)
    assert len(at_10hz.laps) == 2


def test_stated_doubts_of_speed_are_honest():
    road = sim.loop_road((2600, 1400, 2600, 1400), 30, 3, 22.0)
    for receiver, low, high in ((sim.Receiver(), 0.5, 1.6), (sim.Receiver(doppler_mps=0.1), 0.5, 1.6)):
        generator = np.random.default_rng(11)
        truth = sim.drive(road, generator)
        reduced = reduce_track(sim.record(truth, receiver, generator))
        true = np.interp(reduced.time_s - 1.76e9, truth.time_s, truth.speed_mps)
        z = ((reduced.speed_mps - true) / np.maximum(reduced.speed_sd_mps, 0.01))[reduced.moving]
        assert low < np.sqrt(np.mean(z**2)) < high


def braked_hard(stops: int) -> sim.Drive:
    """A straight road with stops that end as with the brake locked: from 5.7 m/s within a second."""
    leg = [
        *np.linspace(0, 18, 160),
        *np.full(400, 18.0),
        *np.linspace(18, 5.7, 100),
        *np.linspace(5.7, 0, 9),
        *[0] * 90,
    ]
    speed = np.array([0.0] * 50 + leg * stops)
    way = np.concatenate([[0.0], np.cumsum(0.05 * (speed[1:] + speed[:-1]))])
    none = np.zeros(speed.size)
    return sim.Drive(
        time_s=0.1 * np.arange(speed.size), way_m=way, speed_mps=speed, acceleration_mps2=np.gradient(speed, 0.1),
        east_m=way, north_m=none, height_m=none, heading_rad=none + np.pi / 2,
    )  # fmt: skip


def test_abrupt_stops_lose_no_way():
    """The last speeds before a stop were once taken for wild ones, at 4 m a stop."""
    truth = braked_hard(20)
    receiver = sim.Receiver(doppler_mps=0.05, outlier_share=0.0, dropouts=0)
    off = [
        reduce_track(sim.record(truth, receiver, np.random.default_rng(seed))).total_distance_m / truth.distance_m - 1
        for seed in SEEDS
    ]
    assert abs(np.mean(off)) < 0.0004
