"""A table on pages of any width: no word cut while there is room, and no note on a column that is not there."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.reports.plain_sheet import plain_sheet
from calmday.reports.sheet import Column, Sheet, Table, noted

COLUMNS = (
    Column("method", wrap=True),
    Column("fuel", "right"),
    Column("off its group, %", "right", 2, note="Off its group: over or under its mean."),
    Column("what it assumes", wrap=True, note="Assumed: by nobody but us."),
)
ROWS = (
    ("reshuffling the labels of all runs", "−4 ± 2 %", "+0.3", "Labels dealt anew in all ways, again and again."),
    ("usual scatter taken as known for sure", "−4 ± 1 %", "−0.2", "1.2 %, as if somebody had told us so."),
)


def page(width: int) -> str:
    note = noted(COLUMNS, "A note of the whole.")
    return plain_sheet(
        Sheet(title="T", lead="L.", blocks=(Table(title="", columns=COLUMNS, rows=ROWS, note=note),)), width
    )


@pytest.mark.parametrize(("width", "shown"), [(100, True), (62, False)])
def test_what_explains_a_column_goes_with_it(width: int, shown: bool) -> None:
    text = " ".join(page(width).split())
    assert ("off its group, %" in text) is shown
    assert ("Off its group: over or under its mean." in text) is shown
    assert "A note of the whole." in text
    assert "Assumed: by nobody but us." in text
    assert "  " not in text


@settings(max_examples=40, deadline=None)
@given(st.integers(56, 140))
def test_words_stay_whole_where_there_is_room(width: int) -> None:
    """The longest word of the first column has 11 letters; that of the last, 8."""
    text = page(width)
    assert max(map(len, text.splitlines())) <= width
    for word in re.findall(r"[A-Za-z]+", " ".join(cell for row in ROWS for cell in (row[0], row[3]))):
        assert re.search(rf"\b{word}\b", text), (word, width)
