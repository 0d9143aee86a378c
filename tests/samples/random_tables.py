"""Nested tables of the keys of a file with values that may or may not fit: for readers that must never break."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

QUICK = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def random_tables(keys: list[str], texts: list[str]) -> st.SearchStrategy[dict[str, Any]]:
    """Documents that use the given keys and, now and then, a text that is right somewhere."""
    names = st.sampled_from(keys)
    leaves = st.one_of(
        st.sampled_from(texts),
        st.text(max_size=12),
        st.integers(-(10**6), 10**6),
        st.floats(allow_nan=True),
        st.booleans(),
    )
    rows = st.dictionaries(names, leaves, max_size=5)
    return st.dictionaries(
        names, st.one_of(leaves, rows, st.lists(rows, max_size=3), st.lists(leaves, max_size=3)), max_size=7
    )
