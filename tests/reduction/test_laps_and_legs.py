"""Laps, out-and-backs and legs found from the way driven."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import numpy as np
import pytest
import track_simulator as sim

from calmday.records.track import Track
from calmday.reduction.legs import SECTORS, legs
from calmday.reduction.reduced_track import ReducedTrack
from calmday.reduction.track import reduce_track

NOISY = sim.Receiver(white_m=3.0, wander_m=4.0)


def reduced(
    road: sim.Road, seed: int = 0, receiver: sim.Receiver = NOISY, cut_s: tuple[float, float] = (0, 0)
) -> ReducedTrack:
    generator = np.random.default_rng(seed)
    recorded = sim.record(sim.drive(road, generator), receiver, generator)
    inside = (recorded.time_s >= recorded.time_s[0] + cut_s[0]) & (recorded.time_s <= recorded.time_s[-1] - cut_s[1])
    return reduce_track(picked(recorded, inside))


def picked(recorded: Track, index: np.ndarray) -> Track:
    names = ("time_s", "latitude_deg", "longitude_deg", "height_m", "speed_mps", "course_deg", "hdop", "segment")
    return msgspec.structs.replace(recorded, **{name: getattr(recorded, name)[index] for name in names})


def one_way() -> sim.Road:
    """A winding road driven once from end to end."""
    return sim.road_from_curvature(1e-3 * np.sin(np.arange(20_000) * 0.01), np.zeros(20_000), 22.0)


def figure_eight(times: int, radius_m: float = 300.0) -> sim.Road:
    """Two circles that cross at right angles to nothing: tangent, the worst case for a crossing."""
    n = round(2 * np.pi * radius_m / sim.STEP_M)
    once = np.concatenate([np.full(n, 1 / radius_m), np.full(n, -1 / radius_m)])
    return sim.road_from_curvature(np.tile(once, times), np.zeros(once.size * times), 20.0)


def crossing_eight(times: int) -> sim.Road:
    """A course that crosses itself at a right angle: a straight, a three-quarter turn left, a straight, one right."""
    straight, radius = 600.0, 300.0
    turn = round(1.5 * np.pi * radius / sim.STEP_M)
    half = np.zeros(round(straight / 2 / sim.STEP_M))
    once = np.concatenate([half, np.full(turn, 1 / radius), half, half, np.full(turn, -1 / radius), half])
    return sim.road_from_curvature(np.tile(once, times), np.zeros(once.size * times), 20.0)


def with_approach(laps: int) -> sim.Road:
    """Four kilometres to a loop, so many laps of it, and the same four kilometres home."""
    lap = sim.loop_road((1500, 1000, 1500, 1000), 40, 1, 20.0)
    heading = np.unwrap(np.arctan2(np.diff(lap.east_m), np.diff(lap.north_m)))
    loop = np.append(np.diff(heading), 0.0) / sim.STEP_M
    stem = np.zeros(round(4000 / sim.STEP_M))
    corner = np.full(round(np.pi / 2 * 20 / sim.STEP_M), 1 / 20.0)
    way = np.concatenate([stem, corner, np.tile(loop, laps), corner, stem])
    return sim.road_from_curvature(way, np.zeros(way.size), 20.0)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize(
    ("road", "cut_s", "laps", "closed"),
    [
        (lambda: sim.loop_road((3000, 2000, 3000, 2000), 25, 1, 22.0), (0, 0), 1, True),
        (lambda: sim.loop_road((3000, 2000, 3000, 2000), 25, 3, 22.0), (0, 0), 3, True),
        (lambda: sim.loop_road((500, 300, 500, 300), 12, 12, 16.0), (0, 0), 12, True),
        (lambda: sim.loop_road((2000, 2000, 2000), 60, 5, 22.0), (150, 60), 4, True),
        (lambda: sim.loop_road((3000, 2000, 3000, 2000), 25, 2, 22.0), (100, 250), 1, True),
        (lambda: sim.out_and_back_road(7000, 1, 22.0), (0, 0), 1, True),
        (lambda: sim.out_and_back_road(4000, 3, 22.0), (0, 0), 3, True),
        (lambda: figure_eight(1), (0, 0), 1, True),
        (lambda: figure_eight(3), (0, 0), 3, True),
        (lambda: crossing_eight(3), (0, 0), 3, True),
        (lambda: with_approach(3), (0, 0), 3, True),
        (one_way, (0, 0), 0, False),
    ],
    ids=["one lap", "three laps", "twelve short laps", "triangle begun late", "two laps cut short", "out and back",
         "out and back three times", "eight", "three eights", "crossing eight", "approach and way home", "one way"],
)  # fmt: skip
def test_laps_are_those_driven(road, cut_s, laps, closed, seed):
    out = reduced(road(), seed, cut_s=cut_s)
    assert len(out.laps) == laps
    assert out.closed is closed
    assert len(out.lap_distance_m) == laps
    for one, after in pairwise(out.laps):
        assert one.stop == after.start


def test_lap_lengths_are_those_of_the_course():
    road = sim.loop_road((1800, 900, 1800, 900), 40, 5, 20.0)
    out = reduced(road, receiver=sim.Receiver(doppler_mps=0.1))
    assert out.lap_distance_m == pytest.approx([road.lap_length_m] * 5, rel=5e-3)
    assert np.std(out.lap_distance_m[1:-1]) < 8.0


def test_legs_of_a_square_loop_meet_the_wind_from_all_sides():
    out = reduced(sim.loop_road((1500, 1500, 1500, 1500), 30, 2, 20.0, heading=0.0), receiver=sim.Receiver())
    # northward first, turning right: sim.loop_road turns clockwise for positive curvature
    found = legs(out, wind_from_deg=0.0)
    assert len(found) in (8, 9)
    assert [leg.sector for leg in found[:4]] == [
        "into the wind", "wind from the left", "with the wind", "wind from the right",
    ]  # fmt: skip
    for leg, heading in zip(found[1:4], (90.0, 180.0, 270.0), strict=True):
        assert leg.heading_deg == pytest.approx(heading, abs=4)
        assert leg.distance_m == pytest.approx(1500, abs=120)
    whole = sum(leg.distance_m for leg in found)
    assert whole == pytest.approx(out.total_distance_m, rel=2e-3)
    assert found[0].start == 0
    assert found[-1].stop == out.time_s.size
    for one, after in pairwise(found):
        assert one.stop == after.start
        assert one.sector != after.sector


def test_turning_wind_and_road_together_changes_nothing():
    road = sim.loop_road((1500, 700, 1500, 700), 30, 1, 20.0, heading=0.0)
    turned = sim.loop_road((1500, 700, 1500, 700), 30, 1, 20.0, heading=np.radians(100))
    exact = sim.Receiver(white_m=0.02, wander_m=1e-6, outlier_share=0, dropouts=0)
    here = legs(reduced(road, receiver=exact), 20.0)
    there = legs(reduced(turned, receiver=exact), 120.0)
    assert [leg.sector for leg in here] == [leg.sector for leg in there]
    assert [leg.distance_m for leg in here] == pytest.approx([leg.distance_m for leg in there], abs=30)
    assert {leg.sector for leg in here} == set(SECTORS)
