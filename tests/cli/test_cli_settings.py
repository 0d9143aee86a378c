"""`calmday settings` in process."""

from __future__ import annotations

import json
import re
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
