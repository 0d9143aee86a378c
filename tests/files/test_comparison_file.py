"""comparison.toml: what is read from it, and what is said about what cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.comparison_file import read_comparison
from calmday.records.comparison import Comparison

RUN = """label = "{label}"
distance = "30 km"
date = 2026-04-{day:02d}
[[weighing]]
when = "before"
gross = ["3.000 kg"]
[[weighing]]
when = "after"
gross = ["{after} kg"]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for i in range(1, 5):
        (tmp_path / f"run_{i}.toml").write_text(RUN.format(label=f"Run {i}", day=i, after=f"1.{i}00"))
    return tmp_path


def _read(folder: Path, text: str) -> Comparison:
    (folder / "comparison.toml").write_text(text, encoding="utf-8")
    return read_comparison(folder / "comparison.toml")


def _faults(folder: Path, text: str) -> dict[str, str]:
    with pytest.raises(InputError) as error:
        _read(folder, text)
    return {fault.key: f"{fault.wrong}; {fault.right}" for fault in error.value.faults}


LISTS = 'baseline = ["run_1.toml", "run_4.toml"]\nchanged = ["run_2.toml", "run_3.toml"]\n'


def test_two_lists_of_run_files_are_enough(folder: Path) -> None:
    asked = _read(folder, LISTS)
    assert [(e.label, e.changed, e.order) for e in asked.entries] == [
        ("Run 1", False, 1),
        ("Run 4", False, 4),
        ("Run 2", True, 2),
        ("Run 3", True, 3),
    ]
    assert asked.label == "comparison"
    assert asked.removed is None


def test_everything_that_can_be_said(folder: Path) -> None:
    asked = _read(
        folder,
        'label = "Deflector"\nquestion = "Does it pay?"\nbaseline_name = "bare"\nchanged_name = "deflector"\n'
        'planned_runs = 4\nsmallest_change = "2 %"\nrun_scatter = "1.5 %"\nusual_scatter = "2 %"\n'
        f'driver_knew = false\nsealed_order = "{"a" * 64}"\nsealed_with = "A-B x"\nchanges_tried = 3\n'
        'take_off = ["order"]\ntake_weather_off = false\n'
        + LISTS
        + 'order = ["run_4.toml", "run_3.toml", "run_2.toml", "run_1.toml"]\n'
        '[[run]]\nfile = "run_3.toml"\nleft_out = "missed a turn"\nknown_before_weighing = true\nblock = "1"\n'
        'temperature = "50 degF"\nlabel = "third"\n[[claim]]\ntext = "12 % better"\nby = "Bo"\n',
    )
    third = asked.entries[3]
    assert (third.label, third.left_out, third.known_before, third.block) == ("third", "missed a turn", True, "1")
    assert third.temperature_k == pytest.approx(283.15)
    assert [entry.order for entry in asked.entries] == [4, 1, 3, 2]
    assert (asked.planned_runs, asked.of_several, asked.blind, asked.correct_for_weather) == (4, 3, True, False)
    assert (asked.smallest_change, asked.run_scatter, asked.scatter_belief) == pytest.approx((0.02, 0.015, 0.02))
    assert asked.removed == ("order",)
    assert asked.claims[0].by == "Bo"


def test_runs_of_which_only_fuel_and_distance_were_noted(folder: Path) -> None:
    asked = _read(
        folder,
        '[[run]]\ngroup = "baseline"\nfuel = "4 lb 1.0 oz"\ndistance = "20 mi"\n'
        '[[run]]\ngroup = "changed"\nfuel = "1800 g"\ndistance = "20 mi"\n',
    )
    assert asked.entries[0].fuel_kg == pytest.approx(1.8427, abs=1e-4)
    assert asked.entries[0].distance_m == pytest.approx(32186.88)
    assert asked.entries[0].order is None


def test_members_by_name_as_a_logbook_keeps_them(folder: Path) -> None:
    asked = _read(
        folder,
        '[member."run_1.toml"]\ngroup = "baseline"\n[member."run_2.toml"]\ngroup = "changed"\n'
        'left_out = "rain"\nknown_before_weighing = "yes"\n[member."run_3.toml"]\ngroup = "changed"\n',
    )
    assert [(e.label, e.changed, e.known_before) for e in asked.entries] == [
        ("Run 1", False, None),
        ("Run 2", True, True),
        ("Run 3", True, None),
    ]


