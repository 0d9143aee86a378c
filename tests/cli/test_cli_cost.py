"""`calmday cost` in process: options, files, exit status, streams, the schema."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.reports.json_result import json_result

SWAP = [
    "--use", "11.4 L/100km petrol", "--use", "7.5 L/100km diesel", "--price", "1.81 EUR/L petrol",
    "--price", "1.62 EUR/L diesel", "--yearly-distance", "15000 km", "--outlay", "2400 EUR", "--tank", "60 L",
]  # fmt: skip


def test_a_quick_answer_needs_two_options(capsys: Any) -> None:
    assert main(["cost", "--use", "7.5 L/100km", "--price", "1.62 EUR/L"]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines()[3].startswith("7.5 L/100km costs 12.2 EUR for 100 km, give or take 0.6, at 1.62 EUR/L.")
    assert err == ""


def test_the_swap_in_one_line(capsys: Any) -> None:
    assert main(["cost", *SWAP]) == 0
    out = capsys.readouterr().out
    assert "has paid for itself after about" in " ".join(out.split())
    assert "Five ways of counting" in out
    assert "None of the five is the right one" in out


def test_json_follows_its_schema(capsys: Any) -> None:
    assert main(["cost", *SWAP, "--json", "--draws", "400"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed["schema"] == "calmday/cost/1"
    schema = json.loads(json_result(operations.schema("cost")))
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(printed)) == []
    assert printed["payback"]["pays_ever"] == 1.0


def test_the_same_seed_repeats(capsys: Any) -> None:
    def once(seed: str) -> str:
        assert main(["cost", *SWAP, "--json", "--seed", seed]) == 0
        return str(capsys.readouterr().out)

    assert once("5") == once("5")
    assert once("5") != once("6")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "calmday cost: COST: nothing is asked"),
        (["--use", "7.5 mpg", "--price", "1 EUR/L"], "calmday cost: use[0].consumption: \"7.5 mpg\": which gallon?"),
        (["--use", "7.5 L/100km"], "calmday cost: price: is missing"),
        (["--use", "7.5 L/100km", "--price", "1 EUR/L", "--outlay", "5 EUR"], "--outlay: needs two uses, and there is"),
        (["gone.toml"], "gone.toml: "),
        (["gone.toml", "--tank", "60 L"], "--tank: stands beside a file"),
        (["--use", "7.5 L/100km", "--price", "1 EUR/L", "--rate", "1 GBP"], "rate[0].rate: "),
    ],
)  # fmt: skip
def test_faults_leave_with_2_and_say_where(arguments: list[str], told: str, capsys: Any) -> None:
    assert main(["cost", *arguments]) == 2
    assert told in capsys.readouterr().err


def test_a_folder_will_do(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "cost.toml").write_text(
        '[[use]]\nconsumption = "7.5 L/100km"\n[[price]]\nprice = "1.62 EUR/L"\n', encoding="utf-8"
    )
    assert main(["cost", str(tmp_path)]) == 0
    assert "12.2 EUR" in capsys.readouterr().out
