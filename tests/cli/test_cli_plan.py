"""`calmday plan` in process: sheet, JSON, sheets as PDF, exit status."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from calmday.cli.main import main

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan-a-test"
FEW = ["--draws", "250"]


def test_a_folder_will_do_and_the_sentence_comes_first(capsys: Any) -> None:
    assert main(["plan", str(EXAMPLE), *FEW]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[3].startswith(("Go", "Do not"))
    assert "The smallest change it could show" in out


def test_json_is_pure_and_cautions_go_elsewhere(capsys: Any) -> None:
    assert main(["plan", str(EXAMPLE / "plan.toml"), "--json", *FEW]) == 0
    out, err = capsys.readouterr()
    made = json.loads(out)
    assert made["schema"] == "calmday/plan/1"
    assert made["laps"] == 4
    assert "caution:" in err


def test_sheets_are_written_beside(tmp_path: Path, capsys: Any) -> None:
    assert main(["plan", str(EXAMPLE), "--sheets", str(tmp_path / "print"), "--paper", "a5", *FEW]) == 0
    assert sorted(file.name for file in (tmp_path / "print").iterdir())[0] == "coastdown-a5.pdf"
    assert "6 sheets" in capsys.readouterr().err


def test_without_the_typesetter_the_extra_is_named(
    tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    assert main(["plan", str(EXAMPLE), "--sheets", str(tmp_path), *FEW]) == 2
    assert "calmday[pdf]" in capsys.readouterr().err


def test_a_plan_that_cannot_be_driven_leaves_with_one(tmp_path: Path, capsys: Any) -> None:
    text = (EXAMPLE / "plan.toml").read_text().replace("../fen-hauler", (EXAMPLE.parent / "fen-hauler").as_posix())
    (tmp_path / "plan.toml").write_text(text.replace('capacity = "10 kg"', 'capacity = "1 kg"'))
    assert main(["plan", str(tmp_path), *FEW]) == 1
    assert "cannot be weighed" in capsys.readouterr().out


def test_faults_are_told_one_a_line(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "plan.toml").write_text('lap_length = "10"\nlapps = 2\n')
    assert main(["plan", str(tmp_path)]) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 3 and all(": " in line for line in lines)
    assert main(["plan", str(tmp_path / "nothing")]) == 2


def test_planning_does_not_load_the_statistics_library() -> None:
    import subprocess  # noqa: PLC0415  (a fresh interpreter is the point)

    code = (
        "import sys; from calmday.cli.main import main; "
        f"main(['plan', {str(EXAMPLE)!r}, '--json', '--draws', '250']); "
        "assert 'scipy' not in sys.modules and 'typst' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