def test_a_run_of_an_exported_logbook_by_its_identifier(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """comparisons/roof/comparison.toml names runs of runs/*/ by what history.json calls them."""
    ident = "066120f095e253372d028a335a"
    there = tmp_path / "runs" / "2026-04-01-loop"
    there.mkdir(parents=True)
    (there / "run.toml").write_text(RUN.format(label="Loop", day=1, after="1.500"))
    (there / "history.json").write_text(f'{{"subjects": [{{"id": "{ident}"}}]}}')
    here = tmp_path / "comparisons" / "roof"
    here.mkdir(parents=True)
    asked = _read(
        here,
        f'[member.{ident}]\ngroup = "baseline"\n[[run]]\ngroup = "changed"\nfuel = "1400 g"\ndistance = "30 km"\n',
    )
    assert asked.entries[0].label == "Loop"
    monkeypatch.chdir(tmp_path)
    assert read_comparison(Path("comparisons/roof/comparison.toml")).entries[0].label == "Loop", "from the logbook"
    monkeypatch.chdir(here)
    assert read_comparison(Path("comparison.toml")).entries[0].label == "Loop", "from its own folder"


def test_runs_of_one_label_are_told_apart(tmp_path: Path) -> None:
    """By their day; by their number where the day is the same, or nobody wrote one."""
    for name, day in (("a", 1), ("b", 2), ("c", 2)):
        (tmp_path / f"{name}.toml").write_text(RUN.format(label="Loop", day=day, after="1.500"))
    loose = '[[run]]\ngroup = "changed"\nlabel = "Hill"\nfuel = "900 g"\ndistance = "30 km"\n'
    asked = _read(tmp_path, 'baseline = ["a.toml", "b.toml"]\nchanged = ["c.toml"]\n' + 2 * loose)
    assert [entry.label for entry in asked.entries] == ["Loop, 1 April", "Loop (2)", "Loop (3)", "Hill (4)", "Hill (5)"]
    assert len({entry.label for entry in asked.entries}) == 5


FAULTS = [
    ("", "baseline", "no run that counts"),
    ('baseline = ["run_1.toml"]\n', "changed", "no run that counts"),
    (LISTS + "planed_runs = 8\n", "planed_runs", "planned_runs"),
    (LISTS + 'order = ["run_1.toml"]\n', "order", "every run once"),
    (LISTS + 'take_off = ["wind"]\n', "take_off", "order, temperature"),
    (LISTS + 'sealed_order = "abc"\n', "sealed_order", "64 characters"),
    (LISTS + 'smallest_change = "2"\n', "smallest_change", "%"),
    (LISTS + '[[run]]\nfile = "run_1.toml"\n[[run]]\nfile = "run_1.toml"\n', "run[1].file", "has a table already"),
    ('[[run]]\ngroup = "changed"\nfuel = "1 kg"\n', "run[0].distance", "is missing"),
    ('[[run]]\nfile = "run_1.toml"\n', "run[0].group", "is missing"),
    (LISTS + '[[run]]\nfile = "run_1.toml"\nsetting = "lots"\n', "run[0].setting", "0.90 mm"),
    (LISTS + '[[run]]\nfile = "run_1.toml"\nsetting = "0,90 mm"\n', "run[0].setting", "decimal point"),
    (LISTS + '[[run]]\nfile = "run_1.toml"\nwith = ["wings"]\n', "run.with", "not one of changes"),
    (LISTS + '[[run]]\nfile = "run_1.toml"\ncontrol = "6.1 L/100km"\n', "run.control", "some runs only"),
    (LISTS + '[[run]]\nfile = "run_1.toml"\nsetting = "1 mm"\n', "run.setting", "is missing"),
    (LISTS + "[[claim]]\n", "claim[0].text", "is missing"),
    (LISTS + 'driver_knew = "perhaps"\n', "driver_knew", "true or false"),
]


@pytest.mark.parametrize(("text", "key", "says"), FAULTS, ids=[f"{key}-{i}" for i, (_, key, _) in enumerate(FAULTS)])
def test_a_fault_names_its_key_and_what_would_be_right(folder: Path, text: str, key: str, says: str) -> None:
    assert says in _faults(folder, text)[key]


def test_a_run_file_that_is_not_there_is_told_by_name(folder: Path) -> None:
    with pytest.raises(InputError, match=r"run_9\.toml"):
        _read(folder, 'baseline = ["run_1.toml"]\nchanged = ["run_9.toml"]\n')


def test_settings_in_two_units_are_refused(folder: Path) -> None:
    text = "".join(
        f'[[run]]\nfuel = "1 kg"\ndistance = "20 km"\nsetting = "{setting}"\n' for setting in ("1 mm", "2 mm", "3 deg")
    )
    assert "different units" in _faults(folder, text)["run"]
