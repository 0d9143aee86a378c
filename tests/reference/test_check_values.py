"""Every outside value of check_values.toml against the code."""

from __future__ import annotations

import inspect
import tomllib
from pathlib import Path

import pytest
import reference_computations

ROWS = tomllib.loads((Path(__file__).parent / "check_values.toml").read_text(encoding="utf-8"))["check"]
STATUS_WORDS = {
    "S",
    "M",
    "R",
    "D",
    "S(formula)",
    "S(inputs)",
    "S(input)",
    "S(question)",
    "S(rule)",
    "S(wrong)",
}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_published_value(row):
    found = getattr(reference_computations, row["computed_by"])(**row["inputs"])
    assert len(found) == len(row["expected"]) == len(row["tolerance"])
    for value, expected, tolerance in zip(found, row["expected"], row["tolerance"], strict=True):
        assert value == pytest.approx(expected, abs=tolerance, rel=1e-12), row["what"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_row_names_its_source(row):
    assert len(row["source"]) > 10
    assert set(row["status"].split()) <= STATUS_WORDS
    assert row["what"]


def test_rows_are_distinct_and_every_computation_is_used():
    identifiers = [row["id"] for row in ROWS]
    assert len(set(identifiers)) == len(identifiers)
    own = {
        name
        for name, thing in inspect.getmembers(reference_computations, inspect.isfunction)
        if thing.__module__ == reference_computations.__name__ and not name.startswith("_")
    }
    assert own == {row["computed_by"] for row in ROWS}
