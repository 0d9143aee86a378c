"""The scenarios about comparing: figures computed for the project by other means, with their tolerance."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from comparison_files import codes, compared, in_order, table, weighed

from calmday.procedures.comparison_result import ComparisonResult

ISLAND = [("A", 899), ("B", 865), ("B", 849), ("A", 889), ("A", 872), ("B", 843), ("B", 831), ("A", 873)]
ROADSTER = [("A", 1905), ("A", 1879), ("B", 1571), ("B", 1554)]
SWEEP = (
    "0.90/9/1859 1.00/10/1883 0.80/11/1935 0.95/12/1826 0.85/13/1884 0.85/14/1849 0.95/15/1860 0.80/15/1873 "
    "1.00/16/1840 0.90/16/1842"
)


def _method(result: ComparisonResult, name: str) -> tuple[float, float, float]:
    figure = next(m.change_percent for m in result.other_methods if m.name == name)
    assert figure is not None
    return figure.value, figure.low, figure.high


def test_eight_runs_with_drift_removed(tmp_path: Path) -> None:
    result = compared(tmp_path, 'changed_name = "2.8 bar"\n' + in_order(8) + weighed(ISLAND, 30))
    change = result.change_percent
    assert change is not None and result.drift_percent_per_run is not None and result.scatter is not None
    assert change.value == pytest.approx(-4.1, abs=0.05)
    assert change.half_width == pytest.approx(1.4, abs=0.05)
    assert result.drift_percent_per_run.value == pytest.approx(-0.53, abs=0.01)
    assert result.scatter.found.value == pytest.approx(0.78, abs=0.1)
    assert result.verdict == "less fuel"
    assert result.sentence == (
        "4.1 % less fuel with 2.8 bar, somewhere from 2.7 to 5.5 % less. Eight runs, alternating."
    )
    assert _method(result, "Student's t, pooled")[0] == pytest.approx(-4.1, abs=0.05)


def test_off_its_group_averages_to_nothing_over_each_group(tmp_path: Path) -> None:
    """Without drift taken off: every run over the plain mean of its group, 899 of 883.25 g and so on."""
    plain = compared(tmp_path, "take_off = []\n" + in_order(8) + weighed(ISLAND, 30))
    for letter, group in (("A", plain.baseline), ("B", plain.changed)):
        grams = [g for which, g in ISLAND if which == letter]
        off = [run.off_group_percent for run in plain.runs if run.group == group]
        assert off == pytest.approx([100 * (g / np.mean(grams) - 1) for g in grams])
    drifting = compared(tmp_path, in_order(8) + weighed(ISLAND, 30))
    assert drifting.drift_percent_per_run is not None
    for group in (drifting.baseline, drifting.changed):
        off = [run.off_group_percent for run in drifting.runs if run.group == group]
        assert sum(off) == pytest.approx(0.0, abs=1e-9)  # type: ignore[arg-type]
        assert max(map(abs, off)) < 1.2, "the drift of 0.5 % a run is taken off first"  # type: ignore[arg-type]


def test_the_same_drift_reads_as_an_effect_where_all_a_come_first(tmp_path: Path) -> None:
    """The car of the scenario driven A-A-A-A-B-B-B-B under its drift of -0.53 % a run would read about -6.1 %."""
    drift = -0.0053
    level = np.mean([math.log(g) - drift * i for i, (letter, g) in enumerate(ISLAND) if letter == "A"])
    grams = [
        (letter, float(np.exp(level + drift * i + (-0.041 if letter == "B" else 0))))
        for i, letter in enumerate("AAAABBBB")
    ]
    result = compared(tmp_path, "take_off = []\n" + in_order(8) + weighed(grams, 30))
    assert result.change_percent is not None
    assert result.change_percent.value == pytest.approx(-6.1, abs=0.1)
    assert "all-before-then-after" in codes(result)


def test_percent_of_fuel_and_percent_of_distance(tmp_path: Path) -> None:
    result = compared(tmp_path, in_order(4) + weighed(ROADSTER, 30))
    assert result.change_percent is not None and result.mpg_change_percent is not None
    assert result.change_percent.value == pytest.approx(-17.4, abs=0.05)
    assert result.mpg_change_percent.value == pytest.approx(21.1, abs=0.05)
    assert "all-before-then-after" in codes(result)


ROADSTER_SHEET = """[vehicle]
name = "The Thornkeld Special"
body = "roadster"
test_mass = "760 kg"
rolling_circumference = "2.168 m"
gear_ratios = [3.1, 1.7, 1.0]
final_drive = {axle}
[engine]
fuel = "petrol"
displacement = "2.1 L"
"""
ROADSTER_RUN = """vehicle = "vehicle_{axle}.toml"
label = "{label}"
[[weighing]]
when = "before"
gross = ["{before} kg"]
[[weighing]]
when = "after"
gross = ["2.000 kg"]
[odometer]
start = "100.00 km"
end = "{end} km"
"""


def _roadster(folder: Path, factor: str = "") -> str:
    """Four runs by odometer, driven from the gearbox: 30.00 km with axle 4.70 read 22.98 km with 3.60."""
    for axle in ("4.7", "3.6"):
        (folder / f"vehicle_{axle}.toml").write_text(ROADSTER_SHEET.format(axle=axle))
    for i, (letter, grams) in enumerate(ROADSTER, 1):
        end, axle = ("130.00", "4.7") if letter == "A" else ("122.98", "3.6")
        text = ROADSTER_RUN.format(axle=axle, label=f"run {i}", before=f"{2 + grams / 1000:.3f}", end=end)
        (folder / f"r{i}.toml").write_text(text + (f"factor = {factor}\n" if factor else ""))
    return 'baseline = ["r1.toml", "r2.toml"]\nchanged = ["r3.toml", "r4.toml"]\n'


def test_an_odometer_behind_another_axle_stops_the_comparison(tmp_path: Path) -> None:
    """By the odometer of B the saving of 17 % becomes a loss of 8 %: this must not be used."""
    result = compared(tmp_path, _roadster(tmp_path))
    assert result.change_percent is not None
    assert result.change_percent.value == pytest.approx(7.8, abs=0.2)
    assert "odometer-after-gearing" in codes(result)
    assert result.verdict == "cannot tell"
    assert "must not be used" in result.sentence


def test_one_factor_carried_over_to_the_other_axle_stops_it_too(tmp_path: Path) -> None:
    assert "odometer-after-gearing" in codes(compared(tmp_path, _roadster(tmp_path, "1.0")))


def test_a_factor_for_each_axle_lets_it_pass(tmp_path: Path) -> None:
    text = _roadster(tmp_path, "1.0")
    for name in ("r3.toml", "r4.toml"):
        path = tmp_path / name
        path.write_text(path.read_text().replace("factor = 1.0", "factor = 1.3055"))
    result = compared(tmp_path, text)
    assert "odometer-after-gearing" not in codes(result)
    assert "gearing-changed" in codes(result)
    assert result.change_percent is not None
    assert result.change_percent.value == pytest.approx(-17.4, abs=0.1)


def test_three_runs_with_the_scatter_taken_as_known(tmp_path: Path) -> None:
    runs = in_order(3) + weighed([("A", 1472), ("B", 1296), ("A", 1455)], 25)
    result = compared(tmp_path, 'run_scatter = "1.5 %"\n' + runs)
    change = result.change_percent
    assert change is not None
    assert change.value == pytest.approx(-11.4, abs=0.05)
    assert (change.high - change.low) / 2 / (1 - 0.114) == pytest.approx(3.6, abs=0.05)
    assert result.verdict == "less fuel"
    believed = compared(tmp_path, runs)
    assert believed.scatter is not None and believed.scatter.matters
    assert "scatter-believed" in codes(believed)
    assert _method(believed, "nothing believed of the scatter")[1] < -20


def test_three_pairs_that_show_nothing(tmp_path: Path) -> None:
    pairs = [(1640, 1609), (1598, 1601), (1622, 1614)]
    text = "".join(
        table(group=group, label=f"{group} {i}", fuel=f"{grams} g", distance="25 km", block=str(i))
        for i, pair in enumerate(pairs)
        for group, grams in zip(("baseline", "changed"), pair, strict=True)
    )
    result = compared(tmp_path, text)
    change = result.change_percent
    assert change is not None
    assert change.value == pytest.approx(-0.7, abs=0.05)
    assert change.low == pytest.approx(-3.4, abs=0.1)
    assert change.high == pytest.approx(1.9, abs=0.1)
    assert result.verdict == "no difference seen"
    assert result.sentence.startswith("We could not see a difference")
    assert "in three pairs" in result.sentence
    assert _method(result, "pairs") == pytest.approx((change.value, change.low, change.high), rel=1e-9)


def test_a_sweep_with_a_flat_best(tmp_path: Path) -> None:
    rows = [row.split("/") for row in SWEEP.split()]
    text = "".join(
        table(label=str(i), fuel=f"{g} g", distance="40 km", setting=f"{lift} mm", temperature=f"{air} degC")
        for i, (lift, air, g) in enumerate(rows)
    )
    result = compared(tmp_path, text)
    sweep = result.sweep
    assert sweep is not None and sweep.best is not None and result.temperature_percent_per_K is not None
    assert sweep.scatter_percent == pytest.approx(1.15, abs=0.01)
    assert result.temperature_percent_per_K.value == pytest.approx(-0.27, abs=0.01)
    assert sweep.best.value == pytest.approx(0.93, abs=0.005)
    assert (sweep.best.low, sweep.best.high) == pytest.approx((0.88, 0.98), abs=0.005)
    above = {point.setting: point.above_best_percent for point in sweep.points}
    expected = {0.80: (3.2, 2.5), 0.85: (1.2, 1.1), 0.90: (0.2, 0.5), 0.95: (0.1, 0.4), 1.00: (0.9, 2.1)}
    for setting, (more, half) in expected.items():
        assert above[setting].value == pytest.approx(more, abs=0.06)
        assert above[setting].half_width == pytest.approx(half, abs=0.12)
    assert sweep.probability == pytest.approx(0.06, abs=0.005)
    assert result.sentence.startswith("Anything from 0.88 to 0.98 mm is the same to us")
    assert "not proven" in result.sentence
