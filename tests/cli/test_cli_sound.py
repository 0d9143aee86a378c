"""`calmday sound` on the command line: sheet, JSON, CSV and picture, faults with file and remedy, exit status."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from calmday.cli.main import main

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "samples"))
from sample_sounds import SHEET, held_speed  # noqa: E402


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    held_speed(tmp_path, 8310, seconds=5)
    (tmp_path / "vehicle.toml").write_text(SHEET.format(axle=4.6), encoding="utf-8")
    return tmp_path


def test_sheet_table_and_picture(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status = main(
        ["sound", str(folder / "cab.wav"), "--vehicle", str(folder), "--speed", "80 km/h", "--gear", "2",
         "--csv", str(folder / "speed.csv"), "--picture", str(folder / "sound.svg")]
    )  # fmt: skip
    said = " ".join(capsys.readouterr().out.split())
    assert status == 0
    assert "The engine turned 8310 rpm" in said
    assert "the build sheet's gearing fits" in said
    assert (folder / "speed.csv").read_text(encoding="utf-8").startswith("time_s,engine_speed_rpm")
    assert (folder / "sound.svg").read_text(encoding="utf-8").startswith("<svg")


def test_json_is_pure(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sound", str(folder / "cab.wav"), "--cylinders", "4", "--strokes", "4", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["schema"] == "calmday/sound/1"
    assert "speed-range-assumed" not in told.err
    assert "states no idle speed and governed speed" in told.err


@pytest.mark.parametrize(
    ("arguments", "key"),
    [
        (["cab.wav"], "cylinders"),
        (["broken.wav", "--cylinders", "4"], "file"),
        (["nowhere.wav", "--cylinders", "4"], "file"),
        (["cab.wav", "--cylinders", "4", "--speed", "80"], "speed"),
        (["cab.wav", "--vehicle", "vehicle.toml", "--gear", "7"], "gear"),
        (["."], "sound.toml"),
    ],
)
def test_faults_name_the_file_and_what_would_be_right(
    folder: Path, arguments: list[str], key: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (folder / "broken.wav").write_bytes((folder / "cab.wav").read_bytes()[:5000])
    assert main(["sound", *arguments]) == 2
    said = capsys.readouterr().err
    assert f": {key}: " in said
    assert "; " in said


def test_the_sound_file_as_the_logbook_writes_it_comes_back(folder: Path, tmp_path: Path) -> None:
    (folder / "sound.toml").write_text(
        'vehicle = "vehicle.toml"\nrecording = "cab.wav"\nlabel = "Sixth"\nspeed = "80 km/h"\n', encoding="utf-8"
    )
    from calmday.operations import hear_sound_file  # noqa: PLC0415

    result = hear_sound_file(folder / "sound.toml").result
    assert result.label == "Sixth"
    assert result.gears_heard[0].gear == 2
