"""The shape of the code: who may import whom, how large a file may be, what the front door shows."""

from __future__ import annotations

import inspect
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import calmday
from calmday import operations

ROOT = Path(__file__).parents[2]
LONGEST_FILE = 400
SOURCES = sorted(path for folder in ("src", "tests", "benchmarks") for path in (ROOT / folder).rglob("*.py"))


def test_the_import_contract_holds() -> None:
    command = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [command, "--no-logo", "--config", ROOT / ".importlinter"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("path", [*SOURCES, ROOT / "dev.py"], ids=lambda path: path.name)
def test_files_stay_small_enough_to_read(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


@pytest.mark.parametrize("module", [calmday, operations], ids=lambda module: module.__name__)
def test_public_names_are_sorted_exist_and_say_what_they_do(module: object) -> None:
    names: list[str] = module.__all__  # type: ignore[attr-defined]
    assert names == sorted(names, key=lambda name: (not name.isupper(), name[0].islower(), name))
    for name in names:
        shown = getattr(module, name)
        assert name.isupper() or inspect.getdoc(shown), f"{name} has no docstring"


def test_the_front_door_refuses_other_names() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = calmday.nonsense


def test_every_module_says_what_it_is_for() -> None:
    silent = [path for path in SOURCES if "tests" not in path.parts and not starts_with_docstring(path)]
    assert silent == []


def starts_with_docstring(path: Path) -> bool:
    text = path.read_text(encoding="utf-8").lstrip()
    return not text or text.startswith('"""')


def test_one_version_number() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    changes = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert project["version"] == calmday.__version__
    assert f"## {calmday.__version__}" in changes or "## Unreleased" in changes


def test_the_lock_names_only_the_public_index() -> None:
    lock = tomllib.loads((ROOT / "uv.lock").read_text(encoding="utf-8"))
    for package in lock["package"]:
        source = package["source"]
        assert source in ({"registry": "https://pypi.org/simple"}, {"editable": "."}), package["name"]
        for wheel in package.get("wheels", []):
            assert wheel["url"].startswith("https://files.pythonhosted.org/"), package["name"]
        assert package.get("wheels") or "editable" in source, f"{package['name']} has no wheel"
