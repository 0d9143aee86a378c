"""`calmday published` in process."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.reports.json_result import json_result

LABEL = 'rule = "us 1985"\nmodel_year = 1991\ncity = "18 mpg US"\nhighway = "25 mpg US"\nsource = "a label"\n'
RUN = (
    'vehicle = "vehicle.toml"\ndistance = "40 km"\n[fuel]\nkind = "diesel"\n'
    '[[weighing]]\nwhen = "before"\ngross = "5387 g"\n[[weighing]]\nwhen = "after"\ngross = "2697 g"\n'
)


@pytest.fixture
def day(tmp_path: Path) -> Path:
    (tmp_path / "published.toml").write_text(LABEL)
    (tmp_path / "vehicle.toml").write_text('[vehicle]\nname = "Lorry"\nbody = "lorry"\ntest_mass = "2600 kg"\n')
    (tmp_path / "run.toml").write_text(RUN)
    return tmp_path


def test_the_figure_alone(day: Path, capsys: Any) -> None:
    assert main(["published", str(day)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Published: 18 mpg US city (13.1 L/100 km)" in out
    assert "The same car under other rules" in out


def test_beside_a_drive(day: Path, capsys: Any) -> None:
    assert main(["published", str(day), "--run", str(day), "--draws", "400"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "two different experiments" in out
    assert "None of these says which figure is right." in out


def test_json_follows_its_schema(day: Path, capsys: Any) -> None:
    assert main(["published", str(day), "--run", str(day), "--json", "--draws", "400"]) == 0
    printed = json.loads(capsys.readouterr().out)
    schema = json.loads(json_result(operations.schema("published")))
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(printed)) == []


def test_the_rules_are_listed_with_their_sources(capsys: Any) -> None:
    assert main(["published", "--rules"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "us 1985" in out
    assert "Remembered: from memory, not seen." in out


@pytest.mark.parametrize(
    ("arguments", "told"), [([], "FIGURE: is missing"), (["gone.toml"], "gone.toml: "), (["."], "published.toml: ")]
)
def test_faults_leave_with_2_and_say_where(
    arguments: list[str], told: str, tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["published", *arguments]) == 2
    assert told in capsys.readouterr().err
