"""`calmday gears` and `calmday pull` in process: real files, exit status, streams, units, the card."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from calmday.cli.main import main

FORMATS = Path(__file__).parents[2] / "docs" / "file-formats.md"
LOG = "time_s,speed_kmh\n" + "".join(f"{i * 0.5},{40 + 38 * (1 - 2.718 ** (-i / 24)):.2f}\n" for i in range(60))
FEW = ["--draws", "200"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The files that docs/file-formats.md shows, with a pull."""
    shown = re.findall(r"## (\S+?):.*?```(?:toml|csv)\n(.*?)```", FORMATS.read_text(encoding="utf-8"), re.DOTALL)
    for name, text in shown:
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "pull-north.csv").write_text(LOG, encoding="utf-8")
    return tmp_path


def test_the_sheet_starts_with_the_sentence(folder: Path, capsys: Any) -> None:
    assert main(["gears", str(folder / "vehicle.toml"), *FEW]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines()[3].startswith("In fifth it holds ")
    assert err == ""


def test_a_folder_will_do_and_wind_and_hill_change_the_answer(folder: Path, capsys: Any) -> None:
    held = []
    for more in ([], ["--headwind", "20 kn"], ["--grade", "3 %"], ["--payload", "900 lb"], ["--altitude", "2000 m"]):
        assert main(["gears", str(folder), "--json", *FEW, *more]) == 0
        data = json.loads(capsys.readouterr().out)
        held.append(data["gears"][4]["sustained_speed"]["value"] if data["gears"][4]["sustained_speed"] else 0.0)
    assert all(other < held[0] for other in held[1:])
    assert data["asked"]["air_density"]["value"] == pytest.approx(1.0, abs=0.02)


def test_json_is_pure_and_cautions_go_elsewhere(folder: Path, capsys: Any) -> None:
    sheet = folder / "vehicle.toml"
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(text.replace('full_load = "full_load.csv"\n', ""), encoding="utf-8")
    assert main(["gears", str(folder), "--json", *FEW]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["schema"] == "calmday/gears/1"
    assert "caution: There is no full-load curve." in err


def test_the_speed_and_the_smooth_limit_are_taken_from_the_command(folder: Path, capsys: Any) -> None:
    assert main(["gears", str(folder), "--json", *FEW, "--speed", "50 mph", "--smooth", "1800 rpm"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["asked"]["speed"]["value"] == pytest.approx(80.4672)
    assert data["asked"]["assumed_speed"] is False
    after = data["shift_points"]["least_fuel"][0]["engine_speed_after"]
    assert after["value"] == pytest.approx(1800)
    assert after["standard_uncertainty"] == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--headwind", "7"], 'calmday gears: --headwind: "7" has no unit; a speed'),
        (["--grade", "3 m"], "calmday gears: --grade: "),
        (["--headwind", "400 m/s"], "is not possible here; from -40 m/s to 40 m/s"),
        (["--chart-standard", "ISO 9"], "--chart-standard"),
        (["--speedometer-factor", "9"], "--speedometer-factor"),
        (["--card", "/nowhere/at/all.html"], "--card: "),
        (["--run", "gone.toml"], "gone.toml: "),
    ],
)
def test_faults_leave_with_2_and_say_where(folder: Path, arguments: list[str], told: str, capsys: Any) -> None:
    assert main(["gears", str(folder), *FEW, *arguments]) == 2
    assert told in capsys.readouterr().err


def test_a_folder_without_build_sheet_is_told(tmp_path: Path, capsys: Any) -> None:
    assert main(["gears", str(tmp_path)]) == 2
    assert "vehicle.toml: no build sheet in this folder" in capsys.readouterr().err
    assert main(["pull", str(tmp_path)]) == 2
    assert "pull.toml: no pull file in this folder" in capsys.readouterr().err


def test_the_card_goes_to_a_page_a_text_or_the_screen(folder: Path, capsys: Any) -> None:
    page, text = folder / "card.html", folder / "card.txt"
    assert main(["gears", str(folder), *FEW, "--card", str(page)]) == 0
    out, err = capsys.readouterr()
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert f"Shift card written to {page}" in err.replace("\n", "")
    assert "In fifth" in out
    assert main(["gears", str(folder), *FEW, "--card", str(text), "--unit", "mph"]) == 0
    assert "Speeds in mph by satellite." in text.read_text(encoding="utf-8")
    capsys.readouterr()
    assert main(["gears", str(folder), *FEW, "--card", "-"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Shift card: Fen Hauler")
    assert "In fifth" not in out


def test_the_card_does_not_disturb_json(folder: Path, capsys: Any) -> None:
    assert main(["gears", str(folder), *FEW, "--json", "--card", "-"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["shift_card"]["rows"]
    assert "Shift card" in err


def test_few_draws_will_do_beside_a_run(capsys: Any) -> None:
    from calmday.operations import demo_folder  # noqa: PLC0415

    example = demo_folder()
    if not (example / "run.toml").exists():
        pytest.skip("examples/fen-hauler is not here")
    assert main(["gears", str(example), "--run", str(example), "--draws", "200", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["run"]["label"].startswith("Fen loop")


def test_a_pull_day(folder: Path, capsys: Any) -> None:
    assert main(["pull", str(folder), *FEW]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[3].startswith("The engine gave ")
    assert main(["pull", str(folder / "pull.toml"), "--json", *FEW]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["schema"] == "calmday/pull/1"
    assert len(data["pulls"]) == 4
    assert set(data["provenance"]["files"]) >= {"pull.toml", "vehicle.toml", "full_load.csv", "pull-north.csv"}


def test_a_fault_in_a_pull_file_leaves_with_2(folder: Path, capsys: Any) -> None:
    file = folder / "pull.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("gear = 3", "gear = 33"), encoding="utf-8")
    assert main(["pull", str(file)]) == 2
    assert "pull[0].gear" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["gears", "pull"])
def test_the_schema_can_be_had(name: str, capsys: Any) -> None:
    assert main(["schema", name]) == 0
    assert json.loads(capsys.readouterr().out)["$defs"]["Figure"]
