"""`calmday compare` in process: the sheet, JSON by its schema, claims, a sealed order, the picture."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.reports.json_result import json_result

RUNS = "".join(
    f'[[run]]\ngroup = "{group}"\nlabel = "{i}"\nfuel = "{grams} g"\ndistance = "30 km"\n'
    for i, (group, grams) in enumerate(
        [("baseline", 899), ("changed", 865), ("changed", 849), ("baseline", 889), ("baseline", 872)], 1
    )
)


@pytest.fixture
def test_folder(tmp_path: Path) -> Path:
    (tmp_path / "comparison.toml").write_text('changed_name = "2.8 bar"\n' + RUNS)
    return tmp_path


def test_the_sheet_leads_with_the_sentence(test_folder: Path, capsys: Any) -> None:
    assert main(["compare", str(test_folder)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert re.search(r"\d % less fuel with 2\.8 bar, somewhere from|We could not see a difference with 2\.8 bar", out)
    assert "Counted in other ways" in out


def test_json_follows_its_schema_and_cautions_go_to_standard_error(test_folder: Path, capsys: Any) -> None:
    path = test_folder / "comparison.toml"
    path.write_text("changes_tried = 10\n" + path.read_text())
    assert main(["compare", str(path), "--json"]) == 0
    out, err = capsys.readouterr()
    schema = json.loads(json_result(operations.schema("comparison")))
    printed = json.loads(out)
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(printed)) == []
    assert printed["schema"] == "calmday/comparison/1"
    assert "one of 10 changes tried" in err


def test_a_stop_leaves_with_one(test_folder: Path, capsys: Any) -> None:
    path = test_folder / "comparison.toml"
    path.write_text(f'sealed_order = "{"0" * 64}"\nsealed_with = "A-B"\n' + path.read_text())
    assert main(["compare", str(path)]) == 1
    assert "must not be used" in capsys.readouterr().out


def test_faults_leave_with_two(tmp_path: Path, capsys: Any) -> None:
    assert main(["compare", str(tmp_path)]) == 2
    assert "no comparison in this folder" in capsys.readouterr().err
    assert main(["compare"]) == 2


def test_claims_are_looked_at_without_a_file(capsys: Any) -> None:
    assert main(["compare", "--claim", "12 % better mpg", "--claim", "6.6 L/100 km, give or take 0.2"]) == 0
    out = capsys.readouterr().out
    assert "10.7 % less fuel" in out
    assert "Nothing is wrong with the words themselves" in out


def test_an_order_drawn_opens_with_its_line(test_folder: Path, capsys: Any) -> None:
    assert main(["compare", "--draw-order", "8"]) == 0
    out = capsys.readouterr().out
    digest = re.search(r"[0-9a-f]{64}", out)
    line = re.search(r"([AB]-){7}[AB] [0-9a-f]{32}", out)
    assert digest and line
    assert hashlib.sha256(line[0].encode()).hexdigest() == digest[0]
    path = test_folder / "comparison.toml"
    path.write_text(f'sealed_order = "{digest[0]}"\nsealed_with = "{line[0]}"\n' + path.read_text())
    assert main(["compare", str(path)]) == 0
    assert "Opened, and it fits." in " ".join(capsys.readouterr().out.split())


def test_an_order_and_claims_as_json_are_json(capsys: Any) -> None:
    assert main(["compare", "--draw-order", "6", "--json"]) == 0
    drawn = json.loads(capsys.readouterr().out)
    assert hashlib.sha256(drawn["sealed_with"].encode()).hexdigest() == drawn["digest"]
    assert main(["compare", "--claim", "it now does 40 mpg", "--claim", "6.6 L/100 km", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [[flag["code"] for flag in each["flags"]] for each in told] == [["gallon-not-named"], []]


def test_an_order_pairs_each_a_with_a_b(capsys: Any) -> None:
    for secret in map(str, range(40)):
        letters = operations.sealed_order(8, secret).order.split("-")
        assert all(set(letters[i : i + 2]) == {"A", "B"} for i in range(0, 8, 2))
    assert len({operations.sealed_order(8, str(s)).order for s in range(40)}) > 5


def test_an_odd_order_is_refused(capsys: Any) -> None:
    assert main(["compare", "--draw-order", "7"]) == 2
    assert "an even number" in capsys.readouterr().err


def test_the_picture(test_folder: Path, capsys: Any) -> None:
    picture = test_folder / "change.svg"
    assert main(["compare", str(test_folder), "--picture", str(picture)]) == 0
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert "Picture written" in capsys.readouterr().err
