"""What people read says what it means: no words that claim more than is known, no praise."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from calmday.operations import demo_folder

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])
FLAGS = sorted((ROOT / "src" / "calmday" / "procedures").glob("run_flags*.py"))

CLAIMS = re.compile(
    r"\bstatistical\w*|\bsignifican\w*\b(?! (?:digit|figure))|\bp[- ]values?\b|\bnull hypothesis|\bproves?\b"
    r"|\boutliers?\b|\bguarantee\w*|\b100 % (?:sure|certain)",
    re.IGNORECASE,
)
PRAISE = re.compile(
    r"\bpowerful|\bstate[- ]of[- ]the[- ]art|\bbest[- ]in[- ]class|\bseamless\w*|\brobust(?:ly)?\b|\bworld[- ]class"
    r"|\beffortless\w*|\bsophisticated|\bcutting[- ]edge|\bblazing\w*|\belegant\w*|\bunique(?:ly)?\b|\bsimply\b",
    re.IGNORECASE,
)


def prose(page: Path) -> str:
    return re.sub(r"```.*?```|`[^`]*`|\]\([^)]*\)", " ", page.read_text(encoding="utf-8"), flags=re.DOTALL)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_pages_do_not_praise(page: Path) -> None:
    assert PRAISE.findall(prose(page)) == []


@pytest.mark.parametrize("file", FLAGS, ids=lambda file: file.name)
def test_flags_do_not_claim_more_than_is_known(file: Path) -> None:
    words = [
        node.value
        for call in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "flag"
        for node in ast.walk(call)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]
    found = [text for text in words if CLAIMS.search(text) or PRAISE.search(text)]
    assert found == []


def test_the_sheet_of_the_example_does_not_claim_more_than_is_known() -> None:
    from calmday.operations import reduce_file  # noqa: PLC0415
    from calmday.reports.plain_sheet import plain_sheet  # noqa: PLC0415
    from calmday.reports.run_sheet import run_sheet  # noqa: PLC0415

    run = demo_folder() / "run.toml"
    if not run.exists():
        pytest.skip("examples/fen-hauler is not here")
    sheet = plain_sheet(run_sheet(reduce_file(run, draws=400).result), 100)
    assert "give or take" in sheet
    assert CLAIMS.findall(sheet) == []
    assert PRAISE.findall(sheet) == []


def test_changes_are_written_with_a_true_minus_sign() -> None:
    """A sign in a format string would print a hyphen: changes go through `metrology.rounding`, which does not."""
    signed = re.compile(r":\+[.,\d]*[fge%]?\}")
    read_back = ("files/grid_file.py", "files/what_if_change.py")  # written as a file is
    found = [
        f"{file.name}: {line.strip()}"
        for file in sorted((ROOT / "src").rglob("*.py"))
        if not file.as_posix().endswith(read_back)
        for line in file.read_text(encoding="utf-8").splitlines()
        if signed.search(line)
    ]
    assert found == []
    assert signed.search("{change:+.1f}") and signed.search("{x:+g}")


def test_the_axle_ratio_has_one_name() -> None:
    """ "Final drive" is the same thing: a word for people to say (and so understood), not for the program to print."""
    understood = {"build_changes.py"}
    found = [
        f"{file.name}: {node.value[:60]}"
        for file in sorted((ROOT / "src").rglob("*.py"))
        if file.name not in understood
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and "final drive" in node.value.lower()
    ]
    found += [page.name for page in (ROOT / "src").rglob("*.html") if "final drive" in page.read_text().lower()]
    assert found == []


def test_the_patterns_catch_what_they_are_for() -> None:
    assert CLAIMS.search("a significant change")
    assert CLAIMS.search("three outliers were removed")
    assert not CLAIMS.search("two significant digits")
    assert PRAISE.search("a robust and powerful method")
