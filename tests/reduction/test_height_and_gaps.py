"""Height and grade of the road, and the way across holes in the recording."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
import track_simulator as sim

from calmday.records.track import Track
from calmday.reduction.track import reduce_track


def truth_and_track(road: sim.Road, receiver: sim.Receiver, seed: int = 0) -> tuple[sim.Drive, Track]:
    generator = np.random.default_rng(seed)
    truth = sim.drive(road, generator)
    return truth, sim.record(truth, receiver, generator)


def without(recorded: Track, *spans_s: tuple[float, float]) -> Track:
    since = recorded.time_s - recorded.time_s[0]
    keep = np.ones(len(recorded), bool)
    for begin, end in spans_s:
        keep &= ~((since > begin) & (since < end))
    names = ("time_s", "latitude_deg", "longitude_deg", "height_m", "speed_mps", "course_deg", "hdop", "segment")
    return msgspec.structs.replace(recorded, **{name: getattr(recorded, name)[keep] for name in names})


def grades(truth: sim.Drive, at_s: np.ndarray) -> np.ndarray:
    height = np.interp(at_s, truth.time_s, truth.height_m)
    way = np.interp(at_s, truth.time_s, truth.way_m)
    return np.gradient(height) / np.maximum(np.gradient(way), 0.1)


LOOP = (3000, 2000, 3000, 2000)


def test_grade_of_hills_over_one_lap_and_over_four():
    rms = {}
    for laps in (1, 4):
        errors, ratios = [], []
        for seed in range(3):
            truth, recorded = truth_and_track(sim.loop_road(LOOP, 40, laps, 22.0, hill_m=30), sim.Receiver(), seed)
            out = reduce_track(recorded)
            fast = out.speed_mps > 3
            off = (out.grade - grades(truth, out.time_s - 1.76e9))[fast]
            errors.append(off)
            ratios.append(off / out.grade_sd[fast])
        rms[laps] = float(np.sqrt(np.mean(np.concatenate(errors) ** 2)))
        assert 0.5 < np.sqrt(np.mean(np.concatenate(ratios) ** 2)) < 1.7
    assert rms[1] < 0.011  # with 5 m of wander in 200 s: its own slope at 22 m/s is of this order
    assert rms[4] < 0.6 * rms[1]


def test_a_closed_course_closes():
    for seed in range(3):
        _, recorded = truth_and_track(sim.loop_road(LOOP, 40, 3, 22.0, hill_m=20), sim.Receiver(), seed)
        out = reduce_track(recorded)
        ends = [out.laps[0].start] + [lap.stop - 1 for lap in out.laps]
        assert np.ptp(out.height_m[ends]) < 1.0
        for lap in out.laps:
            climbed = (out.grade * out.speed_mps)[lap.start : lap.stop].sum()
            assert abs(climbed) < 3.0


def test_out_and_back_rises_as_it_falls():
    truth, recorded = truth_and_track(sim.out_and_back_road(6000, 1, 22.0, hill_m=20), sim.Receiver())
    out = reduce_track(recorded)
    middle = int(np.argmax(np.hypot(out.east_m - out.east_m[0], out.north_m - out.north_m[0])))
    assert out.height_m[-1] == pytest.approx(out.height_m[0], abs=1.0)
    up = (out.grade * out.speed_mps)[:middle].sum()
    down = (out.grade * out.speed_mps)[middle:].sum()
    assert up == pytest.approx(-down, abs=3.0)
    far = float(np.interp(out.time_s[middle] - 1.76e9, truth.time_s, truth.height_m))
    assert up == pytest.approx(far - truth.height_m[0], abs=6.0)


def test_distance_runs_along_the_slope():
    way = np.zeros(round(6000 / sim.STEP_M))
    height = np.arange(way.size + 1) * sim.STEP_M * 0.10
    exact = sim.Receiver(white_m=0.02, wander_m=1e-6, height_white_m=0.1, height_wander_m=1e-6, outlier_share=0)
    road = sim.road_from_curvature(way, height[:-1], 20.0)
    truth, recorded = truth_and_track(msgspec_height(road, height), exact)
    out = reduce_track(recorded)
    assert truth.distance_m / 6000 == pytest.approx(np.hypot(1, 0.1), abs=1e-4)
    assert out.total_distance_m == pytest.approx(truth.distance_m, rel=4e-4)


def msgspec_height(road: sim.Road, height: np.ndarray) -> sim.Road:
    return sim.Road(road.east_m, road.north_m, height, road.limit_mps)


def test_without_recorded_height_the_road_is_level_with_doubt():
    _, recorded = truth_and_track(sim.loop_road(LOOP, 40, 1, 22.0), sim.Receiver(height=False))
    out = reduce_track(recorded)
    assert not out.has_height
    assert (out.grade == 0).all()
    assert (out.grade_sd >= 0.01).all()


def test_short_holes_are_bridged():
    truth, recorded = truth_and_track(sim.loop_road(LOOP, 40, 1, 22.0), sim.Receiver(dropouts=0))
    out = reduce_track(without(recorded, (200, 214), (400, 407)))
    assert [gap.bridged for gap in out.gaps] == [True, True]
    assert out.segment.max() == 0
    assert 15 <= out.bridged.sum() <= 19
    assert out.total_distance_m == pytest.approx(truth.distance_m, rel=1.5e-3)


def test_a_long_hole_counts_with_its_doubt_and_is_not_in_the_grid():
    for seed in range(3):
        truth, recorded = truth_and_track(sim.loop_road(LOOP, 40, 1, 22.0), sim.Receiver(dropouts=0), seed)
        out = reduce_track(without(recorded, (100, 160)))
        (gap,) = out.gaps
        assert not gap.bridged
        assert out.segment.max() == 1
        assert np.diff(out.time_s).max() == pytest.approx(60.0, abs=1.1)
        way = np.interp([gap.start_s - 1.76e9, gap.end_s - 1.76e9], truth.time_s, truth.way_m)
        assert gap.distance_m == pytest.approx(way[1] - way[0], abs=3 * gap.distance_sd_m)
        assert out.total_distance_m == pytest.approx(truth.distance_m, abs=3 * out.total_distance_sd_m)
        assert out.total_distance_sd_m >= gap.distance_sd_m > 5.0
        assert out.distance_m[-1] == out.total_distance_m


def test_a_hole_round_a_corner_is_measured_on_another_lap():
    for seed in range(3):
        truth, recorded = truth_and_track(sim.loop_road(LOOP, 40, 4, 22.0), sim.Receiver(dropouts=0), seed)
        out = reduce_track(without(recorded, (600, 750)))
        (gap,) = out.gaps
        way = np.interp([gap.start_s - 1.76e9, gap.end_s - 1.76e9], truth.time_s, truth.way_m)
        assert gap.distance_m == pytest.approx(way[1] - way[0], abs=40)
        assert len(out.laps) == 4
        assert out.total_distance_m == pytest.approx(truth.distance_m, abs=3 * out.total_distance_sd_m)


def test_a_pause_while_parked_adds_no_way():
    road = sim.loop_road((1500, 900, 1500, 900), 40, 1, 20.0)
    generator = np.random.default_rng(1)
    truth = sim.drive(road, generator, stops_m=(2000.0,), dwell_s=300.0)
    recorded = sim.record(truth, sim.Receiver(dropouts=0), generator)
    stood = np.flatnonzero(np.interp(recorded.time_s - 1.76e9, truth.time_s, truth.speed_mps) == 0)
    middle = stood[(stood > 60) & (stood < len(recorded) - 60)]
    span = recorded.time_s[middle[20]] - recorded.time_s[0], recorded.time_s[middle[-20]] - recorded.time_s[0]
    out = reduce_track(without(recorded, span))
    assert out.total_distance_m == pytest.approx(truth.distance_m, abs=15)
    assert [gap.bridged for gap in out.gaps] == [False]
    assert out.gaps[0].distance_m == 0.0


def test_a_lap_that_was_not_recorded_is_not_a_pause():
    """The hole ends where it began, at speed at both ends: the vehicle went round."""
    truth, recorded = truth_and_track(sim.loop_road(LOOP, 40, 4, 22.0), sim.Receiver(dropouts=0))
    middle = np.interp(0.4 * truth.way_m[-1], truth.way_m, truth.time_s - truth.time_s[0])
    one_on = np.interp(0.65 * truth.way_m[-1], truth.way_m, truth.time_s - truth.time_s[0])
    out = reduce_track(without(recorded, (middle, one_on)))
    (gap,) = (gap for gap in out.gaps if gap.end_s - gap.start_s > 60)
    assert gap.distance_m > 0
    assert abs(out.total_distance_m - truth.way_m[-1]) < 3 * out.total_distance_sd_m
