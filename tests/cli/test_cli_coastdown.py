"""`calmday coastdown` in process: the file that the documentation shows, sheet, JSON, faults."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.reports.coastdown_sheet import coastdown_sheet
from calmday.reports.sheet import Table

DOCS = Path(__file__).parents[2] / "docs"
FEW = ["--draws", "200"]


def roll(seed: int, slope: float) -> str:
    """Speed once a second: 1480 kg, 190 N and 0.6 N/(m/s)^2, and a slope."""
    rng = np.random.default_rng(seed)
    speed, rows = 27.0, ["time_s,speed_kmh"]
    for second in range(110):
        rows.append(f"{second},{3.6 * speed + 0.3 * rng.standard_normal():.2f}")
        speed -= (190 + 0.6 * speed**2 + 1480 * 9.80665 * slope) / (1480 * 1.035)
        if speed < 7:
            break
    return "\n".join(rows) + "\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The coastdown file of docs/coastdown.md beside the vehicle of docs/file-formats.md."""
    formats = (DOCS / "file-formats.md").read_text(encoding="utf-8")
    shown = re.findall(r"## (\S+?):.*?```(?:toml|csv)\n(.*?)```", formats, re.DOTALL)
    for name, text in shown:
        (tmp_path / name).write_text(text, encoding="utf-8")
    page = (DOCS / "coastdown.md").read_text(encoding="utf-8")
    (tmp_path / "coastdown.toml").write_text(re.findall(r"```toml\n(.*?)```", page, re.DOTALL)[0], encoding="utf-8")
    for number, slope in ((1, 0.001), (2, -0.001)):
        (tmp_path / f"pass-{number}.csv").write_text(roll(number, slope), encoding="utf-8")
    return tmp_path


def test_the_sheet_starts_with_the_sentence(folder: Path, capsys: Any) -> None:
    assert main(["coastdown", str(folder), *FEW]) == 0
    out, err = capsys.readouterr()
    assert re.match(r"At 80 km/h on a calm day, \d+ N hold this vehicle back, give or take \d+", out.splitlines()[3])
    assert err == ""


def test_a_wide_sheet_shows_what_was_known_before_beside_what_was_found(folder: Path) -> None:
    sheet = coastdown_sheet(operations.reduce_coastdown_file(folder / "coastdown.toml", draws=200))
    (found,) = (block for block in sheet.blocks if isinstance(block, Table) and block.title == "What the passes say")
    before = {row[0]: row[1] for row in found.rows[:3]}
    assert "-" not in before.values()
    assert list(before) == ["drag area", "rolling resistance, all that turns", "of it the tyres"]


def test_json_follows_the_schema_and_holds_the_force(folder: Path, capsys: Any) -> None:
    assert main(["coastdown", str(folder), "--json", "--wanted", "12", *FEW]) == 0
    out, err = capsys.readouterr()
    data = json.loads(out)
    jsonschema.Draft202012Validator(operations.schema("coastdown")).validate(data)
    assert data["schema"] == "calmday/coastdown/1"
    assert data["more_passes"]["wanted_percent"] == pytest.approx(12)
    at = next(one for one in data["forces"] if one["speed"]["value"] == 60)
    known = 190 + 0.6 * (60 / 3.6) ** 2
    assert abs(at["force"]["value"] / known - 1) < 0.1
    assert "out of gear is restricted" in err


def test_the_same_input_gives_the_same_output(folder: Path, capsys: Any) -> None:
    printed = []
    for _ in range(2):
        assert main(["coastdown", str(folder), "--json", "--seed", "5", *FEW]) == 0
        printed.append(capsys.readouterr().out)
    assert printed[0] == printed[1]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('track = "pass-1.csv"', 'track = "nowhere.csv"'), "nowhere.csv: file: is not there"),
        (('to_speed = "30 km/h"', 'to_speed = "95 km/h"'), "pass[0].to_speed: is not below from_speed"),
        (('terrain = "farmland"', 'terrain = "moor"'), "terrain"),
        (("[[pass]]                         #", "[[roll]]  #"), "roll: is not a known key"),
        (('vehicle = "vehicle.toml"\n', ""), "vehicle: is missing"),
    ],
    ids=["no file", "speeds crossed", "terrain", "unknown table", "no vehicle"],
)
def test_faults_are_told_with_their_place(folder: Path, capsys: Any, change: tuple[str, str], told: str) -> None:
    file = folder / "coastdown.toml"
    text = file.read_text(encoding="utf-8")
    assert change[0] in text
    file.write_text(text.replace(*change), encoding="utf-8")
    assert main(["coastdown", str(file), *FEW]) == 2
    assert told in capsys.readouterr().err
