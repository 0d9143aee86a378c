"""Setting up: what dev.py says where it cannot, and which way it takes where it can, without a network."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def dev(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """dev.py with its folders moved to an empty place."""
    spec = importlib.util.spec_from_file_location("dev", ROOT / "dev.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "BOOT", tmp_path / ".boot")
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    return module


class Commands:
    """Stands in for subprocess.run: notes the commands and lets a test decide how they end."""

    def __init__(self, boot: Path, failing: str = "") -> None:
        self.boot = boot
        self.failing = failing
        self.seen: list[list[str]] = []

    def __call__(self, command: Any, **options: Any) -> subprocess.CompletedProcess[str]:
        words = [str(word) for word in command]
        self.seen.append(words)
        failed = bool(self.failing) and self.failing in words
        if failed and options.get("check"):
            raise subprocess.CalledProcessError(1, words)
        if "pip" in words and not failed:
            (self.boot / "bin").mkdir(parents=True, exist_ok=True)
            (self.boot / "bin" / "uv").touch()
        return subprocess.CompletedProcess(words, int(failed))


def having(monkeypatch: pytest.MonkeyPatch, *modules: str) -> None:
    """Pretend that Python comes with just these of the modules that install others."""
    monkeypatch.setattr(importlib.util, "find_spec", lambda name, *rest: name if name in modules else None)


def test_an_old_python_is_told_which_one_is_needed(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    monkeypatch.setattr(dev.sys, "version_info", (3, 9, 2))
    assert dev.main(["demo"]) == 1
    assert "needs Python 3.11 or later; this one is 3.9.2" in capsys.readouterr().err


def test_without_pip_and_ensurepip_one_sentence_says_what_to_install(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    having(monkeypatch, "venv")
    with pytest.raises(SystemExit) as left:
        dev.main(["test"])
    assert left.value.code == 1
    assert "apt-get install python3-venv" in capsys.readouterr().err


def test_the_installer_goes_into_an_environment_of_its_own(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    commands = Commands(dev.BOOT)
    monkeypatch.setattr(dev.subprocess, "run", commands)
    assert dev.main(["demo", "--json"]) == 0
    venv, pip, sync, demo = commands.seen
    assert venv == [sys.executable, "-m", "venv", str(dev.BOOT)]
    assert pip[0].startswith(str(dev.BOOT))
    assert {"sync", "--locked", "--no-editable", "--no-dev", "--compile-bytecode"} <= set(sync)
    assert demo == [dev.tool("calmday"), "demo", "--json"]


@pytest.mark.parametrize("there", [("pip", "venv"), ("pip", "venv", "ensurepip")])
def test_pip_alone_will_do_where_environments_cannot_be_made(
    there: tuple[str, ...], dev: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    having(monkeypatch, *there)
    commands = Commands(dev.BOOT, failing="venv")
    monkeypatch.setattr(dev.subprocess, "run", commands)
    assert dev.main(["test"]) == 0
    pip = next(command for command in commands.seen if "pip" in command)
    assert pip[:5] == [sys.executable, "-m", "pip", "install", "--target"]


def test_the_second_time_nothing_is_fetched_again(dev: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    commands = Commands(dev.BOOT)
    monkeypatch.setattr(dev.subprocess, "run", commands)
    dev.main(["test"])
    first = len(commands.seen)
    dev.main(["test"])
    assert not any("pip" in command for command in commands.seen[first:])


def test_no_network_is_told_in_a_sentence(dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    monkeypatch.setattr(dev.subprocess, "run", Commands(dev.BOOT, failing="sync"))
    assert dev.main(["demo"]) == 1
    assert "needs the network" in capsys.readouterr().err


def test_check_runs_every_check_to_its_end_and_says_which_failed(
    dev: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    commands = Commands(dev.BOOT, failing="mypy")
    monkeypatch.setattr(dev.subprocess, "run", commands)
    assert dev.main(["check"]) == 1
    assert "Not in order: types." in capsys.readouterr().err
    assert "pytest" in commands.seen[-1]


@pytest.mark.parametrize(("arguments", "status"), [([], 0), (["--help"], 0), (["dance"], 2)])
def test_without_a_known_verb_it_shows_the_verbs(
    arguments: list[str], status: int, dev: ModuleType, capsys: Any
) -> None:
    assert dev.main(arguments) == status
    assert "python3 dev.py demo" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "script"),
    [(["bench"], "bench_cli.py"), (["bench", "cli", "--runs"], "bench_cli.py"), (["bench", "sweep"], "bench_sweep.py")],
)
def test_bench_runs_the_benchmark_that_is_named(
    arguments: list[str], script: str, dev: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    commands = Commands(dev.BOOT)
    monkeypatch.setattr(dev.subprocess, "run", commands)
    having(monkeypatch, "venv", "ensurepip")
    assert dev.main(arguments) == 0
    assert commands.seen[-1][1].endswith(script)


def test_a_benchmark_that_is_not_there_is_told(dev: ModuleType, capsys: Any) -> None:
    assert dev.main(["bench", "wings"]) == 1
    assert "There is no benchmark wings" in capsys.readouterr().err
