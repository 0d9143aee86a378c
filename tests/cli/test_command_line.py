"""The command line in process: exit status, what goes to which stream, and the words."""

from __future__ import annotations

import errno
import io
import json
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import msgspec
import pytest
from sample_results import flag, full_result

from calmday.cli.main import main
from calmday.cli.verbs import VERBS
from calmday.errors import Fault, InputError, MissingExtraError
from calmday.procedures.weighed_run_result import Flag


class Check(msgspec.Struct):
    """Stands in for the check that operations return."""

    verdict: str
    rows: tuple[tuple[str, str, str, str], ...]
    flags: tuple[Flag, ...] = ()


class Operations(ModuleType):
    """Operations whose answers a test sets, and which remember what they were asked."""

    def __init__(self, folder: Path) -> None:
        super().__init__("calmday.operations")
        self.result: Any = full_result()
        self.check: Any = Check("Plausible.", (("fuel", "2.3 kg", "2 to 3 kg", "ok"),))
        self.asked: list[Any] = []
        self.folder = folder

    def reduce_file(self, path: Path, **options: int) -> SimpleNamespace:
        self.asked.append((Path(path), options))
        if isinstance(self.result, BaseException):
            raise self.result
        return SimpleNamespace(result=self.result)

    def check_file(self, path: Path) -> Any:
        self.asked.append((Path(path), {}))
        return self.check

    def demo_folder(self) -> Path:
        return self.folder

    def schema_names(self) -> tuple[str, ...]:
        return ("check", "run")

    def schema(self, name: str) -> dict[str, Any]:
        if name not in self.schema_names():
            raise InputError.one("schema", name, "no schema of this name", "one of check, run")
        return {"title": name}


