"""Pull files: what is shown in the documentation can be read, and every fault is told with its place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.pull_file import read_pulls

FORMATS = Path(__file__).parents[2] / "docs" / "file-formats.md"
LOG = "time_s,speed_kmh\n" + "".join(f"{i * 0.5},{36 + 0.8 * i:.1f}\n" for i in range(60))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The files that docs/file-formats.md shows."""
    shown = re.findall(r"## (\S+?):.*?```(?:toml|csv)\n(.*?)```", FORMATS.read_text(encoding="utf-8"), re.DOTALL)
    for name, text in shown:
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "pull-north.csv").write_text(LOG, encoding="utf-8")
    return tmp_path


def faults(folder: Path, *changes: tuple[str, str]) -> list[str]:
    file = folder / "pull.toml"
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_pulls(file, name="pull.toml")
    return [str(fault) for fault in caught.value.faults]


def test_the_file_shown_can_be_read(folder: Path):
    day = read_pulls(folder / "pull.toml")
    assert day.vehicle.name == "Fen Hauler"
    assert day.correct_to == day.chart_standard == "ISO 1585"
    assert len(day.weather.readings) == 1
    pull, climb = day.pulls
    assert (pull.kind, pull.gear) == ("acceleration", 3)
    assert pull.track is not None
    assert len(pull.track) == 60
    assert pull.from_speed_mps == pytest.approx(40 / 3.6)
    assert pull.grade is not None
    assert pull.grade.half_width == pytest.approx(0.003)
    assert pull.rotating_mass_kg is not None
    assert pull.rotating_mass_kg.value == pytest.approx(110)
    assert pull.heading_deg == pytest.approx(350)
    assert climb.times_s == (246.0, 249.0, 247.0)
    assert climb.rise_m is not None
    assert climb.rise_m.half_width == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('gear = 3\ntrack', 'track'), "pull[0].gear: is missing"),
        (("gear = 3\ntrack", "gear = 8\ntrack"), "pull[0].gear: 8 is not a gear of this vehicle; from 1 to 5"),
        (('kind = "climb"', 'kind = "acceleration"'), "pull[1].kind: is not climb"),
        (('length = "5.0 km"\n', ""), "pull[1].length: is missing"),
        (('to_speed = "80 km/h"', 'to_speed = "30 km/h"'), "pull[0].to_speed: is not above from_speed"),
        (('rise = { value = "300 m", pm = "4 m" }', ""), "pull[1].rise: is missing"),
        (('track = "pull-north.csv"', ""), "pull[0].track: is missing"),
        (('track = "pull-north.csv"', 'track = "gone.csv"'), "gone.csv: "),
        (('correct_to = "ISO 1585"', 'correct_to = "ISO 9"'), "correct_to: "),
        (('vehicle = "vehicle.toml"\n', ""), "vehicle: is missing"),
        (('payload = "0 kg"', 'pay_load = "0 kg"'), "pay_load: is not a known key; did you mean payload?"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_place(folder: Path, change: tuple[str, str], told: str):
    assert any(told in line for line in faults(folder, change)), faults


def test_a_vehicle_without_gears_is_refused(folder: Path):
    sheet = folder / "vehicle.toml"
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(re.sub(r"gear_ratios.*\n", "", text), encoding="utf-8")
    (line,) = faults(folder)
    assert line.startswith("pull.toml: vehicle: states no gear_ratios")


def test_all_faults_are_told_at_once(folder: Path):
    assert len(faults(folder, ("gear = 3\ntrack", "track"), ('length = "5.0 km"\n', ""))) == 2


def test_a_file_without_pulls_is_refused(folder: Path):
    (folder / "pull.toml").write_text('vehicle = "vehicle.toml"\n')
    (line,) = faults(folder)
    assert "pull: is missing" in line
