"""`calmday trace`: sheet, JSON, the CSV it writes, and what it says when it cannot."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from calmday.cli.main import main
from calmday.files.full_load_file import read_full_load
from calmday.synthetic.drawn_chart import ChartLook
from calmday.synthetic.marked_chart import marked_chart


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("chart")
    chart, _, _ = marked_chart(ChartLook(width=600, height=440))
    (made / "chart.png").write_bytes(chart.data)
    lines = ['picture = "chart.png"', 'source = "invented"', 'licence = "own drawing"']
    for mark in chart.marks:
        lines += ["[[mark]]", f"at = [{mark.at[0]}, {mark.at[1]}]"]
        if mark.speed_rps is not None:
            lines.append(f'speed = "{60 * mark.speed_rps} rpm"')
        if mark.torque_nm is not None:
            lines.append(f'torque = "{mark.torque_nm} N*m"')
        if mark.power_w is not None:
            lines.append(f'power = "{mark.power_w / 1000} kW"')
    lines += ["[[curve]]", 'of = "torque"', 'colour = "#d55e00"', "[[curve]]", 'of = "power"', 'colour = "#0072b2"']
    (made / "chart.toml").write_text("\n".join(lines), encoding="utf-8")
    return made


def test_the_sheet_leads_with_the_curve(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["trace", str(folder)]) == 0
    out = capsys.readouterr().out
    assert "The chart gives 137 N m at 2" in out
    assert "eye" in out


def test_what_is_written_is_what_a_build_sheet_reads(folder: Path, capsys: pytest.CaptureFixture[str]):
    out, look = folder / "full_load.csv", folder / "look.png"
    assert main(["trace", str(folder / "chart.toml"), "--out", str(out), "--overlay", str(look), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["schema"] == "calmday/trace/1"
    curve = read_full_load(out)
    assert len(curve.speed_rps) == len(result["full_load"])
    assert curve.half_width is not None
    assert look.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_broken_picture_is_one_line_and_status_two(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (tmp_path / "chart.toml").write_text((folder / "chart.toml").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "chart.png").write_bytes(b"\x89PNG\r\n\x1a\n nothing")
    assert main(["trace", str(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "chart.png" in err


def test_a_place_that_cannot_be_written(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["trace", str(folder), "--out", str(tmp_path / "none" / "x.csv")]) == 2
    assert "cannot be written" in capsys.readouterr().err
