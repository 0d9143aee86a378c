"""The logbook from the command line: import, export, backup, restore, and what they say."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from calmday import operations
from calmday.cli.main import main
from calmday.logbook import Logbook

Say = Callable[..., tuple[int, str, str]]


@pytest.fixture
def say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> Say:
    """Runs a command on a logbook of its own: exit status, what it said, what it complained of."""
    monkeypatch.setenv("CALMDAY_LOGBOOK", str(tmp_path / "logbook.calmday"))

    def run(*arguments: object) -> tuple[int, str, str]:
        status = main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


@pytest.fixture
def filled(say: Say) -> Say:
    """The same, with the invented example in the logbook."""
    assert say("import", "--by", "Ada", operations.demo_folder())[0] == 0
    return say


def one_line(text: str) -> bool:
    return text.count("\n") == 1 and "Traceback" not in text


def test_a_folder_comes_in_and_is_known_the_second_time(say: Say) -> None:
    status, out, err = say("import", operations.demo_folder())
    assert (status, err) == (0, "")
    assert "vehicle: Fen Hauler, new\n" in out
    assert "run: Fen loop, four laps, north wind, new\n" in out
    assert say("import", operations.demo_folder())[1].count("there already") == 2


def test_the_logbook_goes_out_and_reduces_as_before(filled: Say, tmp_path: Path) -> None:
    status, out, _ = filled("export", tmp_path / "all")
    assert (status, out) == (0, f"The whole logbook is in the folder {tmp_path / 'all'}.\n")
    (run,) = (tmp_path / "all").rglob("run.toml")
    before = operations.demo_folder() / "run.toml"
    assert run.read_bytes() == before.read_bytes()
    reduced, there = (
        filled("reduce", run, "--json", "--draws", "300"),
        filled("reduce", before, "--json", "--draws", "300"),
    )
    assert reduced == there


@pytest.mark.parametrize("named", ["2026-04-12", "Fen loop, four laps, north wind"])
def test_one_run_goes_out_by_date_or_label(filled: Say, tmp_path: Path, named: str) -> None:
    assert filled("export", "--run", named, tmp_path / "one")[0] == 0
    assert (tmp_path / "one" / "out.gpx").read_bytes() == (operations.demo_folder() / "out.gpx").read_bytes()


def test_a_run_to_give_away_says_what_it_lacks(filled: Say, tmp_path: Path) -> None:
    status, out, _ = filled("export", "--run", "2026-04-12", "--cut-home", "500 m", tmp_path / "away")
    assert status == 0
    assert "fixes within 500 m of where the drive began or ended were left out" in out
    assert not (tmp_path / "away" / "history.json").exists()


def test_a_copy_is_made_and_brought_back(filled: Say, tmp_path: Path) -> None:
    status, out, _ = filled("backup", tmp_path)
    assert status == 0
    (copy,) = tmp_path.glob("logbook-*.calmday")
    assert str(copy) in out
    place = tmp_path / "logbook.calmday"
    with Logbook.open(place) as book:
        book.create("vehicle", "Later")
    status, _, err = filled("restore", copy)
    assert (status, one_line(err)) == (2, True)
    assert "add --replace to move it aside" in err
    status, out, _ = filled("restore", "--replace", copy)
    assert status == 0
    with Logbook.open(place) as book:
        assert [v.name for v in book.subjects("vehicle")] == ["Fen Hauler"]
    (aside,) = tmp_path.glob("logbook.calmday.replaced.*")
    assert str(aside) in out
    with Logbook.open(aside) as book:
        assert [v.name for v in book.subjects("vehicle")] == ["Fen Hauler", "Later"]


def test_a_logbook_in_use_is_not_moved_aside(filled: Say, tmp_path: Path) -> None:
    filled("backup", tmp_path / "copy.calmday")
    with Logbook.open(tmp_path / "logbook.calmday") as book:
        book.create("vehicle", "Later")
        status, _, err = filled("restore", "--replace", tmp_path / "copy.calmday")
        assert (status, one_line(err)) == (2, True)
        assert "another program" in err
        assert len(book.subjects("vehicle")) == 2


def test_a_damaged_logbook_can_be_replaced(filled: Say, tmp_path: Path) -> None:
    filled("backup", tmp_path / "copy.calmday")
    place = tmp_path / "logbook.calmday"
    place.write_bytes(place.read_bytes()[:5000])
    status, _, err = filled("export", tmp_path / "out")
    assert (status, one_line(err)) == (2, True)
    assert "calmday restore BACKUP" in err
    assert filled("restore", "--replace", tmp_path / "copy.calmday")[0] == 0
    assert filled("export", tmp_path / "out")[0] == 0


def test_every_complaint_is_one_plain_line(filled: Say, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    (tmp_path / "text.calmday").write_text("not a logbook at all, just some text")
    with (
        closing(sqlite3.connect(tmp_path / "newer.calmday")) as newer,
        closing(sqlite3.connect(tmp_path / "logbook.calmday")) as here,
    ):
        here.backup(newer)
        newer.execute("UPDATE alembic_version SET version_num = '0917'")
        newer.commit()
    for arguments, words in (
        (("export", tmp_path / "mine"), "is there already"),
        (("export", "--run", "nobody", tmp_path / "out"), "is no run of this logbook"),
        (("export", "--cut-home", "500 m", tmp_path / "out"), "is for one run"),
        (("export", "--run", "2026-04-12", "--cut-home", "500", tmp_path / "out"), "has no unit"),
        (("import", tmp_path / "none"), "is not there"),
        (("import", tmp_path / "mine"), "has nothing in it that the logbook keeps"),
        (("restore", tmp_path / "none"), "is not there"),
        (("restore", "--replace", tmp_path / "text.calmday"), "no logbook"),
        (("restore", "--replace", tmp_path / "newer.calmday"), "newer calmday"),
        (("backup", tmp_path / "mine" / "letter.txt"), "is there already"),
        (("backup", tmp_path / "no" / "such" / "folder.calmday"), "cannot be made there"),
        (("backup", "--logbook", tmp_path / "none.calmday", tmp_path / "b.calmday"), "is not there"),
        (("backup", "--logbook", tmp_path / "text.calmday", tmp_path / "b.calmday"), "no logbook"),
        (("export", "--logbook", tmp_path / "newer.calmday", tmp_path / "out"), "newer calmday"),
        (("export", "--logbook", "mysql://a@b/c", tmp_path / "out"), "no address this program knows"),
    ):
        status, out, err = filled(*arguments)
        assert (status, out) == (2, ""), arguments
        assert one_line(err), err
        assert words in err, err
    assert not (tmp_path / "out").exists()
    assert not (tmp_path / "b.calmday").exists()
