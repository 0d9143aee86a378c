"""The settings log: what was before, every step, millimetres to degrees on one pump, and cold starts as a weak sign."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.files.named_files import FolderFiles, NamedDocument
from calmday.files.settings_file import settings_of
from calmday.operations.settings import settings_of_log, settings_when
from calmday.procedures.lift_timing import crank_draws, degrees, draw_curve
from calmday.procedures.settings_result import SettingsResult
from calmday.records.setting import LiftCurve, SettingsLog
from calmday.reduction.monotone import rising_curve
from calmday.reports.settings_sheet import settings_sheet
from calmday.reports.sheet import Table


def log(**tables: Any) -> SettingsLog:
    return settings_of(NamedDocument(tables, FolderFiles(Path())), "setting.toml", "setting", today=dt.date(2026, 6, 1))


def read(**tables: Any) -> SettingsResult:
    return settings_of_log(log(**tables))


def lift(**entry: Any) -> dict[str, Any]:
    return {"what": "plunger lift", **entry}


def codes(result: SettingsResult) -> set[str]:
    return {flag.code for flag in result.flags}


FIRST = lift(
    found="0.88 mm", set="0.95 mm", tightened="0.93 mm", date=dt.date(2026, 3, 14), by="Ada", screw="flange bolts",
    direction="inwards", turn="2 mm", run="run-3.toml", **{"from": "the line"},
)  # fmt: skip
THEN = lift(found="0.93 mm", set="0.90 mm", tightened="0.90 mm", date=dt.date(2026, 4, 2), by="Bo", run=["run-5.toml"])


def test_what_it_was_before_anybody_touched_it() -> None:
    result = read(setting=[THEN, FIRST])
    history = result.settings[0]
    assert (history.first, history.first_by, history.first_date) == (0.88, "Ada", "2026-03-14")
    assert (history.now, history.now_date) == (0.90, "2026-04-02")
    assert result.sentence == (
        "Plunger lift was 0.88 mm before anybody touched it (Ada, 2026-03-14); it now stands at 0.9 mm (2026-04-02)."
    )
    first, then = history.changes
    assert first.step == pytest.approx(0.05)
    assert first.moved_by_tightening == pytest.approx(-0.02)
    assert then.step == pytest.approx(-0.03)
    assert (first.screw, first.direction, first.turn, first.start) == ("flange bolts", "inwards", "2 mm", "the line")
    assert "tightening-moved-it" in codes(result)


def test_nobody_read_it_first_and_that_is_told() -> None:
    result = read(setting=[lift(set="0.95 mm", date=dt.date(2026, 3, 1))])
    assert result.settings[0].first is None
    assert "first-reading-lost" in codes(result)
    assert "not-read-after-tightening" in codes(result)
    assert "nobody read it before it was first touched" in result.sentence


def test_found_elsewhere_than_it_was_left() -> None:
    result = read(setting=[FIRST, THEN | {"found": "0.91 mm"}])
    assert result.settings[0].changes[1].moved_since == pytest.approx(-0.02)
    assert "moved-between-visits" in codes(result)


def test_units_may_change_from_visit_to_visit() -> None:
    pressure = {"what": "tyre pressure, front"}
    result = read(setting=[pressure | {"found": "2.0 bar"}, pressure | {"set": "40 psi", "date": dt.date(2026, 3, 1)}])
    history = result.settings[0]
    assert history.unit == "bar"
    assert history.now == pytest.approx(40 * 0.0689475729, rel=1e-6)


def test_each_cylinder_has_its_own_history_and_any_name_will_do() -> None:
    injectors = [{"what": "injector opening pressure", "cylinder": n, "set": f"{140 + n} bar"} for n in (1, 2)]
    result = read(setting=[*injectors, {"what": "throttle stop", "set": "3 mm"}, {"what": "axle ratio", "set": 4.1}])
    assert [(s.what, s.cylinder, s.now) for s in result.settings] == [
        ("injector opening pressure", 1, 141.0), ("injector opening pressure", 2, 142.0),
        ("throttle stop", None, 3.0), ("axle ratio", None, 4.1),
    ]  # fmt: skip


def test_runs_know_what_was_set() -> None:
    given = log(setting=[FIRST, THEN, {"what": "axle ratio", "set": 4.1, "date": dt.date(2026, 2, 1)}])
    found = {run.run: run.values for run in settings_of_log(given).runs}
    assert found["run-3.toml"] == {"plunger lift": 0.93, "axle ratio": 4.1}
    assert found["run-5.toml"] == {"plunger lift": 0.90, "axle ratio": 4.1}
    on = settings_when(given, dt.date(2026, 3, 20))
    assert on["plunger lift"].shown == 0.93
    assert "plunger lift" not in settings_when(given, dt.date(2026, 3, 1))


def test_only_the_owner_draws_limits() -> None:
    boost = {"what": "boost", "set": "1.1 bar"}
    result = read(setting=[boost], limit=[{"what": "boost", "highest": "0.9 bar", "by": "Ada"}])
    assert result.limits[0].keeps is False
    assert "beyond-own-limit" in codes(result)
    free = read(setting=[boost])
    assert free.limits == ()
    assert "no-safe-limit-known" in codes(free)
    assert "beyond-own-limit" not in codes(free)


# --- millimetres to degrees


def cam(angle_deg: float) -> float:
    """An invented cam, mm: a harmonic flank of 3.2 mm over 40 degrees that begins 6 degrees after the base circle."""
    t = min(max((angle_deg - 6.0) / 40.0, 0.0), 1.0)
    return 1.6 * (1 - math.cos(math.pi * t))


def curve_of(lifts: list[tuple[float, float]], **more: Any) -> dict[str, Any]:
    return {"point": [{"angle": f"{a} deg", "lift": f"{b} mm"} for a, b in lifts], **more}


def test_a_straight_flank_is_a_plain_factor() -> None:
    """0.08 mm for each degree: 0.05 mm more lift is 0.625 degrees earlier."""
    straight = curve_of([(a, 0.08 * a) for a in range(0, 25, 2)], tolerance="0.0001 mm", angle_tolerance="0.001 deg")
    exact = {"pm": "0.0001 mm"}
    first = FIRST | {"found": {"value": "0.88 mm", **exact}, "tightened": {"value": "0.93 mm", **exact}}
    result = read(setting=[first], lift_curve=straight)
    change = result.settings[0].changes[0]
    assert change.advance is not None
    assert change.advance.value == pytest.approx(0.05 / 0.08, abs=0.01)
    assert change.advance_step == change.advance
    assert result.timing is not None
    assert result.timing.per_degree is not None
    assert result.timing.per_degree.value == pytest.approx(0.08, abs=1e-3)
    assert result.timing.universal is False


def test_counted_the_other_way_more_lift_is_still_more_advance() -> None:
    falling = curve_of([(a, 0.08 * (24 - a)) for a in range(0, 25, 2)])
    change = read(setting=[FIRST], lift_curve=falling).settings[0].changes[0]
    assert change.advance is not None
    assert change.advance.value == pytest.approx(0.05 / 0.08, abs=0.05)


def test_without_a_curve_there_are_no_degrees() -> None:
    result = read(setting=[FIRST, THEN])
    assert result.timing is None
    assert all(change.advance is None for change in result.settings[0].changes)
    assert "no-lift-curve" in codes(result)


def test_outside_the_curve_there_are_none_either() -> None:
    short = curve_of([(a, cam(a)) for a in range(6, 16, 2)])
    result = read(setting=[FIRST | {"tightened": "1.40 mm"}], lift_curve=short)
    assert result.settings[0].changes[0].advance is None


def test_a_curve_that_turns_back_is_not_used() -> None:
    bad = curve_of([(0, 0.0), (4, 0.3), (8, 0.1), (12, 0.6), (16, 0.9)])
    result = read(setting=[FIRST], lift_curve=bad)
    assert "lift-curve-turns-back" in codes(result)
    assert result.timing is None


def test_degrees_cover_as_often_as_they_say() -> None:
    """An invented cam measured every two degrees with an invented gauge (0.02 mm) and protractor (0.5 degrees), both
    95 %; two settings read with the same gauge; the true step in degrees lies inside 95 times in 100."""
    random = np.random.default_rng(11)
    angles = np.arange(4.0, 40.1, 2.0)
    inside, trials = 0, 400
    for trial in range(trials):
        held = angles + random.normal(0, 0.5 / 1.96, angles.size)
        lifts = np.maximum(np.array([cam(a) for a in held]) + random.normal(0, 0.02 / 1.96, angles.size), 0.0)
        curve = LiftCurve(crank_rad=tuple(np.radians(angles)), lift_m=tuple(lifts / 1000))
        drawn = draw_curve(curve, 2, trial)
        assert drawn is not None
        a, b = random.uniform(20, 26), random.uniform(20, 26)
        read_a, read_b = (cam(x) + random.normal(0, 0.02 / 1.96) for x in (a, b))
        step = degrees(crank_draws(drawn, read_b / 1000, 1, None) - crank_draws(drawn, read_a / 1000, 0, None))
        assert step is not None
        inside += step.low <= b - a <= step.high
    assert inside / trials == pytest.approx(0.95, abs=0.035)


@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=12), st.floats(0, 1))
def test_the_curve_between_points_only_rises_and_meets_them(steps: list[float], share: float) -> None:
    x = np.arange(len(steps) + 1.0)
    y = np.concatenate([[0.0], np.cumsum(steps)])
    fine = np.linspace(x[0], x[-1], 301)
    drawn = rising_curve(x, y, fine)
    assert np.all(np.diff(drawn) >= -1e-12)
    assert rising_curve(x, y, x) == pytest.approx(y)
    assert np.isnan(rising_curve(x, y, np.array([-0.1 - share, x[-1] + 0.1 + share]))).all()


def test_the_curve_is_that_of_a_well_kept_library() -> None:
    """Between the ends it is the monotone cubic of Fritsch and Butland, as scipy has it."""
    interpolate = pytest.importorskip("scipy.interpolate")
    x = np.array([0.0, 1.0, 2.5, 3.0, 4.5, 6.0, 7.0])
    y = np.array([0.0, 0.2, 0.9, 1.4, 1.5, 2.6, 2.9])
    at = np.linspace(1.0, 6.0, 101)
    assert rising_curve(x, y, at) == pytest.approx(interpolate.PchipInterpolator(x, y)(at), abs=1e-12)


# --- cold starts


def starts(*pairs: tuple[float, float]) -> list[dict[str, Any]]:
    return [{"temperature": f"{t} degC", "time": f"{s} s"} for t, s in pairs]


def test_cold_starts_stay_a_weak_sign() -> None:
    result = read(cold_start=starts((12, 2.0), (4, 3.5), (-2, 6.0), (8, 2.6), (0, 4.4)))
    found = result.cold_starts
    assert found is not None
    assert found.weak is True
    assert found.growth is not None
    assert found.growth.low < 7 < found.growth.high
    assert found.at_freezing is not None
    assert found.at_freezing.high > found.at_freezing.value > found.at_freezing.low
    assert "Nothing is concluded" in found.words
    assert "cold-start-weak" in codes(result)


def test_four_starts_are_not_given_seconds_by_the_thousand() -> None:
    """A line through three others has a Student factor of 12.7: the sheet says that they say nothing."""
    few = read(cold_start=starts((4, 6.0), (2, 7.0), (8, 4.0), (5, 3.0)))
    table = next(b for b in settings_sheet(few).blocks if isinstance(b, Table) and b.title.startswith("Cold starts"))
    assert [row[3] for row in table.rows].count("anything: too few") == 3
    assert "cannot be told from so few" in table.note
    more = read(cold_start=starts((12, 2.0), (4, 3.5), (-2, 6.0), (8, 2.6), (0, 4.4)))
    table = next(b for b in settings_sheet(more).blocks if isinstance(b, Table) and b.title.startswith("Cold starts"))
    assert all(row[3].endswith(" s") for row in table.rows)
    assert "Each degree colder" in table.note


def test_two_starts_say_nothing() -> None:
    found = read(cold_start=starts((12, 2.0), (4, 3.5))).cold_starts
    assert found is not None
    assert found.growth is None
    assert all(start.expected is None for start in found.starts)


def test_one_more_start_falls_inside_as_often_as_said() -> None:
    """Starts invented with a scatter of a quarter; the interval for the left-out start holds 95 in 100."""
    random = np.random.default_rng(5)
    inside, trials = 0, 400
    for _ in range(trials):
        temperatures = random.uniform(-8, 15, 6)
        seconds = np.exp(1.2 - 0.06 * temperatures + random.normal(0, 0.25, 6))
        pairs = [(round(float(t), 3), round(float(s), 4)) for t, s in zip(temperatures, seconds, strict=True)]
        found = read(cold_start=starts(*pairs)).cold_starts
        assert found is not None
        last = found.starts[-1]
        assert last.expected is not None
        inside += last.expected.low <= last.time <= last.expected.high
    assert inside / trials == pytest.approx(0.95, abs=0.035)


def test_the_timing_of_the_day_stands_beside_a_start() -> None:
    dated = starts((4, 3.0))[0] | {"date": dt.date(2026, 3, 20)}
    found = read(setting=[FIRST, THEN], cold_start=[dated]).cold_starts
    assert found is not None
    assert found.starts[0].setting == "0.93 mm"
