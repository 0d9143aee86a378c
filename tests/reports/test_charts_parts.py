"""The parts charts are made of: ticks, label places, thinning, lettering."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from calmday.metrology.rounding import NARROW_SPACE
from calmday.reports.charts.lettering import fitted, plain, width, wrapped
from calmday.reports.charts.palette import colour
from calmday.reports.charts.placing import spread, without_crowding
from calmday.reports.charts.scale import Scale, extent, nice_step, readable_ticks, tick_label, ticks
from calmday.reports.charts.thinning import kept_samples, known_runs, outline

finite = st.floats(-1e6, 1e6)
spans = st.tuples(finite, st.floats(1e-3, 1e6)).map(lambda pair: (pair[0], pair[0] + pair[1]))


@given(spans, st.integers(1, 9))
def test_ticks_are_round_and_few(span: tuple[float, float], most: int) -> None:
    low, high = span
    step = nice_step(high - low, most)
    power = 10.0 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(step / power - m) for m in (1, 2, 5)) < 1e-6
    found = ticks(low, high, most)
    assert len(found) <= most + 1
    for value in found:
        assert low - 1e-6 * step <= value <= high + 1e-6 * step
        assert abs(value / step - round(value / step)) < 1e-6


@given(spans, st.integers(1, 6))
def test_two_ticks_at_least_are_left(span: tuple[float, float], most: int) -> None:
    values, step = readable_ticks(*span, most)
    assert len(values) >= 2 or most > 1 or step > 0
    if most >= 3:
        assert len(values) >= 2


def test_tick_labels_have_the_digits_of_their_step() -> None:
    assert [tick_label(v, 0.5) for v in (-0.5, 0.0, 1.0)] == ["−0.5", "0.0", "1.0"]
    assert [tick_label(v, 20.0) for v in (-20.0, -0.0, 20_000.0)] == ["−20", "0", f"20{NARROW_SPACE}000"]
    assert tick_label(0.30000000000000004, 0.1) == "0.3"


@given(st.lists(finite | st.just(math.nan), max_size=20), st.booleans())
def test_the_range_of_values_is_never_empty_and_holds_them(values: list[float], zero: bool) -> None:
    low, high = extent(values, zero=zero)
    assert low < high
    for value in values:
        if math.isfinite(value):
            assert low <= value <= high
    if zero:
        assert low <= 0 <= high


@given(finite, finite)
def test_a_scale_keeps_shares(a: float, b: float) -> None:
    scale = Scale(-2e6, 2e6, 700.0, 10.0)
    assert math.isclose(scale(a) - scale(b), (a - b) * -690 / 4e6, abs_tol=1e-6)


@given(st.lists(st.floats(0, 100), max_size=12), st.floats(1, 12))
def test_labels_are_moved_apart_in_order_and_stay_inside(wanted: list[float], height: float) -> None:
    placed = spread(wanted, height, 0.0, 100.0)
    assert len(placed) == len(wanted)
    fits = len(wanted) * height <= 100
    ordered = sorted(placed)
    for first, second in pairwise(ordered):
        if fits:
            assert second - first >= height - 1e-6
    for place in placed:
        assert height / 2 - 1e-6 <= place <= 100 - height / 2 + 1e-6
    by_wish = [placed[i] for i in sorted(range(len(wanted)), key=lambda i: (wanted[i], i))]
    assert by_wish == sorted(by_wish)


def test_labels_with_room_stay_where_they_are_wanted() -> None:
    assert spread([10, 50, 90], 10, 0, 100) == [10, 50, 90]
    assert spread([50, 50], 10, 0, 100) == [45, 55]
    assert spread([99], 10, 0, 100) == [95]


def test_crowded_labels_are_left_out() -> None:
    assert without_crowding([0, 5, 12, 20], [10, 15, 18, 30], 1) == [0, 2, 3]
    assert without_crowding([], [], 1) == []


values = st.lists(st.floats(-100, 100) | st.just(math.nan), min_size=1, max_size=300)


@given(values, st.floats(0.5, 20))
def test_thinning_keeps_every_extreme(y: list[float], pitch: float) -> None:
    series = np.array(y)
    x = np.arange(series.size, dtype=float)
    kept = kept_samples(x, series, pitch)
    assert np.all(np.diff(kept) > 0)
    bins = np.floor(x / pitch)
    for part in np.unique(bins):
        inside = series[bins == part]
        left = series[kept[bins[kept] == part]]
        if np.isfinite(inside).any():
            assert np.nanmin(left) == np.nanmin(inside)
            assert np.nanmax(left) == np.nanmax(inside)
    assert np.isnan(series[kept]).any() == np.isnan(series).any()
    assert kept.size <= 4 * (bins[-1] + 1 + 2 * np.isnan(series).sum() + 2)


@given(values, st.floats(0.5, 20))
def test_a_thinned_band_holds_the_band(y: list[float], pitch: float) -> None:
    series = np.array(y)
    x = np.arange(series.size, dtype=float)
    _, low, high = outline(x, series - 1, series + 2, pitch)
    if np.isfinite(series).any():
        assert np.nanmin(low) == np.nanmin(series - 1)
        assert np.nanmax(high) == np.nanmax(series + 2)
    assert np.all((low <= high) | np.isnan(low))


def test_runs_of_known_places() -> None:
    nan = math.nan
    one, other = np.array([1.0, 2, nan, 4, 5]), np.array([1.0, nan, 3, 4, 5])
    assert known_runs(one, other) == [(0, 1), (3, 5)]
    assert known_runs(np.zeros(0)) == []


@given(st.text(max_size=60), st.floats(5, 400), st.integers(1, 3))
def test_texts_are_cut_to_fit(text: str, room: float, most: int) -> None:
    line = plain(text)
    assert width(fitted(line, room, 16), 16) <= room
    parts = wrapped(line, room, 16, most)
    assert len(parts) <= most
    assert all(width(part, 16) <= room for part in parts)
    if width(line, 16) <= room:
        assert " ".join(parts) == line


def test_plain_text_loses_what_misleads() -> None:
    assert plain("a\u202eb\x00c\nd\u2066e\ud800\uffff") == "a b c d e"
    assert plain("  Größe 漢字 🚐 ") == "Größe 漢字 🚐"


def test_colours_are_properties_in_a_page_and_literal_elsewhere() -> None:
    assert colour("first", "page") == "var(--chart-first, #0072B2)"
    assert colour("first", "light") == "#0072B2"
    assert colour("first", "dark") == "#56B4E9"
