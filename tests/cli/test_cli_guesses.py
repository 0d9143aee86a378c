"""`calmday guesses` in process: sealing, the program's own guess, the board, the picture."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.reports.json_result import json_result

RUN = """
label = "Canal loop"
vehicle = "vehicle.toml"
distance = "40 km"
[fuel]
kind = "diesel"
density = "0.832 kg/L"
"""
WEIGHED = '[[weighing]]\nwhen = "before"\ngross = "5387 g"\n[[weighing]]\nwhen = "after"\ngross = "2697 g"\n'
TOLD = '[guessing]\nunit = "L/100km"\nspeed = "55 km/h"\n'


@pytest.fixture
def day(tmp_path: Path) -> Path:
    (tmp_path / "vehicle.toml").write_text('[vehicle]\nname = "Lorry"\nbody = "lorry"\ntest_mass = "2600 kg"\n')
    (tmp_path / "run.toml").write_text(RUN + TOLD)
    return tmp_path


def test_from_sealing_to_the_board(day: Path, capsys: Any) -> None:
    tables = ""
    for by, text in (("Ada", "8.4 L/100km"), ("Bo", "29 mpg imp")):
        assert main(["guesses", "--seal", text, "--by", by]) == 0
        out, err = capsys.readouterr()
        assert err.startswith("Seal to show now: ")
        tables += out
    assert main(["guesses", str(day), "--own"]) == 0
    own, err = capsys.readouterr()
    assert "Calmday guesses" in err
    assert 'by = "Calmday"' in own
    (day / "run.toml").write_text(RUN + TOLD + WEIGHED + tables + own)
    picture = day / "board.svg"
    assert main(["guesses", str(day), "--draws", "400", "--picture", str(picture)]) == 0
    out, err = capsys.readouterr()
    said = " ".join(out.split())
    assert "Ada with 8.4 L/100 km was nearest" in said
    assert said.count("seal holds") == 3
    assert "Calmday (the" in said
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert main(["guesses", str(day), "--draws", "400", "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    schema = json.loads(json_result(operations.schema("guesses")))
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(printed)) == []


def test_a_broken_seal_leaves_with_1(day: Path, capsys: Any) -> None:
    assert main(["guesses", "--seal", "8.4 L/100km", "--by", "Ada"]) == 0
    table = capsys.readouterr().out.replace("8.4", "8.1")
    (day / "run.toml").write_text(RUN + TOLD + WEIGHED + table)
    assert main(["guesses", str(day), "--draws", "400"]) == 1
    assert "seal broken" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "RUN: is missing"),
        (["--seal", "34 mpg", "--by", "Ada"], "--seal: \"34 mpg\": which gallon?"),
        (["--seal", "34 mpg US"], "--by: lacks a name"),
        (["DAY"], "weighing: is missing"),
        (["WEIGHED", "--own"], "comes after the fuel was weighed"),
        (["WEIGHED"], "prediction: is missing"),
    ],
)  # fmt: skip
def test_faults_leave_with_2_and_say_where(day: Path, arguments: list[str], told: str, capsys: Any) -> None:
    (day / "weighed.toml").write_text(RUN + TOLD + WEIGHED)
    places = {"DAY": str(day / "run.toml"), "WEIGHED": str(day / "weighed.toml")}
    assert main(["guesses", *(places.get(each, each) for each in arguments)]) == 2
    assert told in capsys.readouterr().err


def test_a_picture_of_no_kind_is_refused(day: Path, capsys: Any) -> None:
    (day / "run.toml").write_text(RUN + TOLD + WEIGHED + '[[prediction]]\nby = "Ada"\nvalue = "8.4 L/100km"\n')
    assert main(["guesses", str(day), "--draws", "400", "--picture", str(day / "board.gif")]) == 2
    assert "is no picture known here" in capsys.readouterr().err