@pytest.fixture
def operations(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Operations:
    example = tmp_path / "example"
    example.mkdir()
    (example / "run.toml").write_text("label = 'as it came'\n")
    (example / "out.gpx").write_text("<gpx/>")
    (example / "truth.json").write_text('{"calm_day": {"L_per_100km": 6.55}}')
    stand_in = Operations(example)
    monkeypatch.setitem(sys.modules, "calmday.operations", stand_in)
    return stand_in


def test_reduce_prints_the_sheet_sentence_first(operations: Operations, capsys: Any) -> None:
    assert main(["reduce", "run.toml"]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines()[3].startswith("Fen Hauler used 6.6 L/100 km")
    assert err == ""
    assert operations.asked == [(Path("run.toml"), {})]


def test_reduce_hands_on_draws_and_seed_only_where_given(operations: Operations) -> None:
    assert main(["reduce", "run.toml", "--draws", "500", "--seed", "0"]) == 0
    assert operations.asked == [(Path("run.toml"), {"draws": 500, "seed": 0})]


@pytest.mark.parametrize("verb", ["reduce", "check", "demo"])
def test_json_keeps_standard_output_pure(verb: str, operations: Operations, capsys: Any) -> None:
    arguments = [verb, "--json"] if verb == "demo" else [verb, "run.toml", "--json"]
    operations.check.flags = (flag("caution"),)
    assert main(arguments) == 0
    out, err = capsys.readouterr()
    data = json.loads(out)
    assert data["verdict" if verb == "check" else "schema"]
    assert "caution: The wind blew 9 m/s." in err
    assert "No price was given" not in err


@pytest.mark.parametrize("verb", ["reduce", "check", "demo"])
@pytest.mark.parametrize("form", [[], ["--json"]])
def test_a_stop_leaves_with_1_and_still_prints(verb: str, form: list[str], operations: Operations, capsys: Any) -> None:
    operations.result = full_result(flags=(flag("stop"),))
    operations.check.flags = (flag("stop"),)
    assert main([verb, *([] if verb == "demo" else ["run.toml"]), *form]) == 1
    assert capsys.readouterr().out


def test_faults_of_the_input_leave_with_2_one_line_each(operations: Operations, capsys: Any) -> None:
    faults = [
        Fault("run.toml", "scale.resolution", "'5 km' is a length", 'a mass such as "5 g"'),
        Fault("run.toml", "wind", "unknown\nkey", "weather"),
    ]
    operations.result = InputError(faults)
    assert main(["reduce", "run.toml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [
        "run.toml: scale.resolution: '5 km' is a length; a mass such as \"5 g\"",
        "run.toml: wind: unknown key; weather",
    ]


def test_a_missing_extra_names_what_to_install(operations: Operations, capsys: Any) -> None:
    operations.result = MissingExtraError("the fast kernel", "fast")
    assert main(["reduce", "run.toml"]) == 2
    assert 'pip install "calmday[fast]"' in capsys.readouterr().err


@pytest.mark.parametrize("why", [errno.EACCES, errno.ENAMETOOLONG])
def test_a_place_that_may_not_be_looked_into_is_named(
    operations: Operations, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, why: int
) -> None:
    monkeypatch.delenv("CALMDAY_TRACEBACK", raising=False)
    operations.result = OSError(why, "Not for you", "locked/" + 300 * "a")
    assert main(["reduce", "run.toml"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("locked/aaa") and told.endswith(
        "...: file: Not for you; a place that you may read and write\n"
    )


def test_a_full_disk_is_not_a_fault_of_the_program(
    operations: Operations, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CALMDAY_TRACEBACK", raising=False)
    operations.result = OSError(errno.ENOSPC, "No space left on device")
    assert main(["reduce", "run.toml"]) == 2
    told = capsys.readouterr().err
    assert told == "calmday: the result cannot be written (No space left on device); free some room and run it again\n"


def test_a_fault_of_the_program_leaves_with_3_in_one_sentence(
    operations: Operations, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CALMDAY_TRACEBACK", raising=False)
    operations.result = ZeroDivisionError("inside")
    assert main(["reduce", "run.toml"]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "please report" in err
    assert "Traceback" not in err


def test_the_traceback_is_there_for_who_asks(
    operations: Operations, capsys: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CALMDAY_TRACEBACK", "1")
    operations.result = ZeroDivisionError("inside")
    assert main(["reduce", "run.toml"]) == 3
    assert "ZeroDivisionError: inside" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["reduce"], "RUN"),
        (["redcue"], "redcue"),
        (["reduce", "run.toml", "--draws", "3"], "--draws"),
        (["reduce", "run.toml", "--bogus"], "--bogus"),
        (["schema", "walk"], "walk"),
    ],
)
def test_a_mistyped_command_is_told_like_any_other_fault(
    arguments: list[str], word: str, operations: Operations, capsys: Any
) -> None:
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert word in err
    assert "; " in err


@pytest.mark.parametrize(
    ("names", "chosen"),
    [(["run.toml", "run-2.toml"], "run.toml"), (["vehicle.toml", "run-north.toml"], "run-north.toml")],
)
def test_a_folder_stands_for_the_run_in_it(
    names: list[str], chosen: str, operations: Operations, tmp_path: Path
) -> None:
    day = tmp_path / "day"
    day.mkdir()
    for name in names:
        (day / name).touch()
    assert main(["reduce", str(day)]) == 0
    assert operations.asked == [(day / chosen, {})]


@pytest.mark.parametrize("names", [[], ["vehicle.toml"], ["run-1.toml", "run-2.toml"]])
def test_a_folder_without_one_clear_run_is_asked_about(
    names: list[str], operations: Operations, tmp_path: Path, capsys: Any
) -> None:
    day = tmp_path / "day"
    day.mkdir()
    for name in names:
        (day / name).touch()
    assert main(["check", str(day)]) == 2
    assert capsys.readouterr().err.startswith(f"{day}: run.toml: ")
    assert operations.asked == []


def test_demo_reduces_the_packaged_example_and_holds_it_against_the_truth(operations: Operations, capsys: Any) -> None:
    assert main(["demo"]) == 0
    out = capsys.readouterr().out
    assert operations.asked == [(operations.folder / "run.toml", {})]
    assert out.index("Fen Hauler used") < out.index("1 of 1 figures have it")


def test_demo_copies_the_example_but_leaves_what_is_there_alone(
    operations: Operations, tmp_path: Path, capsys: Any
) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "run.toml").write_text("label = 'changed by me'\n")
    assert main(["demo", "--folder", str(mine)]) == 0
    assert (mine / "run.toml").read_text() == "label = 'changed by me'\n"
    assert (mine / "out.gpx").read_text() == "<gpx/>"
    assert operations.asked == [(mine / "run.toml", {})]
    assert str(mine) in capsys.readouterr().out


def test_demo_into_a_place_that_cannot_be_written_says_so(operations: Operations, tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "file").touch()
    assert main(["demo", "--folder", str(tmp_path / "file" / "day")]) == 2
    assert "--folder" in capsys.readouterr().err


def test_schema_lists_names_and_prints_one(operations: Operations, capsys: Any) -> None:
    assert main(["schema"]) == 0
    assert capsys.readouterr().out.split() == ["check", "run"]
    assert main(["schema", "run"]) == 0
    assert json.loads(capsys.readouterr().out) == {"title": "run"}


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_help_with_an_example(verb: str, capsys: Any) -> None:
    assert main([verb, "--help"]) == 0
    out = capsys.readouterr().out
    assert "Examples" in out
    assert f"  calmday {verb}" in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_the_command_alone_shows_its_help_with_every_verb(capsys: Any) -> None:
    assert main([]) == 0
    alone = capsys.readouterr().out
    assert main(["--help"]) == 0
    assert capsys.readouterr().out == alone
    assert all(f"\n  {verb} " in alone for verb in VERBS)


def test_version_is_that_of_the_package(capsys: Any) -> None:
    assert main(["--version"]) == 0
    name, version = capsys.readouterr().out.split()
    assert name == "calmday"
    assert version[0].isdigit()


class Stream(io.TextIOWrapper):
    """Standard output with a code page of its own, which may be a terminal."""

    def __init__(self, encoding: str, terminal: bool) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="")
        self.terminal = terminal

    def isatty(self) -> bool:
        return self.terminal

    def written(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode(self.encoding)  # type: ignore[attr-defined]


def shown_on(monkeypatch: pytest.MonkeyPatch, stream: Stream, *arguments: str) -> str:
    monkeypatch.setattr(sys, "stdout", stream)
    assert main(list(arguments)) == 0
    return stream.written()


def test_an_old_code_page_is_written_without_a_stumble(operations: Operations, monkeypatch: pytest.MonkeyPatch) -> None:
    operations.result = full_result(vehicle="漢字 Hauler")
    text = shown_on(monkeypatch, Stream("cp1252", terminal=True), "reduce", "run.toml")
    assert "Hauler used 6.6 L/100 km" in text
    assert "\x1b" not in text


def test_json_is_utf8_on_any_code_page(operations: Operations, monkeypatch: pytest.MonkeyPatch) -> None:
    operations.result = full_result(vehicle="漢字")
    stream = Stream("cp1252", terminal=True)
    monkeypatch.setattr(sys, "stdout", stream)
    assert main(["reduce", "run.toml", "--json"]) == 0
    stream.flush()
    assert json.loads(stream.buffer.getvalue())["vehicle"] == "漢字"  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("terminal", "no_colour", "coloured"), [(True, "", True), (True, "1", False), (False, "", False)]
)
def test_colour_only_on_a_terminal_that_wants_it(
    terminal: bool, no_colour: str, coloured: bool, operations: Operations, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("NO_COLOR", no_colour)
    text = shown_on(monkeypatch, Stream("utf-8", terminal), "reduce", "run.toml")
    assert ("\x1b[" in text) == coloured
    assert ("█" in text) == coloured


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_the_page_follows_columns(
    columns: int, operations: Operations, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert main(["reduce", "run.toml"]) == 0
    widest = max(len(line) for line in capsys.readouterr().out.splitlines())
    assert min(columns, 100) - 15 < widest <= columns
