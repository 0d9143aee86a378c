"""What is wrong in raw fixes is met, dealt with and told."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
import track_simulator as sim
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.records.track import Track
from calmday.reduction.fixes import clean
from calmday.reduction.track import reduce_track

START = 1.7e9


def track(time_s, latitude_deg, longitude_deg, **more) -> Track:
    time = np.asarray(time_s, float)
    none = {name: np.full(time.size, np.nan) for name in ("height_m", "speed_mps", "course_deg", "hdop")}
    fields = none | {"segment": np.zeros(time.size, np.int64)} | more
    return Track(
        time_s=time, latitude_deg=np.asarray(latitude_deg, float), longitude_deg=np.asarray(longitude_deg, float),
        files=("drive.gpx",), **fields,
    )  # fmt: skip


def line(n: int = 300) -> Track:
    """Due north along a meridian at 22.24 m/s."""
    return track(START + np.arange(n), 50 + 2e-4 * np.arange(n), np.full(n, 8.0))


def picked(recorded: Track, index) -> Track:
    names = ("time_s", "latitude_deg", "longitude_deg", "height_m", "speed_mps", "course_deg", "hdop", "segment")
    return msgspec.structs.replace(recorded, **{name: getattr(recorded, name)[index] for name in names})


LINE_M = 6651.6  # 299 steps of 2e-4 deg at 50 N: 111 229.03 m per degree there (R, meridian radius)


def kinds(reduced) -> set[str]:
    return {finding.kind for finding in reduced.findings}


def test_a_straight_line_is_exact():
    reduced = reduce_track(line())
    assert reduced.total_distance_m == pytest.approx(299 * 2e-4 * 111_232.0, rel=2e-5)
    assert reduced.total_distance_m == pytest.approx(LINE_M, abs=0.3)
    assert reduced.speed_mps == pytest.approx(22.246, abs=0.01)
    assert np.abs(reduced.acceleration_mps2).max() < 0.02
    assert np.minimum(reduced.heading_rad, 2 * np.pi - reduced.heading_rad).max() < 1e-3
    assert not reduced.has_height
    assert (reduced.grade == 0).all()
    assert (reduced.grade_sd > 0.01).all()


def test_doubled_and_backward_times_are_left_out_and_told():
    good = line()
    order = np.concatenate([np.arange(100), [99, 98, 40], np.arange(100, 300)])
    reduced = reduce_track(picked(good, order))
    assert reduced.total_distance_m == pytest.approx(LINE_M, abs=0.5)
    assert {"doubled times", "backward times"} <= kinds(reduced)


def test_one_clock_glitch_does_not_spoil_what_follows():
    good = line()
    time = good.time_s.copy()
    time[50] += 4000.0
    fixes = clean(msgspec.structs.replace(good, time_s=time))
    assert len(fixes) == 299
    assert fixes.time_s[-1] == time[-1]


def test_a_file_written_last_first_is_turned_round():
    reduced = reduce_track(picked(line(), np.arange(299, -1, -1)))
    assert reduced.total_distance_m == pytest.approx(LINE_M, abs=0.5)
    assert "backward times" in kinds(reduced)


def test_files_in_the_wrong_order_are_put_right():
    swapped = picked(line(), np.concatenate([np.arange(150, 300), np.arange(150)]))
    swapped = msgspec.structs.replace(swapped, segment=np.repeat([0, 1], 150))
    reduced = reduce_track(swapped)
    assert reduced.total_distance_m == pytest.approx(LINE_M, abs=0.5)
    assert "backward times" not in kinds(reduced)


def test_a_spell_elsewhere_is_left_out():
    good = line()
    latitude = good.latitude_deg.copy()
    latitude[100:115] += 0.4
    longitude = good.longitude_deg.copy()
    latitude[200], longitude[200] = 0.0, 0.0  # no position yet
    reduced = reduce_track(msgspec.structs.replace(good, latitude_deg=latitude, longitude_deg=longitude))
    assert reduced.total_distance_m == pytest.approx(LINE_M, abs=1.0)
    assert sum(f.count for f in reduced.findings if f.kind == "outliers") == 15


def test_wild_fixes_do_not_bend_the_track():
    generator = np.random.default_rng(2)
    road = sim.loop_road((1500, 900, 1500, 900), 30, 2, 20.0)
    truth = sim.drive(road, generator)
    wild = sim.Receiver(outlier_share=0.03)
    reduced = reduce_track(sim.record(truth, wild, generator))
    assert reduced.total_distance_m == pytest.approx(truth.distance_m, rel=2e-3)
    assert reduced.speed_mps.max() < truth.speed_mps.max() + 2.0
    told = sum(f.count for f in reduced.findings if f.kind == "outliers")
    assert 0.4 < told / (0.03 * truth.time_s[-1]) < 1.6


@pytest.mark.parametrize(
    ("bad", "word"),
    [
        (track([np.nan] * 5, [50] * 5, [8] * 5), "time"),
        (track([], [], []), "time"),
        (track([START], [50], [8]), "usable"),
        (track([START, START + 1], [np.nan] * 2, [8] * 2), "time"),
        (track([START, START + 9e9], [50, 50], [8, 8]), "days"),
    ],
    ids=["no times", "empty", "one fix", "no places", "a clock in the far future"],
)
def test_what_cannot_be_reduced_is_refused_by_name(bad, word):
    with pytest.raises(InputError) as caught:
        reduce_track(bad)
    assert caught.value.faults[0].file == "drive.gpx"
    assert word in str(caught.value)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_any_fixes_reduce_or_are_refused(data):
    n = data.draw(st.integers(0, 60))
    seed = data.draw(st.integers(0, 2**32 - 1))
    generator = np.random.default_rng(seed)
    pace = data.draw(st.sampled_from([0.1, 1.0, 7.0, 40.0]))
    reach = data.draw(st.sampled_from([0.0, 1e-6, 1e-4, 1e-2, 20.0]))
    time = START + np.cumsum(generator.exponential(pace, n))
    if data.draw(st.booleans()):
        generator.shuffle(time)
    time[generator.random(n) < 0.05] = np.nan
    more = {
        "height_m": generator.normal(size=n) * data.draw(st.sampled_from([1.0, 1e5])),
        "speed_mps": generator.exponential(data.draw(st.sampled_from([0.1, 10.0, 1e4])), n),
        "hdop": generator.exponential(2.0, n) - 0.1,
        "segment": np.sort(generator.integers(0, 3, n)),
    }
    more["height_m"][generator.random(n) < 0.1] = np.nan
    fixes = track(time, 50 + reach * generator.normal(size=n), 8 + reach * generator.normal(size=n), **more)
    try:
        reduced = reduce_track(fixes)
    except InputError:
        return
    for name in reduced.__struct_fields__:
        value = getattr(reduced, name)
        if isinstance(value, np.ndarray):
            assert value.shape == reduced.time_s.shape, name
            assert np.isfinite(value).all(), name
    assert (np.diff(reduced.distance_m) >= 0).all()
    assert np.isfinite(reduced.total_distance_sd_m)


@settings(max_examples=10, deadline=None)
@given(shift_s=st.floats(-5e8, 5e8), turn_deg=st.floats(-170, 170))
def test_neither_the_date_nor_the_meridian_matters(shift_s, turn_deg):
    generator = np.random.default_rng(4)
    road = sim.loop_road((700, 400, 700, 400), 30, 1, 18.0)
    recorded = sim.record(sim.drive(road, generator), sim.Receiver(), generator)
    shift = round(shift_s)
    moved = msgspec.structs.replace(
        recorded, time_s=recorded.time_s + shift,
        longitude_deg=(recorded.longitude_deg + turn_deg + 180) % 360 - 180,
    )  # fmt: skip
    here, there = reduce_track(recorded), reduce_track(moved)
    np.testing.assert_allclose(there.time_s - shift, here.time_s, atol=1e-5)
    assert there.total_distance_m == pytest.approx(here.total_distance_m, abs=0.05)
    np.testing.assert_allclose(there.speed_mps, here.speed_mps, atol=0.02)
