"""Remarks name keys for people with files; on the page they name what is written beside the boxes."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from calmday.web.spoken import labels, spoken

PROCEDURES = Path(__file__).parents[2] / "src" / "calmday" / "procedures"
ASKS = ("Add", "Cut", "Enter", "Give", "Say", "Set", "State", "Turn", "Write")
SYNTAX = re.compile(r"\[\[?\w+\]|\b\w+ = ")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("Check drag_coefficient and frontal_area.", "Check drag coefficient and frontal area."),
        ("Enter governed_speed: the speed not to exceed.", "Enter highest engine speed: the speed not to exceed."),
        ("Enter full_load: six points will do.", "Enter full-load curve: six points will do."),
        ("It comes from full_load.csv and run_1.toml.", "It comes from full_load.csv and run_1.toml."),
        ("The wind was 6 m/s.", "The wind was 6 m/s."),
        ("Look at no_such_key.", "Look at no_such_key."),
    ],
)
def test_a_key_is_said_as_its_box_is_called(written: str, said: str) -> None:
    assert spoken(written) == said


def test_no_label_names_a_key_itself() -> None:
    assert not [label for label in labels().values() if "_" in label]


def test_no_remark_on_the_page_asks_for_the_syntax_of_a_file() -> None:
    """What procedures tell people to write into a file; each has words of its own on the page."""
    texts = (
        node.value
        for file in PROCEDURES.glob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
    found = {text for text in texts if text.startswith(ASKS) and SYNTAX.search(text)}
    assert len(found) >= 4, "those remarks are found at all"
    for said in found:
        assert not SYNTAX.search(spoken(said)), said
