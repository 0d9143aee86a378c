"""Random documents for the property tests: anything that TOML can say."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

CHARACTERS = st.characters(exclude_categories=("Cs",))
KEYS = st.one_of(st.sampled_from(["vehicle", "label", "a b", "ä", "", 'quo"te', "dot.ted", "[0]", "value", "pm"]),
                 st.text(CHARACTERS, max_size=6))  # fmt: skip
MINUTES = st.integers(-14 * 60, 14 * 60).map(lambda m: dt.timezone(dt.timedelta(minutes=m)))
SCALARS = st.one_of(
    st.text(CHARACTERS, max_size=12),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=True, allow_infinity=True),
    st.booleans(),
    st.dates(),
    st.times(),
    st.datetimes(),
    st.datetimes(min_value=dt.datetime(2, 1, 1), max_value=dt.datetime(9998, 1, 1), timezones=MINUTES),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)),
    max_leaves=8,
)
DOCUMENTS: st.SearchStrategy[dict[str, Any]] = st.dictionaries(KEYS, VALUES, max_size=5)
