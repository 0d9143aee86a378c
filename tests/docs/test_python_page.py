"""The Python page runs from top to bottom, and names everything that is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import calmday

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "python.md").read_text(encoding="utf-8")
FENCES = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
EXAMPLE = ROOT / "examples" / "fen-hauler" / "run.toml"


@pytest.fixture(scope="module")
def page() -> dict[str, object]:
    """The names the page leaves behind when its examples are run in order."""
    if not EXAMPLE.exists():
        pytest.skip("examples/fen-hauler is not here: the examples of docs/python.md cannot run")
    names: dict[str, object] = {}
    with pytest.MonkeyPatch.context() as here:
        here.chdir(ROOT)
        for number, fence in enumerate(FENCES, start=1):
            exec(compile(fence, f"docs/python.md, example {number}", "exec"), names)
    return names


def test_the_examples_run_and_mean_what_they_say(page: dict[str, object]) -> None:
    assert len(FENCES) > 8
    assert 0.0 <= page["chance"] <= 1.0  # type: ignore[operator]
    assert page["low"] < page["high"]  # type: ignore[operator]
    assert '"schema": "calmday/run/1"' in page["text"]  # type: ignore[operator]
    assert page["result"].sentence in page["html"].replace("&#x27;", "'")  # type: ignore[attr-defined]
    assert page["kmh"].max() > 50  # type: ignore[attr-defined]


def test_every_draw_is_documented(page: dict[str, object]) -> None:
    draws = page["reduction"].draws  # type: ignore[attr-defined]
    parameters = (ROOT / "docs" / "parameters.md").read_text(encoding="utf-8")
    for name, values in draws.items():
        assert f"`{name}`" in PAGE or f"| `{name}` |" in parameters, name
        assert values.shape == next(iter(draws.values())).shape


def test_every_curve_is_documented(page: dict[str, object]) -> None:
    curves = page["reduction"].curves  # type: ignore[attr-defined]
    for name in curves:
        assert f"`{re.sub('_(low|high)$', '', name)}`" in PAGE, name
    assert {"time_s", "speed_mps", "grade"} <= set(curves)


def test_every_public_name_is_documented() -> None:
    for name in calmday.__all__:
        assert f"calmday.{name}" in PAGE, name
    for name in (name for name in vars(calmday.Reduction) if not name.startswith("_")):
        assert f"`{name}`" in PAGE or f".{name}" in PAGE, name


def test_the_readme_shows_the_same_interface(page: dict[str, object]) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for fence in re.findall(r"```python\n(.*?)```", readme, re.DOTALL):
        exec(compile(fence.replace("my-day", str(EXAMPLE.parent)), "README.md", "exec"), {})
