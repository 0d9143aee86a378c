"""Settings logs: what is shown in the documentation can be read, and every fault is told with its place."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from random_tables import QUICK, random_tables

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, NamedDocument
from calmday.files.settings_file import read_settings, settings_of

PAGE = Path(__file__).parents[2] / "docs" / "settings.md"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The file that docs/settings.md shows."""
    shown = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    path = tmp_path / "setting.toml"
    path.write_text(shown[1], encoding="utf-8")
    return path


def test_the_file_shown_can_be_read(file: Path) -> None:
    log = read_settings(file)
    assert [entry.what for entry in log.entries] == [
        "axle ratio", "plunger lift", "plunger lift", "injector opening pressure",
    ]  # fmt: skip
    assert log.lift_curve is not None
    assert len(log.lift_curve.lift_m) == 6
    assert log.limits[0].highest is not None
    assert log.entries[2].set is not None
    assert log.entries[2].set.half_width == pytest.approx(2e-5)
    assert log.entries[2].runs == ("run-3.toml", "run-4.toml")


def test_a_curve_may_lie_in_a_file(file: Path) -> None:
    text = re.sub(r"point = \[.*?\n\]\n", 'file = "lift.csv"\n', file.read_text(encoding="utf-8"), flags=re.DOTALL)
    file.write_text(text, encoding="utf-8")
    lift = file.with_name("lift.csv")
    lift.write_text("crank_deg,lift_mm\n0,0\n4,0.14\n8,0.38\n12,0.68\n", encoding="utf-8")
    curve = read_settings(file).lift_curve
    assert curve is not None
    assert curve.lift_m == pytest.approx((0, 1.4e-4, 3.8e-4, 6.8e-4))
    for content, told in (
        ("0,0\n", "another head"),
        ("crank_deg,lift_mm\n0,x\n", "line 2"),
        ("crank_deg,lift_mm\n0,99\n", "line 2"),
    ):
        lift.write_text(content, encoding="utf-8")
        with pytest.raises(InputError, match=told):
            read_settings(file)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('what = "axle ratio"\n', ""), "setting[3].what: is missing"),
        (("set = 4.1", 'set = "4.1 mm"'), 'setting[3].set: "4.1 mm" is not a number'),
        (('found = "0.88 mm"', 'found = "0.88"'), 'setting[0].found: "0.88" has no unit'),
        (('found = "0.88 mm"', "found = 0.88"), "setting[0].found: \"0.88\" has no unit; a length with its unit"),
        (('found = "0.88 mm"', 'found = "0.88 bar"'), 'setting[0].found: "0.88 bar" is a pressure, not a length'),
        (('pm = "0.02 mm"', 'pm = "0.02 bar"'), "setting[1].set.pm: "),
        (('screw =', 'srew ='), "setting[1].srew: is not a known key; did you mean screw?"),
        (('{ angle = "4 deg", lift = "0.14 mm" }', '{ angle = "4 deg" }'), "lift_curve.point[1].lift: is missing"),
        (('{ angle = "4 deg"', '{ angle = "0 deg"'), "lift_curve.point: has one angle twice"),
        (('highest = "0.9 bar"\n', ""), "limit[0].highest: is missing"),
        (('time = "6 s"\n', ""), "cold_start[0].time: is missing"),
        (('found = "138 bar"\nset = "150 bar"\n', ""), "setting[2].set: is missing"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_place(file: Path, change: tuple[str, str], told: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert change[0] in text
    file.write_text(text.replace(change[0], change[1], 1), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_settings(file, name="setting.toml")
    assert any(f"setting.toml: {told}" in str(fault) for fault in caught.value.faults), caught.value.faults


def test_one_setting_has_one_measure() -> None:
    tables = {"setting": [{"what": "stop", "set": "3 mm"}, {"what": "stop", "set": "2 bar"}]}
    with pytest.raises(InputError, match="is a length once and a pressure again"):
        settings_of(NamedDocument(tables, FolderFiles(Path())), "setting.toml", "s")


KEYS = [
    "label", "setting", "what", "found", "set", "tightened", "cylinder", "date", "lift_curve", "point", "angle", "lift",
    "file", "tolerance", "cold_start", "temperature", "time", "limit", "highest", "pm", "value", "odd",
]  # fmt: skip


@QUICK
@given(random_tables(KEYS, ["plunger lift", "0.9 mm", "4 deg", "axle ratio", "6 s", "4 degC", "1 bar"]))
def test_any_document_is_read_or_refused_in_words(tables: dict[str, Any]) -> None:
    try:
        settings_of(NamedDocument(tables, FolderFiles(Path("/nowhere"))), "setting.toml", "s")
    except InputError as error:
        assert all(fault.wrong and "\n" not in str(fault) for fault in error.faults)
