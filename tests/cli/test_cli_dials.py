"""`calmday dials`: the sheet, JSON, a factor that has ended, and faults."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from calmday.cli.main import main

DIALS = """
vehicle = "vehicle.toml"
date = 2026-04-12
[[speedometer.reading]]
indicated = "80 km/h"
satellite = "74.6 km/h"
[[odometer.stretch]]
start = "100 km"
end = "120.7 km"
distance = "20.15 km"
"""
SHEET = '[vehicle]\nname = "X"\ntyre = "195/75 R16"\nfinal_drive = 4.1\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "vehicle.toml").write_text(SHEET, encoding="utf-8")
    (tmp_path / "dials.toml").write_text(DIALS, encoding="utf-8")
    return tmp_path


def test_the_sheet_leads_with_what_a_driver_does_with_it(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["dials", str(folder)]) == 0
    assert "At 80 km/h on the dial you drive 7" in capsys.readouterr().out


def test_json(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["dials", str(folder / "dials.toml"), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["schema"] == "calmday/dials/1"
    assert result["odometer"]["factor"]["low"] < 20.15 / 20.7 < result["odometer"]["factor"]["high"]


def test_after_a_change_of_axle_the_factor_must_not_be_used(folder: Path, capsys: pytest.CaptureFixture[str]):
    change = '[[change]]\ndate = 2026-05-02\nwhat = "taller axle"\nfinal_drive = 3.7\n'
    (folder / "vehicle.toml").write_text(SHEET + change, encoding="utf-8")
    assert main(["dials", str(folder)]) == 1
    assert "taller axle" in capsys.readouterr().out


def test_a_fault_is_one_line(folder: Path, capsys: pytest.CaptureFixture[str]):
    (folder / "dials.toml").write_text(DIALS.replace('"80 km/h"', '"80"'), encoding="utf-8")
    assert main(["dials", str(folder)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
