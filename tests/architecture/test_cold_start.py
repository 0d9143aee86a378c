"""What a cold start loads, counted in modules: a clock on a shared machine would not say."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = {"scipy", "pandas", "matplotlib", "numba", "llvmlite", "pint", "rich", "metar", "pynmea2", "pyproj"}
COMMAND_LINE = {"click", "colorama", "msgspec", "typing_extensions"}
HELP = "from calmday.cli.main import main; main(['{}'])"
EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler" / "run.toml"


def loaded_by(code: str) -> set[str]:
    """Modules that `code` loads in a fresh interpreter, beyond what the interpreter starts with."""
    script = f"""
import io, json, os, sys
before = set(sys.modules)
report, sys.stdout = sys.stdout, io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
{code}
json.dump(sorted(set(sys.modules) - before), report)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(json.loads(done.stdout))


def packages(modules: set[str]) -> set[str]:
    return {name.split(".")[0] for name in modules}


@pytest.mark.parametrize(
    ("code", "third_party", "most"),
    [
        ("import calmday", set(), 40),
        (HELP.format("--help"), COMMAND_LINE, 150),
        (HELP.format("--version"), COMMAND_LINE, 130),
    ],
    ids=["import", "help", "version"],
)
def test_starting_loads_little(code: str, third_party: set[str], most: int) -> None:
    modules = loaded_by(code)
    assert packages(modules) - sys.stdlib_module_names - {"calmday"} <= third_party
    assert len(modules) <= most


@pytest.mark.skipif(not EXAMPLE.exists(), reason="the example run is not there")
@pytest.mark.parametrize("verb", ["reduce", "check"])
def test_reducing_a_run_loads_numpy_and_nothing_heavier(verb: str) -> None:
    modules = loaded_by(f"from calmday.cli.main import main; main(['{verb}', {str(EXAMPLE)!r}, '--json'])")
    assert packages(modules) & (HEAVY - {"metar"}) == set()
    assert "numpy" in modules
    # np.unique, np.median and others bring it along, and it alone takes as long to load as the track to read.
    assert "numpy.ma" not in modules


def test_a_piped_sheet_does_not_load_the_terminal_library() -> None:
    code = """
sys.path.insert(0, {samples!r})
from sample_results import full_result
from calmday.cli.printing import show_sheet
from calmday.reports.run_sheet import run_sheet
show_sheet(run_sheet(full_result()))
""".format(samples=str(Path(__file__).parents[1] / "samples"))
    modules = loaded_by(code)
    assert "calmday.reports.plain_sheet" in modules
    assert "rich" not in packages(modules)
