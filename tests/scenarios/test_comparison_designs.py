"""Designs of a comparison: several changes, a control vehicle, runs left out, batches, passengers, odd runs."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest
from comparison_files import codes, compared, in_order, table, weighed

from calmday.reports.charts.compared import charts_of_comparison
from calmday.reports.comparison_sentence import same_to_us
from calmday.reports.comparison_sheet import comparison_sheet

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


def _swept(settings: list[float], grams: list[float], temperatures: list[float] | None = None) -> str:
    return "".join(
        table(
            label=str(i),
            fuel=f"{g} g",
            distance="40 km",
            setting=f"{setting} deg",
            **({"temperature": f"{temperatures[i - 1]} degC"} if temperatures else {}),
        )
        for i, (setting, g) in enumerate(zip(settings, grams, strict=True), 1)
    )


def test_a_setting_turned_up_step_by_step_is_told(tmp_path: Path) -> None:
    """Nothing but a drift of -0.6 % a run: up step by step it reads as an effect, in an order by lot it does not."""
    drift = [1900 * 0.994**i for i in range(7)]
    rising, drawn = [4.0, 5, 6, 7, 8, 9, 10], [7.0, 4, 9, 6, 10, 5, 8]
    stepped = compared(tmp_path, in_order(7) + _swept(rising, drift))
    assert "in-step-with-order" in codes(stepped)
    assert stepped.sweep is not None and stepped.sweep.probability < 0.01
    by_lot = compared(tmp_path, in_order(7) + _swept(drawn, drift))
    assert "in-step-with-order" not in codes(by_lot)
    assert by_lot.sweep is not None and by_lot.sweep.probability > 0.2
    for result in (stepped, by_lot):
        assert result.design.interleaved is None
        assert "alternating" not in result.sentence
        assert {run.group for run in result.runs} == {""}
    assert by_lot.design.order == "7, 4, 9, 6, 10, 5, 8 deg"


def test_changes_made_one_after_the_other_are_told(tmp_path: Path) -> None:
    made = [[], [], ["cap"], ["cap"], ["cap", "tyres"], ["cap", "tyres"]]
    text = 'changes = ["cap", "tyres"]\n' + in_order(6)
    text += "".join(
        table(label=str(i), fuel=f"{g} g", distance="20 km", **({"with": with_} if with_ else {}))
        for i, (with_, g) in enumerate(zip(made, [2000, 1990, 1960, 1950, 1930, 1925], strict=True), 1)
    )
    result = compared(tmp_path, text)
    flag = next(flag for flag in result.flags if flag.code == "in-step-with-order")
    assert "cap, tyres" in flag.saw
    assert [run.fitted for run in result.runs][-1] == ("cap", "tyres")


def test_a_temperature_taken_off_is_shown_beside_the_raw_figures(tmp_path: Path) -> None:
    """Fuel falls by 0.3 % for each degree and by nothing else; the runs after the change were 8 degrees warmer."""
    rows = [("A", 5), ("B", 14), ("B", 16), ("A", 9), ("A", 8), ("B", 16)]
    noise = [1.001, 0.999, 1.0005, 0.9995, 0.999, 1.001]
    text = in_order(6) + "".join(
        table(
            group="changed" if letter == "B" else "baseline",
            label=str(i),
            fuel=f"{1000 * (1 - 0.003 * air) * noise[i - 1]:.2f} g",
            distance="30 km",
            temperature=f"{air} degC",
        )
        for i, (letter, air) in enumerate(rows, 1)
    )
    left = compared(tmp_path, "take_off = []\n" + text)
    assert "temperature-differs" in codes(left)
    assert left.change_percent is not None and left.change_percent.high < 0
    taken = compared(tmp_path, 'take_off = ["temperature"]\n' + text)
    assert taken.verdict == "no difference seen"
    assert "temperature-differs" not in codes(taken), "it says to do what was done"
    raw = next(story for story in taken.stories if story.name == "as driven")
    assert raw.change_percent.value == pytest.approx(left.change_percent.value, abs=1e-9)
    assert {"stories-disagree", "correction-larger-than-effect"} <= codes(taken)
    assert next(story.name for story in taken.stories if story.headline) == "temperature taken off"
    under = " ".join(comparison_sheet(taken).under)
    assert "As driven, with nothing taken off, it reads 2.4 % less fuel" in under
    assert "stands on what was taken off" in under


def test_groups_without_names_are_before_and_after(tmp_path: Path) -> None:
    result = compared(tmp_path, weighed([("A", 1000), ("B", 950), ("A", 1010), ("B", 940)], 30))
    assert (result.baseline, result.changed) == ("before", "after")
    assert [run.group for run in result.runs] == ["before", "after", "before", "after"]
    assert "after the change" in result.sentence
    for chart in charts_of_comparison(result):
        drawn = chart.svg("page", "light") + chart.description
        assert "baseline" not in drawn and "changed" not in drawn
    one = compared(tmp_path, 'changed_name = "cap"\n' + weighed([("A", 1000), ("B", 950), ("A", 1010)], 30))
    assert (one.baseline, one.changed) == ("before", "cap")


@pytest.mark.parametrize(
    ("more", "names"),
    [
        ([""] * 4, ("before", "after")),
        (['tyre_pressure = "2.0 bar"'] * 2 + ['tyre_pressure = "2.8 bar"'] * 2,
         ("tyre pressure 200 kPa", "tyre pressure 280 kPa")),
        (['payload = "0 kg"'] * 2 + ['payload = "75 kg"'] * 2, ("1240 kg", "1315 kg")),
        # two things differ: neither is what was changed for sure
        (['tyre_pressure = "2.0 bar"'] * 2 + ['tyre_pressure = "2.8 bar"\npayload = "75 kg"'] * 2, ("before", "after")),
    ],
    ids=["nothing", "pressure", "mass", "two things"],
)  # fmt: skip
def test_the_one_thing_in_which_the_files_differ_names_the_groups(
    tmp_path: Path, more: list[str], names: tuple[str, str]
) -> None:
    result = compared(tmp_path, _files(tmp_path, GRAMS, SAME, more))
    assert (result.baseline, result.changed) == names


def test_the_change_on_the_build_sheet_names_the_group(tmp_path: Path) -> None:
    text = _files(tmp_path, GRAMS, SAME, ["date = 2026-03-01", "date = 2026-03-02"] + ["date = 2026-04-01"] * 2)
    sheet = tmp_path / "vehicle.toml"
    sheet.write_text(sheet.read_text() + '[[change]]\ndate = 2026-03-20\nwhat = "wheel covers"\n')
    result = compared(tmp_path, text)
    assert (result.baseline, result.changed) == ("before", "wheel covers")
    assert "with wheel covers" in result.sentence


def test_a_setting_near_the_best_is_not_called_the_same_in_one_place_and_worse_in_another(tmp_path: Path) -> None:
    """The band ends below 8 degrees, and 8 degrees cannot be told from the best: the table says just that."""
    result = compared(tmp_path, _swept([4, 8, 6, 10, 6, 8], [1900, 1850, 1860, 1880, 1864, 1846]))
    sweep = result.sweep
    assert sweep is not None and sweep.equal_to < 8
    said = [same_to_us(sweep, point) for point in sweep.points]
    assert said == ["no", "no", "cannot tell", "no"]


def test_what_is_believed_is_not_printed_to_six_digits(tmp_path: Path) -> None:
    text = 'usual_scatter = "1.23456 %"\n' + weighed([("A", 1000), ("B", 950), ("A", 1010), ("B", 940)], 30)
    result = compared(tmp_path, text)
    assert result.scatter is not None
    assert result.scatter.words.startswith("1.2 % is believed")


def test_too_few_settings_say_how_many_it_takes(tmp_path: Path) -> None:
    assert "needs at least 5 runs" in compared(tmp_path, _swept([4, 8, 4, 8], [1850, 1848, 1860, 1858])).sentence


@pytest.mark.parametrize(
    ("letters", "left"), [("ABBA", False), ("ABB", False), ("AABB", True)], ids=["kept", "ended early", "left"]
)
def test_a_sealed_order_is_held_against_the_order_driven(tmp_path: Path, letters: str, left: bool) -> None:
    line = "A-B-B-A 00112233445566778899aabbccddeeff"
    digest = hashlib.sha256(line.encode()).hexdigest()
    grams = [(letter, 1000.0 + i) for i, letter in enumerate(letters)]
    said = f'sealed_order = "{digest}"\nsealed_with = "{line}"\n' + in_order(len(grams))
    result = compared(tmp_path, said + weighed(grams, 30))
    assert result.design.digest_fits is True
    assert ("sealed-order-not-driven" in codes(result)) == left


def test_two_changes_described_on_the_build_sheet_are_several(tmp_path: Path) -> None:
    """Neither touches a figure of the sheet: what is written beside the date says that there were two."""
    text = _files(tmp_path, GRAMS, SAME, ["date = 2026-03-01", "date = 2026-03-02"] + ["date = 2026-04-01"] * 2)
    sheet = tmp_path / "vehicle.toml"
    one = '[[change]]\ndate = 2026-03-20\nwhat = "wheel covers"\n'
    sheet.write_text(sheet.read_text() + one)
    assert "several-changes" not in codes(compared(tmp_path, text))
    sheet.write_text(sheet.read_text() + one.replace("wheel covers", "thin oil").replace("-20", "-21"))
    result = compared(tmp_path, text)
    flag = next(flag for flag in result.flags if flag.code == "several-changes")
    assert "wheel covers, thin oil" in flag.saw
    assert (result.baseline, result.changed) == ("before", "after")


def test_another_wheel_said_as_tyre_and_as_circumference_is_one_change(tmp_path: Path) -> None:
    text = _files(tmp_path, GRAMS, SAME, PLAIN)
    for name, tyre, round_ in (("vehicle.toml", "175/70 R13", "1.79 m"), ("other.toml", "185/70 R13", "1.83 m")):
        (tmp_path / name).write_text(VEHICLE + f'tyre = "{tyre}"\nrolling_circumference = "{round_}"\n')
    for name in ("r3.toml", "r4.toml"):
        (tmp_path / name).write_text((tmp_path / name).read_text().replace("vehicle.toml", "other.toml"))
    result = compared(tmp_path, text)
    assert "several-changes" not in codes(result)
    assert result.changed == "tyre 185/70 R13"


def test_an_answer_smaller_than_its_corrections_is_an_indication(tmp_path: Path) -> None:
    """Four runs a side, and a drift taken off that is twice what is left: no result to lean on."""
    grams = [("A", 1000), ("A", 990), ("B", 978), ("A", 972), ("B", 955), ("B", 949), ("A", 950), ("B", 935)]
    text = in_order(8) + weighed(grams, 30)
    leaning = compared(tmp_path, 'take_off = ["order"]\n' + text)
    assert leaning.verdict == "less fuel"
    assert any("an indication" in line for line in comparison_sheet(leaning).under)
    raw = compared(tmp_path, "take_off = []\n" + text)
    assert any(line.endswith("a result.") for line in comparison_sheet(raw).under)


def test_what_cannot_be_told_is_not_called_a_result(tmp_path: Path) -> None:
    grams = [("A", 1000), ("B", 960), ("B", 962), ("A", 1150), ("A", 1003), ("B", 955), ("B", 958), ("A", 1001)]
    result = compared(tmp_path, in_order(8) + weighed(grams, 30))
    assert result.verdict == "cannot tell"
    assert not any("a result" in line for line in comparison_sheet(result).under)


@pytest.mark.parametrize("grams", [[1850, 1848, 1860, 1858, 1851, 1853], [1850, 1862, 1851, 1852, 1860, 1853]])
def test_a_setting_that_was_not_seen_to_matter_is_told_how_much_it_could(tmp_path: Path, grams: list[float]) -> None:
    """Whichever way the curve bends: not seeing it is no proof that there is nothing."""
    result = compared(tmp_path, _swept([4, 8, 6, 10, 6, 8], grams))
    assert result.sweep is not None and result.sweep.probability > 0.15
    assert "could not see that the setting matters between 4 and 10 deg" in result.sentence
    most = max(point.above_best_percent.high for point in result.sweep.points)
    told = re.search(r"less than about ([\d.]+) %", result.sentence)
    assert told is not None and float(told[1]) == pytest.approx(most, abs=0.51)


def test_runs_of_a_setting_need_no_side(tmp_path: Path) -> None:
    """What `calmday settings --runs-of` prints is a comparison as it stands."""
    _files(tmp_path, GRAMS, SAME, PLAIN)
    text = "".join(table(file=f"r{i}.toml", setting=f"{mm} mm") for i, mm in enumerate((0.80, 0.85, 0.90, 0.85), 1))
    assert [run.setting for run in compared(tmp_path, text).runs] == ["0.80 mm", "0.85 mm", "0.90 mm", "0.85 mm"]
