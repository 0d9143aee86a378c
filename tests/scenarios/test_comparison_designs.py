"""Designs of a comparison: several changes, a control vehicle, runs left out, batches, passengers, odd runs."""

from __future__ import annotations

from pathlib import Path

import pytest
from comparison_files import codes, compared, in_order, table, weighed

RUN = """label = "{label}"
distance = "30 km"
vehicle = "vehicle.toml"
{more}
[fuel]
kind = "diesel"
batch = "{batch}"
[[weighing]]
when = "before"
gross = ["{before} kg"]
[[weighing]]
when = "after"
gross = ["1.000 kg"]
"""
VEHICLE = '[vehicle]\nname = "Garnet"\nbody = "estate"\ntest_mass = "1240 kg"\n'


def _files(folder: Path, grams: list[int], batches: list[str], more: list[str]) -> str:
    """Two runs before and two after, as run files."""
    (folder / "vehicle.toml").write_text(VEHICLE)
    for i, (g, batch, extra) in enumerate(zip(grams, batches, more, strict=True), 1):
        text = RUN.format(label=f"run {i}", more=extra, batch=batch, before=f"{1 + g / 1000:.3f}")
        (folder / f"r{i}.toml").write_text(text)
    return 'baseline = ["r1.toml", "r2.toml"]\nchanged = ["r3.toml", "r4.toml"]\n'


GRAMS, SAME, PLAIN = [1900, 1880, 1800, 1790], ["May"] * 4, [""] * 4


def test_two_batches_are_told(tmp_path: Path) -> None:
    assert "different-batches" not in codes(compared(tmp_path, _files(tmp_path, GRAMS, SAME, PLAIN)))
    assert "different-batches" in codes(
        compared(tmp_path, _files(tmp_path, GRAMS, ["May", "May", "June", "June"], PLAIN))
    )


def test_a_passenger_on_one_side_only_is_told(tmp_path: Path) -> None:
    more = ["", "", 'payload = "75 kg"', 'payload = "75 kg"']
    assert "mass-differs" in codes(compared(tmp_path, _files(tmp_path, GRAMS, SAME, more)))


def test_another_pressure_is_told(tmp_path: Path) -> None:
    more = ['tyre_pressure = "2.0 bar"'] * 2 + ['tyre_pressure = "2.8 bar"'] * 2
    assert "pressure-differs" in codes(compared(tmp_path, _files(tmp_path, GRAMS, SAME, more)))


def test_one_weighing_copied_into_two_runs_stops_it(tmp_path: Path) -> None:
    result = compared(tmp_path, _files(tmp_path, [1900, 1900, 1800, 1790], SAME, PLAIN))
    assert "same-readings-twice" in codes(result)
    assert result.verdict == "cannot tell"


def test_a_run_left_out_stays_visible_with_its_reason(tmp_path: Path) -> None:
    text = _files(tmp_path, GRAMS, SAME, PLAIN) + '[[run]]\nfile = "r2.toml"\nleft_out = "rain"\n'
    early = compared(tmp_path, text + "known_before_weighing = true\n")
    late = compared(tmp_path, text + "known_before_weighing = false\n")
    out = next(run for run in early.runs if not run.used)
    assert (out.label, out.left_out_because, out.known_before_weighing) == ("run 2", "rain", True)
    assert out.as_driven.value == pytest.approx(1880 / 30, rel=2e-3)
    assert early.design.left_out == 1
    assert "left-out-after-weighing" not in codes(early)
    assert "left-out-after-weighing" in codes(late)


def test_two_changes_are_told_apart_where_each_was_made_alone(tmp_path: Path) -> None:
    """Levels 100, 96 (a), 98 (b), 94.08 (both), each twice: -4 % and -2 % exactly."""
    rows = [((), 100.0), (("a",), 96.0), (("b",), 98.0), (("a", "b"), 94.08)] * 2
    text = 'changes = ["a", "b"]\n' + "".join(
        table(label=str(i), fuel=f"{g * 20} g", distance="20 km", **({"with": list(made)} if made else {}))
        for i, (made, g) in enumerate(rows)
    )
    a, b = compared(tmp_path, text).effects
    assert a.change_percent is not None and b.change_percent is not None
    assert a.change_percent.value == pytest.approx(-4.0, abs=1e-6)
    assert b.change_percent.value == pytest.approx(-2.0, abs=1e-6)
    assert a.tied_to == b.tied_to == ()


def test_changes_always_made_together_are_not_told_apart(tmp_path: Path) -> None:
    text = 'changes = ["cap", "tyres"]\n' + "".join(
        table(label=str(i), fuel=f"{g} g", distance="20 km", **({"with": ["cap", "tyres"]} if i % 2 else {}))
        for i, g in enumerate([2000, 1900, 2010, 1905])
    )
    result = compared(tmp_path, text)
    assert [effect.tied_to for effect in result.effects] == [("tyres",), ("cap",)]
    assert "changes-tied" in codes(result)
    assert "cannot be told from" in result.sentence


