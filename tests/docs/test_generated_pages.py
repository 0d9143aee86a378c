"""Pages and tables that are written from the code say what the code says."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from calmday.metrology.fuels import FUELS
from calmday.model.cruise import steady_drive
from calmday.model.vehicle_model import build
from calmday.procedures.weighed_run_result import Severity
from calmday.records.vehicle import BODIES, Vehicle
from calmday.records.weather import TERRAINS

ROOT = Path(__file__).parents[2]
METHOD = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
PARAMETERS = (ROOT / "docs" / "parameters.md").read_text(encoding="utf-8")
FLAGS = sorted((ROOT / "src" / "calmday" / "procedures").glob("run_flags*.py"))


def script(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_parameter_page_is_what_the_code_gives() -> None:
    assert script("make_parameter_table").page_text() == PARAMETERS, "run scripts/make_parameter_table.py"


def test_the_flag_table_is_what_the_code_gives() -> None:
    assert script("make_flag_table").table_text() in METHOD, "run scripts/make_flag_table.py"


def test_a_changed_default_changes_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    made = script("make_parameter_table")
    monkeypatch.setattr("calmday.model.defaults.ACCESSORY_W", 351.0)
    assert made.page_text() != PARAMETERS


def test_every_parameter_of_the_model_has_a_row_with_a_meaning() -> None:
    model = build(Vehicle(name="any"), steady_drive(np.array([20.0])))
    section = PARAMETERS.split("## ")[1]
    rows = dict(re.findall(r"^\| `(\w+)` \| ([^|]+) \|", section, re.MULTILINE))
    for key in model.parameters.keys:
        assert len(rows[key].strip()) > 10, key
        assert f"`{key}`" in METHOD, key


def test_every_class_has_a_row() -> None:
    for name in (*BODIES, *TERRAINS, *FUELS):
        assert re.search(rf"^\| {re.escape(name)} \|", PARAMETERS, re.MULTILINE), name


def test_every_flag_in_the_code_has_a_row_with_its_severity() -> None:
    raised = {
        code for file in FLAGS for code in re.findall(r"flag\(\s*\"([a-z0-9-]+)\"", file.read_text(encoding="utf-8"))
    }
    rows = dict(re.findall(r"^\| `([a-z0-9-]+)` \| ([a-z ]+) \|", METHOD, re.MULTILINE))
    assert len(raised) > 20
    assert raised == set(rows)
    known = set(Severity.__args__)  # type: ignore[attr-defined]
    assert all(set(severity.split(" or ")) <= known for severity in rows.values())


def test_every_key_of_the_energy_split_and_of_the_penalties_is_explained() -> None:
    from calmday.model.breakdown import DESTINATIONS  # noqa: PLC0415
    from calmday.procedures.simulated_run import STEPS  # noqa: PLC0415

    for name in DESTINATIONS:
        assert f"| {name} |" in METHOD, name
    words = [METHOD.index(f"− {name.replace('_', ' ')}") for name, _ in STEPS]
    assert words == sorted(words), "penalties stand in the order in which they are taken away"


def test_code_named_in_the_method_exists() -> None:
    source = ROOT / "src" / "calmday"
    for line in re.findall(r"^Code: (.+?)(?:\. |\.$|$)", METHOD, re.MULTILINE):
        folder = Path()
        for name in re.findall(r"`([\w/]+\.py)`", line):
            path = Path(name)
            folder = path.parent if path.parent != Path() else folder
            assert (source / folder / path.name).exists(), name


def test_every_section_of_the_method_is_in_its_contents() -> None:
    numbers = [int(n) for n in re.findall(r"^## (\d+)\.", METHOD, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert [int(n) for n in re.findall(r"\]\(#(\d+)-", METHOD.split("## 1.")[0])] == numbers
