"""`calmday settings` in process."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.reports.json_result import json_result

PAGE = Path(__file__).parents[2] / "docs" / "settings.md"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shown = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    (tmp_path / "setting.toml").write_text(shown[1], encoding="utf-8")
    return tmp_path


def test_the_sheet_starts_with_what_it_was(folder: Path, capsys: Any) -> None:
    assert main(["settings", str(folder)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Plunger lift was 0.88 mm before anybody touched it (Ada, 2026-03-02)" in out
    assert "No factor holds for every pump" in out
    assert "knows no safe limit" in out
    assert "the jet goes through skin" in out


def test_json_follows_its_schema(folder: Path, capsys: Any) -> None:
    assert main(["settings", str(folder), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    schema = json.loads(json_result(operations.schema("settings")))
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(printed)) == []
    assert printed["timing"]["universal"] is False
    assert printed["runs"][0]["values"]["plunger lift"] == 0.93


@pytest.mark.parametrize(("argument", "told"), [("gone.toml", "gone.toml: "), (".", "no settings log in this folder")])
def test_faults_leave_with_2_and_say_where(
    argument: str, told: str, tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["settings", argument]) == 2
    assert told in capsys.readouterr().err


def test_a_comparison_takes_its_settings_from_the_log(folder: Path, capsys: Any) -> None:
    (folder / "run-1.toml").write_text("date = 2026-03-04\n")
    (folder / "run-9.toml").write_text("date = 2026-05-01\n")
    names = [str(folder / name) for name in ("run-1.toml", "run-9.toml")]
    assert main(["settings", str(folder), *names, "--runs-of", "plunger lift"]) == 0
    tables = tomllib.loads(capsys.readouterr().out)["run"]
    assert {row["file"]: row["setting"] for row in tables} == {
        "run-3.toml": "0.93 mm", "run-4.toml": "0.93 mm", "run-1.toml": "0.88 mm", "run-9.toml": "0.93 mm",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--runs-of", "boost"], "boost: is not a setting of this log; one of axle ratio, injector"),
        (["run-1.toml"], "RUN: stands without --runs-of"),
        (["early.toml", "--runs-of", "plunger lift"], "plunger lift: was not read before early.toml was driven"),
        (["undated.toml", "--runs-of", "plunger lift"], "undated.toml: date: is missing"),
    ],
)
def test_what_cannot_be_taken_is_told(
    folder: Path, more: list[str], told: str, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (folder / "early.toml").write_text("date = 2026-01-04\n")
    (folder / "undated.toml").write_text('label = "x"\n')
    assert main(["settings", ".", *more]) == 2
    assert told in capsys.readouterr().err
