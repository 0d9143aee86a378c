"""The examples: what they claim is so, and each spoilt run is caught by what its second line names."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import pytest

from calmday import operations
from calmday.errors import InputError

EXAMPLES = Path(__file__).parents[2] / "examples"
SPOILT = sorted((EXAMPLES / "spoilt").glob("*.toml"))


def script(name: str) -> ModuleType:
    """A script of the examples folder as a module."""
    spec = importlib.util.spec_from_file_location(name, EXAMPLES / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def test_the_example_is_what_its_script_makes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The figures come out again; to 1e-9 only, because compiled loops may round otherwise elsewhere."""
    module = script("make_fen_hauler")
    monkeypatch.setattr(module, "FOLDER", tmp_path)
    module.main()
    kept = EXAMPLES / "fen-hauler"
    for name in ("run.toml", "vehicle.toml", "full_load.csv"):
        assert (tmp_path / name).read_text(encoding="utf-8") == (kept / name).read_text(encoding="utf-8")
    made, known = (json.loads((folder / "truth.json").read_text()) for folder in (tmp_path, kept))
    for key in ("distance", "fuel_mass"):
        assert made[key] == pytest.approx(known[key], rel=1e-9)
    assert made["calm_day"] == pytest.approx(known["calm_day"], rel=1e-9)


def test_the_example_holds_its_truth() -> None:
    result = operations.reduce_file(EXAMPLES / "fen-hauler" / "run.toml").result
    known = json.loads((EXAMPLES / "fen-hauler" / "truth.json").read_text())
    assert result.calm_day is not None
    assert len(result.laps) == 4
    assert not [flag for flag in result.flags if flag.severity == "stop"]
    for figure, true in (
        (result.distance, known["distance"]),
        (result.fuel_mass, known["fuel_mass"]),
        (result.calm_day.g_per_km, known["calm_day"]["g_per_km"]),
    ):
        assert figure.value == pytest.approx(true, rel=0.04)
        assert figure.low <= true <= figure.high


@pytest.mark.parametrize("path", SPOILT, ids=lambda path: path.stem)
def test_each_spoilt_run_is_caught(path: Path) -> None:
    expected = path.read_text(encoding="utf-8").split("# Expect: ")[1].split("\n")[0]
    if expected == "exit 2":
        with pytest.raises(InputError):
            operations.reduce_file(path)
        return
    flags = {flag.code for flag in operations.reduce_file(path).result.flags}
    assert expected in flags


def test_the_spoilt_runs_are_what_their_script_makes() -> None:
    module = script("make_spoilt")
    source = module.SOURCE.read_text(encoding="utf-8")
    made = {mishap.name: module.spoilt(source, mishap) for mishap in module.MISHAPS}
    made["grams-and-laps-only"] = module.BARE
    kept = {path.stem: path.read_text(encoding="utf-8") for path in SPOILT}
    assert made == kept
    assert len(kept) >= 12