def test_a_control_vehicle_takes_the_day_off(tmp_path: Path) -> None:
    """Days move both vehicles alike by up to 10 %; over the control the change of -5 % is plain."""
    days = [1.00, 1.10, 0.95, 1.06]
    text = "".join(
        table(
            group="changed" if i in (1, 2) else "baseline",
            label=str(i),
            fuel=f"{2000 * day * (0.95 if i in (1, 2) else 1.0):.3f} g",
            distance="30 km",
            control=f"{6.1 * day:.5f} L/100km",
        )
        for i, day in enumerate(days)
    )
    result = compared(tmp_path, text)
    assert result.basis == "over the control vehicle"
    assert result.change_percent is not None
    assert result.change_percent.value == pytest.approx(-5.0, abs=0.01)
    raw = next(story for story in result.stories if story.name == "as driven")
    assert raw.change_percent.half_width > 10 * result.change_percent.half_width


def test_an_odd_run_is_named_and_stays_in(tmp_path: Path) -> None:
    grams = [("A", 900), ("B", 899), ("A", 901), ("B", 900), ("A", 899), ("B", 990), ("A", 900), ("B", 901)]
    result = compared(tmp_path, "take_off = []\n" + in_order(8) + weighed(grams, 30))
    assert [run.label for run in result.runs if run.odd] == ["6"]
    assert "odd-run" in codes(result)
    assert result.design.changed_runs == 4


def test_a_change_too_small_to_matter(tmp_path: Path) -> None:
    grams = [("A", 1000), ("B", 1001), ("A", 999), ("B", 1000), ("A", 1001), ("B", 999)]
    result = compared(tmp_path, 'smallest_change = "3 %"\n' + weighed(grams, 30))
    assert result.verdict == "too small to matter"
    assert "too small to matter" in result.sentence


def test_one_run_each_cannot_tell(tmp_path: Path) -> None:
    result = compared(tmp_path, weighed([("A", 1000), ("B", 950)], 30))
    change = result.change_percent
    assert change is not None and change.low < 0 < change.high
    assert {"one-run-each", "scatter-believed"} <= codes(result)
    assert (result.runs_needed or 0) > 0


def test_more_runs_narrow_it_and_fewer_are_needed(tmp_path: Path) -> None:
    few = compared(tmp_path, weighed([("A", 1000), ("B", 985), ("A", 1015), ("B", 1000)], 30))
    many = compared(tmp_path, weighed([("A", 1000), ("B", 985), ("A", 1015), ("B", 1000)] * 4, 30))
    assert few.smallest_detectable_percent is not None and many.smallest_detectable_percent is not None
    assert many.smallest_detectable_percent < 0.5 * few.smallest_detectable_percent
    assert few.runs_needed is not None and many.runs_needed is not None
    assert many.runs_needed < few.runs_needed
    assert many.sentence.startswith("1")


def test_swapping_the_groups_turns_the_change_round(tmp_path: Path) -> None:
    one = compared(tmp_path, weighed([("A", 1000), ("B", 950), ("A", 1010), ("B", 940)], 30))
    other = compared(tmp_path, weighed([("B", 1000), ("A", 950), ("B", 1010), ("A", 940)], 30))
    assert one.change_percent is not None and other.change_percent is not None
    assert (1 + one.change_percent.low / 100) * (1 + other.change_percent.high / 100) == pytest.approx(1, rel=1e-9)
    assert one.probability_less_fuel == pytest.approx(1 - (other.probability_less_fuel or 0), abs=1e-9)


def test_a_published_figure_in_the_other_gallon_is_suspected(tmp_path: Path) -> None:
    """1900 g of 836 kg/m3 over 30 km are 37.3 mpg imp or 31.1 mpg US: a published 37.3 mpg US is one gallon off."""
    published = '[published]\nvalue = "37.3 mpg US"\nkind = "owner\'s manual"\n'
    text = _files(tmp_path, GRAMS, SAME, PLAIN)
    run = tmp_path / "r1.toml"
    run.write_text(run.read_text() + published)
    assert {"two-gallons", "published-of-another-kind"} <= codes(compared(tmp_path, text))
    run.write_text(run.read_text().replace("37.3 mpg US", "31.5 mpg US"))
    assert "two-gallons" not in codes(compared(tmp_path, text))


def test_why_it_was_compared_as_driven_is_said(tmp_path: Path) -> None:
    result = compared(tmp_path, _files(tmp_path, GRAMS, SAME, PLAIN))
    assert result.basis == "as driven"
    assert any("no drive can be modelled for run 1" in note for note in result.notes)
